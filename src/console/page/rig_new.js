'use strict';
// The page of a rig that has no file yet. It shows what the program asks, and sends what the operator says.

const at = (id) => document.getElementById(id);
const state = { now: null, live: null, language: localStorage.getItem('language') || '', words: {}, stream: null, heard: performance.now(), tried: 0, drawn: '' };

function element(kind, text, settings = {}) {
  const made = Object.assign(document.createElement(kind), settings);
  if (text !== undefined && text !== null) made.textContent = text;
  return made;
}
function say(key, ...parts) { return parts.reduce((text, part) => text.replace('{}', () => part), state.words[key]); }
function put(id, text) { if (at(id).textContent !== text) at(id).textContent = text; }
function show(id, yes) { at(id).toggleAttribute('hidden', !yes); }

async function ask(path, said) {
  const settings = said === undefined ? {} :
    { method: 'POST', headers: { 'X-Counterspot': '1', 'Content-Type': 'application/json' }, body: JSON.stringify(said) };
  const response = await fetch(path + '?language=' + state.language, settings);
  const answer = await response.json();
  if (!response.ok) throw new Error(say('refused', answer.message, answer.remedy));
  return answer;
}
async function act(path, said = {}) {
  put('trouble', '');
  try {
    draw(await ask(path, Object.assign({ step: state.now.step || '' }, said)));
    return true;
  } catch (trouble) {
    const words = trouble.message;
    await refresh();
    put('trouble', words);
    return false;
  }
}
async function refresh() { try { draw(await ask('/api/now')); } catch (trouble) { put('trouble', trouble.message); } }

// ---- the live stream ----
function unheard() { return performance.now() - state.heard > 2000; }
function listen() {
  if (state.stream) state.stream.close();
  state.stream = new EventSource('/api/live?language=' + state.language);
  state.stream.onmessage = (event) => {
    state.live = JSON.parse(event.data);
    state.heard = performance.now();
    show('lost', false);
    if (!state.now || state.now.serial !== state.live.serial || state.now.stage !== state.live.stage) refresh();
    drawLive();
  };
  state.stream.onerror = () => show('lost', true);
}
// Nobody is sent to the rig on the strength of what is old.
setInterval(() => {
  if (!unheard()) return;
  show('lost', true);
  drawLive();
  if (performance.now() - state.tried < 5000) return;
  state.tried = performance.now();
  listen();
  refresh();
}, 250);
document.addEventListener('visibilitychange', () => { if (!document.hidden) { listen(); refresh(); } });

function drawLevels(levels) {
  const box = at('senses');
  if (box.childElementCount !== levels.length) {
    box.replaceChildren(...levels.map((each) => {
      const row = element('div', null, { className: 'level' });
      const meter = element('meter', null, { min: 0, max: 1, high: 0.99 });
      meter.setAttribute('aria-label', say('level_of', each.name));
      row.append(element('span', each.name), meter, element('span', ''));
      return row;
    }));
  }
  levels.forEach((each, i) => {
    const [, meter, words] = box.children[i].children;
    meter.value = each.bar;
    words.textContent = each.words;
    words.className = each.full ? 'full' : '';
  });
}

function drawLive() {
  const { live, now } = state;
  if (!live || !now) return;
  const old = live.old || unheard();
  document.body.classList.toggle('old', old);
  drawLevels(live.levels);
  show('progress', now.stage === 'recording');
  at('progress').value = live.progress;
  const standing = now.stage === 'stand';
  put('sign', old ? say('setup_unheard') : live.motion);
  show('sign', standing || now.stage === 'hands' || (old && now.stage !== 'proved' && now.stage !== 'source'));
  at('go').disabled = standing && (old || !live.may_confirm);
  // What was asked of hands is no more asked once nothing is heard.
  if (old && (now.stage === 'hands' || (now.stage === 'record' && !now.driven))) { put('said', say('setup_unheard')); show('typed', false); at('go').disabled = true; }
}

