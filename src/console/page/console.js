'use strict';
// Shows what the program says and sends what the operator says. It works nothing out, but how long it has heard nothing.

const at = (id) => document.getElementById(id);
const state = { now: null, live: null, view: 'work', units: localStorage.getItem('units') || 'metric', language: localStorage.getItem('language') || '', words: {}, stream: null, heard: performance.now(), tried: 0 };

function element(kind, text, settings = {}) {
  const made = Object.assign(document.createElement(kind), settings);
  if (text !== undefined && text !== null) made.textContent = text;
  return made;
}

// A text in the language of the page; {} is where a part goes.
function say(key, ...parts) { return parts.reduce((text, part) => text.replace('{}', () => part), state.words[key]); }
function viewer() { return 'units=' + state.units + '&language=' + state.language; }

function put(id, text) { if (at(id).textContent !== text) at(id).textContent = text; }
function show(id, yes) { at(id).toggleAttribute('hidden', !yes); }

async function ask(path, said) {
  if (said !== undefined && watching) throw new Error(say('only_watching'));
  const address = path + (path.includes('?') ? '&' : '?') + viewer();
  const settings = said === undefined ? {} :
    { method: 'POST', headers: { 'X-Counterspot': '1', 'Content-Type': 'application/json' }, body: JSON.stringify(said) };
  const response = await fetch(address, settings);
  const document = await response.json();
  if (!response.ok) throw Object.assign(new Error(say('refused', document.message, document.remedy)), { code: document.code, asked: document.message });
  return document;
}

async function act(path, said) {
  put('trouble', '');
  tellBeside(null);
  try {
    take(await ask(path, said));
    view('work', state.view === 'work' ? state.shown : undefined);
    return true;
  } catch (trouble) {
    if (trouble.code === 'unlike_asked') askOnce(trouble.asked, said);
    else if (!tellBeside(trouble)) {
      put('trouble', trouble.message);
      show('work', true);
      at('trouble').scrollIntoView({ block: 'nearest' });
    }
    refresh();
    return false;
  }
}

async function refresh() {
  try { take(await ask('/api/now')); } catch (trouble) { put('trouble', trouble.message); }
}

function take(now) {
  const changed = !state.now || state.now.serial !== now.serial || state.now.job !== now.job;
  state.now = now;
  drawWork(changed);
}

// What was asked for while nobody answered.
function mendPictures() {
  document.querySelectorAll('img').forEach((each) => { if (each.complete && each.naturalWidth === 0) each.src = each.src; });
}

// ---- the live stream ----
function listen() {
  if (state.stream) state.stream.close();
  state.stream = new EventSource('/api/live?' + viewer());
  state.stream.onmessage = (event) => {
    const live = JSON.parse(event.data);
    if (live.code) { put('trouble', live.message); return; }  // nothing of the rig: soon it is no news
    state.live = live;
    state.heard = performance.now();
    if (!at('lost').hidden) mendPictures();
    show('lost', false);
    if (!state.now || state.live.serial !== state.now.serial) refresh();
    drawLive();
  };
  state.stream.onerror = () => show('lost', true);
}
// The program is heard twice a second. What is older than two seconds is not shown as if it were now, and nobody is sent
// to the shaft on the strength of it.
function unheard() { return Math.floor((performance.now() - state.heard) / 1000); }
function liveNow() {
  const seconds = unheard();
  if (!state.live || seconds < 2) return state.live;
  const said = say('no_news_for', seconds);
  const hands = state.live.wants_hands;
  return Object.assign({}, state.live, { old: true, phase: 'no_news', trouble: true, motion: 'unknown', standing: false, may_confirm: false,
    news_age_s: state.live.news_age_s + seconds, hands_off: hands, title: hands ? say('no_news_title') : '',
    told: say('no_news'), said, sign: say('may_be_turning_after', said) });
}
// A tablet that slept, or a program that was started again: begin anew.
setInterval(() => {
  if (unheard() < 2) return;
  show('lost', true);
  drawLive();
  if (unheard() < 5 || performance.now() - state.tried < 5000) return;
  state.tried = performance.now();
  listen();
  refresh();
}, 250);
document.addEventListener('visibilitychange', () => { if (!document.hidden) { drawLive(); listen(); refresh(); } });

// ---- the present job ----
const spins = ['spin_as_found', 'spin', 'spin_again'];
const fits = ['fit_trial', 'fit_correction', 'say_fitted', 'fit_masses', 'knock', 'knocking'];

