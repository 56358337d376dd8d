'use strict';
// What hands do on the page: several pieces a plane, touches on the face, the number pad, keys, and a code reader.

// ---- what is really fitted ----
// For each choice its own: what was typed for the one is not what was fitted for the other.
function fitKey() {
  const { base, way } = chosenHere();
  return ['fit', state.now.job, state.now.entries, base || '', way || ''].join(':');
}
function typedFit() { return JSON.parse(sessionStorage.getItem(fitKey()) || '{}'); }
function keepFit(change) {
  const now = ['fit', state.now.job, state.now.entries, ''].join(':');
  const old = Object.keys(sessionStorage).filter((key) => key.startsWith('fit:') && !key.startsWith(now));
  old.forEach((key) => sessionStorage.removeItem(key));
  sessionStorage.setItem(fitKey(), JSON.stringify(Object.assign(typedFit(), change)));
}

function anotherPiece(plane) {
  const boxes = at('pieces');
  const box = pieceBox({ plane, mass: '', clock: '' }, boxes.querySelectorAll('fieldset').length);
  const same = [...boxes.querySelectorAll('fieldset')].filter((each) => each.dataset.plane === plane);
  boxes.append(box);
  box.style.order = same[0].style.order;
  dressBox(box);
  box.classList.toggle('of-other-plane', Boolean(at('fit').dataset.plane) && plane !== at('fit').dataset.plane);
  return box;
}

// A touch on the face is a place on its clock: that of the field typed in last, else of the newest piece.
async function touched(event, plane) {
  const at_face = event.target.getBoundingClientRect();
  const x = (event.clientX - at_face.left) / at_face.width;
  const y = (event.clientY - at_face.top) / at_face.height;
  const told = await ask('/api/touched?x=' + x.toFixed(4) + '&y=' + y.toFixed(4));
  if (!told.clock) return;
  const places = [...document.querySelectorAll('#pieces fieldset')].filter((each) => each.dataset.plane === plane)
    .map((each) => each.querySelector('input[name^=place-]'));
  const place = places.find((each) => each.classList.contains('touched')) || places[places.length - 1];
  place.value = told.clock;
  place.dispatchEvent(new Event('input', { bubbles: true }));
}

function dressBox(box) {
  const face = box.querySelector('.face img');
  if (face) face.addEventListener('click', (event) => touched(event, box.dataset.plane));
  box.querySelectorAll('.pair input').forEach((input) => {
    input.addEventListener('focus', () => {
      document.querySelectorAll('#pieces input.touched').forEach((each) => each.classList.remove('touched'));
      input.closest('fieldset').querySelector('input[name^=place-]').classList.add('touched');
    });
    const open = element('button', say('pad'), { type: 'button', className: 'open-pad', onclick: () => openPad(input) });
    open.setAttribute('aria-label', say('pad_for', input.parentElement.firstChild.textContent));
    input.parentElement.after(open);
  });
  const more = element('button', null, { type: 'button', className: 'more', onclick: () => {
    const made = anotherPiece(box.dataset.plane);
    keepFit({ more: [...(typedFit().more || []), box.dataset.plane] });
    made.querySelector('input').focus();
  } });
  more.append(element('span', say('another_piece', box.dataset.plane), { className: 'long' }), element('span', '+', { className: 'short' }));
  more.setAttribute('aria-label', say('another_piece', box.dataset.plane));
  if (face || !box.previousElementSibling || box.previousElementSibling.dataset.plane !== box.dataset.plane) box.querySelector('.pair').append(more);
}

// The boxes as they were left, whatever was looked at meanwhile.
function dressBoxes() {
  document.querySelectorAll('#pieces fieldset').forEach(dressBox);
  const typed = typedFit();
  (typed.more || []).forEach((plane) => { if ([...at('pieces').children].some((box) => box.dataset.plane === plane)) anotherPiece(plane); });
  Object.entries(typed.values || {}).forEach(([name, value]) => {
    const box = at('fit').elements.namedItem(name);
    if (box && box.type === 'text') box.value = value;
  });
}

// Which came off, where it is not all.
function offTicks() {
  const box = element('details', null, { id: 'off' });
  box.append(element('summary', say('some_off')));
  state.now.on.forEach((piece, i) => {
    const tick = element('label', null, { className: 'tick' });
    tick.append(element('input', null, { type: 'checkbox', name: 'off', value: String(i + 1) }), element('span', placed([piece])));
    box.append(tick);
  });
  return box;
}
function offNumbers(form) { return [...form.querySelectorAll('input[name=off]:checked')].map((each) => Number(each.value)); }

at('fit').addEventListener('input', (event) => {
  tellBeside(null);
  if (event.target.type === 'text') keepFit({ values: Object.assign(typedFit().values || {}, { [event.target.name]: event.target.value }) });
});

// ---- errors stand beside the field that caused them ----
function tellBeside(trouble) {
  document.querySelectorAll('.beside').forEach((each) => each.remove());
  document.querySelectorAll('[aria-invalid]').forEach((each) => each.removeAttribute('aria-invalid'));
  if (!trouble) return false;
  const named = (trouble.asked || '').match(/'([^']*)'/);
  const boxes = [...document.querySelectorAll('#fit input[type=text], #other form input[type=text]')].filter((each) => each.offsetParent && each.value.trim());
  const cause = named && named[1] && (boxes.find((each) => each.value.trim() === named[1]) || boxes.find((each) => named[1].includes(each.value.trim())));
  if (!cause) return false;
  const beside = element('p', trouble.message, { className: 'bad beside', id: 'beside' });
  beside.setAttribute('role', 'alert');
  cause.setAttribute('aria-invalid', 'true');
  cause.setAttribute('aria-describedby', 'beside');
  (cause.closest('.pair') || cause.closest('label')).after(beside);
  cause.focus({ preventScroll: true });
  beside.scrollIntoView({ block: 'center' });
  return true;
}