// ---- the step ----
function field(words, name, value, settings = {}) {
  const label = element('label', words);
  label.append(element('input', null, Object.assign({ name, value: value || '', type: 'text' }, settings)));
  return label;
}
function button(words, act) {
  const go = at('go');
  show('go', words !== '');
  put('go', words);
  go.onclick = act;
  go.disabled = false;
}
function picture(path, words) {
  const made = element('picture');
  const from = (theme) => path + (path.includes('?') ? '&' : '?') + 'language=' + state.language + '&theme=' + theme + '&of=' + state.now.serial;
  made.append(element('source', null, { media: '(prefers-color-scheme: dark)', srcset: from('dark') }), element('img', null, { src: from('light'), alt: words }));
  return made;
}

// What a logger put into its folder since; a recording that shows another step is offered no more.
function drawFiles(now) {
  const files = now.files.map((each) => element('button', say('setup_file', each.name, each.age), { type: 'button', onclick: () => act('/api/bring', { file: each.name }) }));
  at('choices').replaceChildren(...(files.length ? files : [element('p', say('setup_no_files'))]));
}
setInterval(() => { if (state.now && state.now.files && state.now.stage === 'record' && !document.hidden) refresh(); }, 2000);
function drawTop() {
  const choice = (goes, words) => {
    const made = element('button', null, { type: 'button', id: 'top-' + goes, onclick: () => act('/api/tell', { top_goes: goes }) });
    made.append(picture('/top.svg?goes=' + goes, ''), element('span', words));
    return made;
  };
  at('choices').replaceChildren(choice('left', say('setup_left')), choice('right', say('setup_right')));
}
function drawAgain(names) {
  at('choices').replaceChildren(...names.map(([what, words]) => element('button', words, { type: 'button', id: 'again-' + what, onclick: () => act('/api/again', { what }) })));
}

function drawTyped(now) {
  const form = at('typed');
  const wanted = now.stage === 'hands' && now.step === 'at-a';
  show('typed', wanted);
  if (wanted && form.childElementCount === 0) form.append(field(say('setup_weight'), 'weight', now.told.weight), field(say('setup_radius'), 'radius', now.told.radius));
  if (!wanted) form.replaceChildren();
}

// ---- where the samples come from ----
function select(words, name, values, chosen) {
  const label = element('label', words);
  const made = element('select', null, { name });
  values.forEach(([value, text]) => made.append(element('option', text, { value, selected: String(value) === String(chosen) })));
  label.append(made);
  return label;
}
function sourceForm(source, parts, words) {
  const form = element('form', null, { autocomplete: 'off' });
  form.append(...parts, element('button', words, { className: 'take' }));
  form.addEventListener('submit', (event) => {
    event.preventDefault();
    if (!state.choosing) choose(Object.assign({ source }, Object.fromEntries(new FormData(form))));
  });
  return form;
}
// A device may take a second to open, and a second touch would open it twice.
async function choose(said) {
  state.choosing = true;
  document.querySelectorAll('#sources button').forEach((each) => { each.disabled = true; });
  const words = await act('/api/source', said) ? '' : at('trouble').textContent;
  if (words) { await drawSources(); put('trouble', words); }
  state.choosing = false;
}
function drawDevice(device) {
  const box = element('section', null, { className: 'source' });
  box.append(element('h2', device.name || device.source), element('p', [device.source, device.offers].filter(Boolean).join('  '), { className: 'quiet' }));
  const why = device.trouble || (device.too_few ? say('setup_too_few') : '');
  if (why) { box.append(element('p', why, { className: 'unsure' })); return box; }
  const plain = (values) => values.map((each) => [each, each]);
  box.append(sourceForm(device.source, [select(say('setup_channels'), 'channels', plain(device.channels)),
    select(say('setup_rate'), 'rate', device.rates.map((each) => [each.value, each.words])),
    select(say('setup_format'), 'format', plain(device.formats))], say('setup_take')));
  return box;
}
function drawOther(told, pipes) {
  const box = element('details', null, { id: 'other-source', open: pipes.length > 0 });
  const form = sourceForm('', [field(say('setup_source_name'), 'source', told.source || (pipes.length ? 'raw:' + pipes[0] : '')), field(say('setup_rate_typed'), 'rate', told.rate || '48 kHz'),
    field(say('setup_channels'), 'channels', told.channels || '3', { inputMode: 'numeric' }),
    select(say('setup_format'), 'format', ['s16le', 's24le', 's32le', 'f32le'].map((each) => [each, each]), told.format || 's32le')], say('setup_take'));
  const fill = (pipe) => element('button', say('setup_pipe', pipe), { type: 'button', onclick: () => { form.elements.source.value = 'raw:' + pipe; form.elements.rate.focus(); } });
  box.append(element('summary', say('setup_other_source')), ...pipes.map(fill), form);
  return box;
}
function drawFolder(folder) {
  const box = element('section', null, { className: 'source' });
  box.append(element('h2', say('setup_folder')), element('p', folder, { className: 'quiet' }), sourceForm('folder:' + folder, [], say('setup_take')));
  return box;
}
async function drawSources() {
  let found;
  at('sources').replaceChildren(element('p', say('setup_looking'), { className: 'quiet' }));
  try { found = await ask('/api/sources'); } catch (trouble) { put('trouble', trouble.message); return; }
  if (!state.now || state.now.stage !== 'source') return;
  const none = found.devices.length ? [] : [element('p', say('setup_no_devices'), { className: 'unsure' })];
  at('sources').replaceChildren(...found.devices.map(drawDevice), ...none, ...found.folders.map(drawFolder), drawOther(state.now.told, found.pipes),
    element('button', say('setup_look_again'), { type: 'button', id: 'look-again', onclick: () => { put('trouble', ''); drawSources(); } }));
}