function verdictWords(result) {
  const kind = { within: 'good', outside: 'bad', unsure: 'unsure' };
  const rows = result.map((each) => {
    const row = element('tr');
    const amount = element('td');
    amount.append(element('span', each.residual), ' ', element('span', say('limit', each.limit)));
    row.append(element('td', each.place), amount, element('td', each.verdict_words, { className: kind[each.verdict] }));
    return row;
  });
  return table([say('place'), say('residual'), ''], rows, say('residual_at_last'));
}

function table(heads, rows, words, kind = '') {
  const box = element('div', null, { className: 'scroll ' + kind, tabIndex: 0 });
  box.setAttribute('role', 'region');
  box.setAttribute('aria-label', words);
  const made = element('table');
  made.append(element('caption', words, { className: 'quiet' }));
  const head = element('tr');
  heads.forEach((text) => head.append(text ? element('th', text, { scope: 'col' }) : element('td')));
  const top = element('thead');
  const body = element('tbody');
  top.append(head);
  body.append(...rows);
  made.append(...(heads.length ? [top] : []), body);
  box.append(made);
  return box;
}

function field(words, name, value, settings = {}) {
  const label = element('label', words);
  label.append(element('input', null, Object.assign({ name, value: value || '', type: 'text' }, settings)));
  return label;
}

// Light or dark, as the screen is.
function picture(addresses, words, kind) {
  const made = element('picture', null, { className: kind });
  made.append(element('source', null, { media: darkMedia(), srcset: addresses.dark }),
    element('img', null, { src: addresses.light, alt: words }));
  return made;
}

// Where the browser lets a page do that; else the sheet is shown, in a tab of its own, and printed from there.
function printSheet(event) {
  const tab = window.open(event.currentTarget.href);
  if (!tab) return;
  event.preventDefault();
  tab.addEventListener('load', () => setTimeout(() => tab.print(), 300));  // the viewer is drawn after its page
}

// The balance sheet as the program draws it: to look at here, to print as PDF.
function sheetOf(job, shown) {
  const address = (kind) => '/sheet.' + kind + '?job=' + encodeURIComponent(job) + '&' + viewer();
  const parts = [element('a', say('print_sheet'), { className: 'main', href: address('pdf'), target: '_blank', rel: 'noopener', onclick: printSheet })];
  if (shown) parts.push(element('img', null, { className: 'sheet', src: address('svg'), alt: say('sheet_of', job) }));
  return parts;
}

function drawWork(changed) {
  const now = state.now;
  put('where', (now.name || now.job || say('no_job')) + ' · ' + now.rig);
  show('practice', now.practice);
  drawMishaps(now);
  if (!now.job) {
    put('title', say('open_shaft'));
    ['number', 'gauge', 'fit', 'progress', 'sheet', 'of-spin', 'stands', 'course', 'naming', 'rig-steps', 'say-stock'].forEach((id) => show(id, false));
    at('result').replaceChildren();
    ['band', 'cautions', 'said'].forEach((id) => put(id, ''));
    button(say('choose_shaft'), () => view('open'));
    return;
  }
  if (changed) {
    at('result').replaceChildren(
      ...now.held_back.map((each) => element('p', say('in_doubt', each.message, each.remedy), { className: 'bad' })),
      ...(now.result.length ? [verdictWords(now.result)] : []),
      ...(now.taught ? [element('p', now.taught, { className: 'quiet' })] : []),
      ...(now.task ? rigResult() : []), ...now.why.map((text) => element('p', text)));
    drawFit();
    at('sheet').replaceChildren(...(now.step === 'nothing' && !now.task ? sheetOf(now.job, true) : []));
  }
  if (now.spin_trouble) put('trouble', now.spin_trouble);
  at('of-spin').replaceChildren(...now.warned.map((each) => element('li', each.words, { className: each.grave ? 'bad' : '' })));
  put('cautions', now.cautions || '');
  drawCourse();
  drawRigSteps();
  drawLive();
}

function button(words, action) {
  show('go', Boolean(words));
  put('go', words || '');
  at('go').onclick = action;
}

let told = '';
function title(words) {
  put('title', words);
  if (told !== words && state.view === 'work') at('title').focus({ preventScroll: true });
  if (told !== words) at('title').scrollIntoView({ block: 'nearest' });
  told = words;
}