// ---- the number pad ----
const pad = { input: null, fresh: false };
function pressed(key) {
  const input = pad.input;
  const unit = /[a-z]/.test(key);
  if (key === '⌫') input.value = pad.fresh ? '' : input.value.replace(/ ?[a-z]+$|.$/, '');
  else if (unit) input.value = input.value.replace(/ ?[a-z]*$/, '') + ' ' + key;
  else input.value = (pad.fresh ? '' : input.value) + key;
  pad.fresh = false;
  input.dispatchEvent(new Event('input', { bubbles: true }));
}
function closePad() {
  document.querySelectorAll('.pad').forEach((each) => each.remove());
  pad.input = null;
}
function openPad(input) {
  const again = pad.input === input;
  closePad();
  if (again) return;
  Object.assign(pad, { input, fresh: true });
  const units = input.name.startsWith('mass-') ? ['g', 'oz'] : [':', 'deg'];
  const box = element('div', null, { className: 'pad' });
  box.setAttribute('role', 'group');
  box.setAttribute('aria-label', say('pad_for', input.parentElement.firstChild.textContent));
  ['7', '8', '9', '4', '5', '6', '1', '2', '3', say('decimal_sign'), '0', '⌫', ...units].forEach((key) =>
    box.append(element('button', key, { type: 'button', onclick: () => pressed(key) })));
  box.append(element('button', say('pad_done'), { type: 'button', className: 'wide', onclick: closePad }));
  input.closest('.pair').after(box);
  box.scrollIntoView({ block: 'nearest' });
}

// ---- the end of a job, and what was closed too soon ----
function jobActions(job) {
  const form = element('form', null, { autocomplete: 'off', className: 'aside', id: job.open ? 'end-job' : 'reopen-job' });
  const present = state.now && state.now.job === job.job;
  if (job.open && !present) return [];
  form.append(element('h2', job.open ? say('end_job') : say('reopen_job')), element('p', job.open ? say('end_job_more') : say('reopen_job_more'), { className: 'quiet' }),
    field(say('why'), 'reason', ''), element('button', job.open ? say('end_job_now') : say('reopen_job_now')));
  form.addEventListener('submit', (event) => {
    event.preventDefault();
    const reason = form.elements.reason.value.trim();
    if (job.open) act('/api/close', Object.assign(seen(), { reason }));
    else act('/api/reopen', { job: job.job, entries: job.count, reason });
  });
  return [form];
}

// ---- keys: back, again; and a code reader, which types fast and ends with Enter ----
const reader = { text: '', torn: false, last: -1e9 };
const code_gap_ms = 50;  // nobody types so fast for so long
const torn_within_ms = 1000;  // what came before a longer gap is of the same code, on a tablet that was busy; the rest may be another shaft's
const shortest_code = 4;
async function readCode(code, torn) {
  const live = liveNow();
  const turning = live && live.motion === 'turning';
  if (torn || turning) { put('trouble', torn ? say('code_torn') : say('code_turning')); show('work', true); return; }
  await act('/api/code', { code });
}
document.addEventListener('keydown', (event) => {
  if (event.target.closest('input, select, textarea')) return;
  const gap_ms = event.timeStamp - reader.last;
  if (gap_ms > code_gap_ms) { reader.torn = gap_ms < torn_within_ms && (reader.torn || reader.text !== ''); reader.text = ''; }
  reader.last = event.timeStamp;
  if (event.key.length === 1 && !event.ctrlKey && !event.altKey) reader.text += event.key;
  if (event.key !== 'Enter' || reader.text.length < shortest_code) return;
  event.preventDefault();
  event.stopImmediatePropagation();  // it presses nothing
  const code = reader.text;
  const torn = reader.torn;
  Object.assign(reader, { text: '', torn: false });
  readCode(code, torn);
}, true);

document.addEventListener('keydown', (event) => {
  if (event.key === 'F7' && state.view === 'work') {
    event.preventDefault();
    at('course').open = true;
    const last = [...document.querySelectorAll('#course .spin:not(.gone)')].pop();
    if (last && last.getAttribute('aria-expanded') !== 'true') last.click();
    const again = document.querySelector('#course .again') || last;
    if (again) again.focus();
  }
  if (event.key !== 'Escape') return;
  if (pad.input) closePad();
  else if (!at('menu').hidden) closeMenu();
  else if (state.view !== 'work' || (state.now && state.now.job && chosenHere().base)) history.back();
});

// ---- the browser's Back goes one view back ----
if (!history.state || history.state.view !== 'work') history.replaceState({ view: 'work' }, '');
state.shown = history.state.what;  // a page that is loaded again shows what was chosen before
function visited(name, what) {
  const here = history.state || {};
  if (here.view !== name || here.what !== what) history.pushState({ view: name, what }, '');
}
window.addEventListener('popstate', (event) => view((event.state && event.state.view) || 'work', event.state && event.state.what));