function drawOfRig(told) {
  const form = element('form', null, { autocomplete: 'off' });
  const ends = element('select', null, { name: 'viewing_end' });
  ['A', 'B'].forEach((end) => ends.append(element('option', end, { value: end, selected: told.viewing_end === end })));
  const label = element('label', say('setup_viewing_end'));
  label.append(ends);
  form.append(field(say('setup_name'), 'name', told.name), label, field(say('setup_full_scale'), 'full_scale', told.full_scale),
    field(say('setup_sensitivity_a'), 'sensitivity_a', told.sensitivity_a), field(say('setup_sensitivity_b'), 'sensitivity_b', told.sensitivity_b),
    element('button', say('setup_keep'), { id: 'keep' }));
  form.addEventListener('submit', (event) => { event.preventDefault(); act('/api/tell', Object.fromEntries(new FormData(form))).then((kept) => { if (kept) at('of-rig').open = false; }); });
  at('of-rig').replaceChildren(element('summary', say('setup_of_rig')), form);
}

function drawFound(now) {
  at('found').replaceChildren(...(now.found.length ? [element('h2', say('setup_found')), ...now.found.map((each) => element('p', each))] : []));
  at('repeat').replaceChildren(element('summary', say('setup_repeat')), ...now.again_of.map((each) =>
    element('button', each.title, { type: 'button', onclick: () => act('/api/again', { what: each.what }) })));
  show('repeat', now.again_of.length > 0);
  at('more').replaceChildren(...now.more.map((each) => element('button', each.title,
    { type: 'button', id: 'more-' + each.what, onclick: () => act(each.wanted ? '/api/without' : '/api/again', { what: each.what }) })));
  if (now.listens && now.stage !== 'recording' && now.stage !== 'finding')
    at('more').append(element('button', say('setup_leave'), { type: 'button', id: 'leave', onclick: () => act('/api/leave') }));
  at('rig-picture').replaceChildren(...(now.known ? [picture('/rig.svg', say('setup_picture'))] : []));
  show('rig-text', now.rig_text !== '');
  put('rig-text', now.rig_text);
}