// What is to be known on every page.
function drawSigns(live) {
  document.body.classList.toggle('too-fast', Boolean(live.alarm));
  document.body.classList.toggle('old', live.old);
  show('alarm', Boolean(live.alarm));
  put('alarm-words', live.alarm ? live.alarm.words : '');
  put('alarm-more', live.alarm ? live.alarm.more : '');
  show('sign', state.view !== 'work' && live.sign !== '');
  put('sign', live.sign);
  at('sign').classList.toggle('bad', live.motion === 'unknown');
}

function drawLive() {
  const now = state.now;
  const live = liveNow();
  if (!live) return;
  put('drive', say(live.drive ? 'stop_drive' : 'start_drive'));
  drawSigns(live);
  signal(live);
  if (!now || !now.job) return;
  const spinning = spins.includes(now.step);
  const keepOff = live.hands_off;
  const fit = fits.includes(now.step) && !keepOff;
  const asked = live.title || (choosing() ? say('which') : choosingWay() ? say('which_pieces') : now.title);
  title(asked);
  put('said', spinning || keepOff || live.trouble || now.step === 'knocking' ? [live.said, spinning && now.on_words ? say('weights_on', now.on_words) : ''].filter(Boolean).join('. ') : '');
  const once = live.told.toLowerCase().startsWith(asked.toLowerCase());
  put('announced', once ? live.told : asked + ': ' + live.told);  // said aloud: without the count of seconds
  put('warned', spinning ? live.warnings.map((each) => each.message).join(' ') : '');
  show('of-spin', now.warned.length > 0 && !keepOff && !live.alarm);  // never before what keeps hands away
  show('stands', live.may_confirm);
  document.body.classList.toggle('result', !spinning && !keepOff);
  show('number', spinning || keepOff || (now.percent !== undefined && !fit));
  if (spinning || keepOff) { put('value', live.speed); put('unit', live.old ? say('rpm_ago', Math.floor(live.news_age_s)) : say('rpm')); }
  else if (now.percent !== undefined) { put('value', String(now.percent)); put('unit', say('of_limit')); }
  show('gauge', spinning);
  put('band', spinning ? now.band.words + '; ' + now.band.safe : '');
  if (spinning) {
    const gauge = live.gauge;
    at('gauge-band').setAttribute('x', gauge.band_from); at('gauge-band').setAttribute('width', gauge.band_width);
    at('gauge-danger').setAttribute('x', gauge.danger_from); at('gauge-danger').setAttribute('width', gauge.danger_width);
    at('gauge-now').setAttribute('x', gauge.now);
  }
  drawNaming(spinning && !now.task);
  show('progress', live.phase === 'recording');
  at('progress').value = live.progress;
  show('fit', fit);
  show('say-stock', fit && now.step === 'fit_correction' && !ofStock() && !choosing() && !choosingWay());
  show('result', !spinning && !keepOff);
  const above = at(fit ? 'cautions' : 'go');  // what is to be done stands before why
  if (at('result').previousElementSibling !== above) above.after(at('result'));
  show('sheet', now.step === 'nothing' && !now.task);
  show('cautions', !(now.step === 'nothing'));
  if (now.take_back && !keepOff)
    button(say('take_back', now.take_back), () => act('/api/back', Object.assign(seen(), { number: now.take_back, reason: now.why[0] })));
  else if (now.step.startsWith('close') && !keepOff) button(say('close_job'), () => act('/api/close', seen()));
  else if (spinning && !now.live) button(say('upload'), () => view('upload'));
  else if (now.step === 'nothing' && now.task) button(say('rig_to_page'), () => view('rig'));
  else if (now.step === 'nothing' && !keepOff) button(say('next_shaft'), () => view('open'));
  else button('');
  const turns = spinning || (keepOff && !live.standing);
  drawCurves(turns && live.faces.length > 0);
  drawFaces(live, turns && !curves.wanted);
  document.body.classList.toggle('spinning', spinning);
  document.body.classList.toggle('fitting', fit);
  drawSenses(live, spinning);
  stayAwake(now.step !== 'nothing');
}

function drawSenses(live, spinning) {
  const box = at('senses');
  const levels = spinning ? live.levels : [];
  if (box.childElementCount !== levels.length) {
    box.replaceChildren(...levels.map((each) => {
      const row = element('div', null, { className: 'level' });
      const meter = element('meter', null, { min: 0, max: 1, high: 0.98 });
      meter.setAttribute('aria-label', say('level_of', each.name));
      row.append(element('span', each.name), meter);
      return row;
    }));
  }
  levels.forEach((each, i) => { box.children[i].querySelector('meter').value = each.bar; });
}