const stages = {
  source: () => {
    put('title', say('setup_source'));
    put('said', say('setup_source_more'));
    button('');
    drawSources();
  },
  stand: (now) => { put('title', say('setup_stop')); put('said', say('setup_stop_more')); button(say('setup_it_stands'), () => act('/api/stands')); },
  hands: (now) => {
    put('said', now.by_hand);
    button(now.driven ? say('setup_closed') : say('setup_done'), () => act('/api/hands', Object.fromEntries(new FormData(at('typed')))));
  },
  record: (now) => {
    put('said', now.act);
    if (now.files) { button(''); drawFiles(now); return; }
    button(now.driven ? say('setup_record_driven') : say('setup_record'), () => act('/api/record'));
  },
  recording: (now) => { put('said', now.act); button(say('setup_enough'), () => act('/api/enough')); },
  finding: () => { put('said', say('setup_finding')); button(''); },
  direction: (now) => { put('said', now.act); button(''); drawTop(); },
  failed: (now) => {
    put('title', now.unsure ? say('setup_unsure') : say('setup_failed'));
    put('said', [...(now.against || []).map((each) => each + '.'), say('setup_no_file')].join(' '));
    button('');
    drawAgain([['direction', say('setup_repeat_direction')], ['knocks', say('setup_repeat_knocks')], ['tach', say('setup_repeat_tach')], ['proof', say('setup_repeat_proof')]]);
  },
  proved: (now) => {
    put('title', say('setup_proved'));
    put('said', !now.saved ? '' : now.shop ? say('setup_saved_shop', now.rig_file) : say('setup_saved', now.rig_file));
    if (now.saved) button(now.shop ? say('setup_stock') : say('setup_shop'), now.shop ? showStock : () => act('/api/shop'));
    else button(say('setup_save'), () => act('/api/save', { language: state.language }));
  },
};

function draw(now) {
  const drawn = [now.serial, now.stage, state.language, JSON.stringify(now.files)].join();
  const moved = !state.now || state.now.stage !== now.stage || state.now.step !== now.step;
  state.now = now;
  if (drawn === state.drawn) return;
  state.drawn = drawn;
  put('where', now.told.name === 'new rig' ? say('setup_page') : now.told.name);
  put('number-of', now.stage === 'source' ? '' : now.number || '');
  put('title', now.stage === 'recording' ? say('setup_recording') : now.title || '');
  put('cautions', now.stage === 'source' ? '' : now.caution || '');
  put('trouble', now.trouble);
  show('again', Boolean(now.again));
  put('again', now.again ? say('setup_again', now.again.why, now.again.instead) : '');
  drawTyped(now);
  show('choices', now.stage === 'direction' || now.stage === 'failed' || (now.stage === 'record' && Boolean(now.files)));
  show('sources', now.stage === 'source');
  if (now.stage !== 'source') at('sources').replaceChildren();
  stages[now.stage](now);
  show('said', at('said').textContent !== '');
  if (moved) drawOfRig(now.told);
  drawFound(now);
  drawLive();
  if (moved && !at('of-rig').open) at('title').focus({ preventScroll: false });
}

// ---- what weights there are: once the rig is the shop's ----
async function showStock() {
  state.stock = true;
  show('work', false);
  show('other', true);
  show('sign', false);
  const heading = element('h1', '', { tabIndex: -1 });
  const back = element('button', say('setup_back'), { type: 'button', id: 'to-rig', onclick: leaveStock });
  let parts;
  try { parts = await stockPage(heading); } catch (trouble) { parts = [element('p', trouble.message, { className: 'bad' })]; }
  at('other').replaceChildren(heading, ...parts, back);
  heading.focus();
}
function leaveStock() {
  state.stock = false;
  show('other', false);
  show('work', true);
  at('title').focus();
}

async function speak() {
  try { state.words = await (await fetch('/api/words?language=' + state.language)).json(); } catch { show('lost', true); return; }
  state.language = state.words.is;
  document.documentElement.lang = state.language;
  document.querySelectorAll('[data-words]').forEach((each) => { each.textContent = say(each.dataset.words); });
  document.querySelectorAll('[data-label]').forEach((each) => { each.setAttribute('aria-label', say(each.dataset.label)); });
  at('language').setAttribute('aria-label', say('change_language'));
  at('senses').replaceChildren();
  state.now = null;
  listen();
  refresh();
  if (state.stock) showStock();
}
at('language').onclick = () => { state.language = state.words.other; localStorage.setItem('language', state.language); speak(); };
at('typed').addEventListener('submit', (event) => { event.preventDefault(); at('go').click(); });
speak();