function seen() { return { job: state.now.job, entries: state.now.entries }; }

at('stands-button').onclick = () => act('/api/stands', {});
at('drive').onclick = () => act('/api/practice', { drive: !state.live.drive });

// ---- the other pages ----
const pages = { open: openPage, jobs: jobsPage, job: jobPage, trends: trendsPage, rig: rigPage, stock: stockPage, health: healthPage, learnt: learntPage, upload: uploadPage };

function closeMenu() {
  show('menu', false);
  at('menu-button').setAttribute('aria-expanded', 'false');
}

async function view(name, what) {
  visited(name, what);
  state.view = name;
  state.shown = what;
  closeMenu();
  show('work', name === 'work');
  show('other', name !== 'work');
  drawLive();
  if (name === 'work') { drawWork(true); return; }
  const heading = element('h1', '', { tabIndex: -1 });
  at('other').replaceChildren();
  try {
    const parts = await pages[name](heading, what);
    at('other').replaceChildren(heading, ...parts);
  } catch (trouble) {
    at('other').replaceChildren(heading, element('p', trouble.message, { className: 'bad' }));
  }
  heading.focus();
}

// What was typed and not sent yet outlives a change of units or language, and the page itself.
function remembered(form, key) {
  const typed = JSON.parse(sessionStorage.getItem(key) || '{}');
  Object.entries(typed).forEach(([name, value]) => { const box = form.elements.namedItem(name); if (box) box.value = value; });
  form.addEventListener('input', () => sessionStorage.setItem(key, JSON.stringify(Object.fromEntries(new FormData(form)))));
  return form;
}

async function openShaft(said) {
  const opened = await act('/api/open', Object.assign(said, { order: Object.fromEntries(new FormData(at('order'))) }));
  if (opened) ['order', 'shaft'].forEach((key) => sessionStorage.removeItem(key));
}

// As it is, or another of the same kind, of which only the number is asked.
function shaftButtons(shaft, item) {
  const said = shaft.file ? { file: shaft.file } : { shaft_of: shaft.job };
  item.className = 'offered';
  return [element('button', shaft.id + ' — ' + shaft.words, { type: 'button', onclick: () => openShaft(said) }),
    element('button', say('copy'), { type: 'button', className: 'copy', onclick: () => item.replaceChildren(copyForm(shaft, said, item)) })];
}
function copyForm(shaft, said, item) {
  const form = element('form', null, { autocomplete: 'off', className: 'aside' });
  form.append(element('p', say('copy_more', shaft.id, shaft.words)), field(say('shaft_id'), 'copy_id', '', { required: true }),
    element('button', say('open_this'), { className: 'main' }),
    element('button', say('cancel'), { type: 'button', onclick: () => item.replaceChildren(...shaftButtons(shaft, item)) }));
  form.addEventListener('submit', (event) => { event.preventDefault(); openShaft({ ...said, copy_id: form.elements.copy_id.value }); });
  setTimeout(() => form.elements.copy_id.focus());
  return form;
}

async function openPage(heading) {
  heading.textContent = say('which_shaft');
  const shafts = await ask('/api/shafts');
  const list = element('ul', null, { className: 'plain' });
  shafts.forEach((shaft) => {
    const item = element('li');
    if (shaft.fault) item.append(element('p', say('broken_shaft', shaft.file, shaft.fault), { className: 'bad' }));
    else item.append(...shaftButtons(shaft, item));
    list.append(item);
  });
  const form = element('form', null, { autocomplete: 'off' });
  // By the keys of what `shaft new` asks.
  const asked = [['id', say('shaft_id')], ['mass', say('shaft_mass'), '14.6 kg'], ['service-speed', say('shaft_service_speed'), '3200 rpm'],
    ['limit', say('shaft_grade'), 'G16'], ['outside-diameter', say('shaft_outside_diameter'), '76.2 mm'], ['wall', say('shaft_wall'), '2.1 mm'],
    ['length', say('shaft_length'), '1.42 m'], ['end-a', say('shaft_end_a')], ['end-b', say('shaft_end_b')], ['supports', say('shaft_span'), '1500 mm'],
    ['center-of-mass', say('shaft_center_of_mass')], ['plane-a', say('shaft_position_a'), '70 mm'], ['plane-b', say('shaft_position_b'), '1430 mm'],
    ['radius', say('shaft_radius'), '39 mm']];
  asked.forEach(([key, words, example = '']) => form.append(field(words, key, '', { placeholder: example })));
  form.elements.limit.closest('label').after(element('p', (await ask('/api/grade-help')).words, { className: 'quiet', id: 'grade-help' }));
  form.append(element('button', say('open_this'), { className: 'main' }));
  form.addEventListener('submit', (event) => { event.preventDefault(); openShaft(Object.fromEntries(new FormData(form))); });
  remembered(form, 'shaft');
  return [orderForm(), list, element('h2', say('other_shaft')), element('p', say('with_units'), { className: 'quiet' }), form];
}

// A piece of the list, the newest first; what is looked for is found by the program.
async function jobsPage(heading) {
  heading.textContent = say('all_jobs');
  const rows = table([say('job'), say('state'), say('spins'), say('result'), ''], [], say('newest_first'));
  const more = element('button', say('older_jobs'), { type: 'button', hidden: true });
  const found = element('p', '', { className: 'quiet' });
  found.setAttribute('role', 'status');
  const search = field(say('search_jobs'), 'words', sessionStorage.getItem('words'), { type: 'search', maxLength: 100 });
  const input = search.querySelector('input');
  let asked = 0;
  const fill = async (from) => {
    const mine = ++asked;
    const told = await ask('/api/jobs?from=' + from + '&words=' + encodeURIComponent(input.value));
    if (mine !== asked) return;  // something newer was typed meanwhile
    const body = rows.querySelector('tbody');
    const lines = jobRows(told.jobs);
    if (from) body.append(...lines); else body.replaceChildren(...lines);
    more.hidden = !told.more;
    found.textContent = body.childElementCount ? '' : say('no_such_job');
  };
  const failed = (trouble) => { found.textContent = trouble.message; };
  input.addEventListener('input', () => { sessionStorage.setItem('words', input.value); fill(0).catch(failed); });
  more.onclick = () => fill(rows.querySelector('tbody').childElementCount).catch(failed);
  await fill(0);
  return [search, found, rows, more];
}

function jobRows(jobs) {
  return jobs.map((job) => {
    const row = element('tr');
    const name = element('td');
    name.append(element('button', job.job, { type: 'button', onclick: () => view('job', job.job) }));
    row.append(name, element('td', job.closed ? say('closed_at', job.closed) : say('open_since', job.opened)), element('td', say('spins_made', job.spins)),
      element('td', job.verdict ? say('verdict_percent', job.verdict, job.percent) : ''));
    if (!job.closed) {
      const go = element('td');
      go.append(element('button', say('go_on'), { type: 'button', onclick: () => act('/api/choose', { job: job.job }) }));
      row.append(go);
    } else row.append(element('td', ''));
    return row;
  });
}

async function jobPage(heading, name) {
  const wanted = name || (state.now && !state.now.task && state.now.job);
  heading.textContent = wanted || say('no_job');
  if (!wanted) return [];
  const job = await ask('/api/job?job=' + encodeURIComponent(wanted));
  const entries = job.entries.map((entry) => {
    const part = element('article', null, { className: entry.counts ? '' : 'gone' });
    part.append(element('h2', entry.number + '. ' + entry.heading), element('p', entry.at, { className: 'quiet' }),
      ...entry.lines.map((line) => element('p', line)));
    if (entry.may_be_taken_back && state.now && state.now.job === job.job) {
      const form = element('form');
      form.append(field(say('why_not'), 'reason', ''), element('button', say('take_back', entry.number)));
      form.addEventListener('submit', (event) => {
        event.preventDefault();
        act('/api/back', Object.assign(seen(), { number: entry.number, reason: form.elements.reason.value }));
      });
      part.append(form);
    }
    return part;
  });
  return [element('p', say('shaft_rig_opened', job.shaft, job.rig, job.opened)), ...await courseOf(job.job), ...jobActions(job), ...entries,
    orderOfJob(job), ...sheetOf(job.job, false)];
}

async function trendsPage(heading) {
  heading.textContent = say('trends');
  const trends = await ask('/api/trends');
  const part = (by, lines) => [element('h2', say(by)), table(['', ...['closed', 'within', 'yield', 'spins', 'final_residual'].map((key) => say(key))],
    lines.map((line) => {
      const row = element('tr');
      row.append(...[line.group, line.closed, line.within, line.yield, line.spins, line.residual].map((text) => element('td', String(text))));
      return row;
    }), say('medians_by_' + by))];
  return [...(trends.chart ? [element('h2', trends.chart_words), picture(trends.chart, trends.chart_words, 'chart')] : []),
    ...['week', 'rig', 'family'].flatMap((by) => part(by, trends[by]))];
}

async function healthPage(heading) {
  heading.textContent = say('health');
  const health = await ask('/api/health');
  return health.lines.map((line) => element('p', line));
}

// Two columns: what, and what is known of it.
function partTable(part) {
  const rows = part.rows.map(([what, known]) => {
    const row = element('tr');
    row.append(element('th', what, { scope: 'row' }), element('td', known));
    return row;
  });
  const made = table([], rows, part.heading);
  made.querySelector('caption').className = 'unseen';  // the heading says it
  return [element('h2', part.heading), made];
}

async function learntPage(heading) {
  heading.textContent = say('learnt');
  const learnt = await ask('/api/rig-model');
  const drawn = picture(learnt.picture, learnt.picture_words, 'chart');
  return [element('p', say('rig_is', learnt.rig, learnt.heading)),
    ...learnt.look_at.map((each) => element('p', say('look_at', each), { className: 'bad' })),
    ...(learnt.advice ? [...partTable(learnt.advice), element('p', learnt.cautions, { className: 'quiet' })] : []),
    drawn, ...learnt.parts.flatMap(partTable)];
}

async function uploadPage(heading) {
  heading.textContent = say('upload');
  const form = element('form');
  form.append(field(say('file_kinds'), 'file', undefined, { type: 'file', accept: '.wav,.flac,.w64,.csv', required: true }));
  const use = element('select', null, { name: 'as' });
  use.append(element('option', say('look_only'), { value: 'look' }));
  if (state.now && state.now.job && spins.includes(state.now.step)) use.append(element('option', say('is_asked_spin'), { value: 'spin' }));
  const label = element('label', say('what_is_it'));
  label.append(use);
  const result = element('div');
  result.setAttribute('role', 'status');
  form.append(label, element('button', say('send'), { className: 'main' }));
  form.addEventListener('submit', async (event) => {
    event.preventDefault();
    result.replaceChildren(element('p', say('sending')));
    const as = use.value === 'spin' ? '&as=spin&job=' + encodeURIComponent(state.now.job) : '';
    try {
      const response = await fetch('/api/upload?' + viewer() + as,
        { method: 'POST', headers: { 'X-Counterspot': '1', 'Content-Type': 'application/octet-stream' }, body: form.elements.file.files[0] });
      const told = await response.json();
      if (!response.ok) throw new Error(say('refused', told.message, told.remedy));
      const lines = told.lines.concat(told.vectors.map((each) => each.words), told.warnings);
      if (told.trouble) lines.push(say('refused', told.trouble.message, told.trouble.remedy));
      result.replaceChildren(...lines.map((line) => element('p', line)));
      if (told.entered) { await refresh(); view('work'); }
    } catch (trouble) {
      result.replaceChildren(element('p', trouble.message, { className: 'bad' }));
    }
  });
  return [form, result];
}

// ---- the frame ----
at('menu-button').onclick = () => {
  const open = at('menu').hidden;
  show('menu', open);
  at('menu-button').setAttribute('aria-expanded', String(open));
};
at('menu').addEventListener('click', (event) => { if (event.target.dataset.view) view(event.target.dataset.view); });
function anew() {
  drawFrame();
  listen();
  refresh().then(() => { if (state.view !== 'work') view(state.view, state.shown); else if (state.now) drawWork(true); });
}
function drawFrame() {
  put('units', say('units_' + state.units));
  showSound();
  showLook();
  at('units').setAttribute('aria-label', say('change_units', at('units').textContent));
  at('language').setAttribute('aria-label', say('change_language'));
}
at('units').onclick = () => {
  state.units = state.units === 'metric' ? 'inch' : 'metric';
  localStorage.setItem('units', state.units);
  anew();
};
// Of the choice that was made here, else of the program's.
async function speak() {
  try { state.words = await ask('/api/words'); } catch (trouble) { put('trouble', trouble.message); return; }
  state.language = state.words.is;
  document.documentElement.lang = state.language;
  document.querySelectorAll('[data-words]').forEach((each) => { each.textContent = say(each.dataset.words); });
  document.querySelectorAll('[data-label]').forEach((each) => { each.setAttribute('aria-label', say(each.dataset.label)); });
  anew();
}
at('sound').onclick = switchSound;
at('language').onclick = () => {
  state.language = state.words.other;
  localStorage.setItem('language', state.language);
  closeMenu();
  speak();
};
speak();
