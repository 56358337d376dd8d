'use strict';
// The course of the job: every spin with what it read and what it left, and what can be done about it.

const course = { shown: '', opened: null };

// One spin of the strip. What it left is said in words, not by its colour alone.
function spinCard(spin, opened) {
  const card = element('button', null, { type: 'button', className: 'spin' + (spin.counts ? '' : ' gone') });
  card.setAttribute('aria-expanded', String(opened));
  const lines = [element('strong', say('spin_named', spin.number, spin.label)), element('span', spin.speed || '')];
  if (spin.left) lines.push(element('span', spin.left.words, { className: 'left' }));
  if (spin.left && spin.left.verdict_words) lines.push(element('span', spin.left.verdict_words, { className: verdictKind[spin.left.verdict] }));
  if (spin.warnings) lines.push(element('span', say('warnings_in', spin.warnings), { className: 'unsure' }));
  if (!spin.counts) lines.push(element('span', say('set_aside')));
  lines.push(...[...spin.vectors, ...(spin.on || [])].map((words) => element('span', words, { className: 'quiet' })));
  card.append(...lines);
  return card;
}
const verdictKind = { within: 'good', outside: 'bad', unsure: 'unsure' };

// Typed, or chosen of what is usual.
function reasonField() {
  const label = field(say('why_not'), 'reason', '', { required: true });
  label.querySelector('input').setAttribute('list', 'usual-reasons');
  return label;
}
function usualReasons() {
  const list = element('datalist', null, { id: 'usual-reasons' });
  list.append(...[say('reason_recording'), say('reason_cable'), say('reason_speed'), say('reason_touched')].map((value) => element('option', null, { value })));
  return list;
}

function setAside(spin, reason) { return act('/api/back', Object.assign(seen(), { number: spin.number, reason })); }

function spinOpened(spin, present) {
  const box = element('div', null, { className: 'opened' });
  box.append(element('h3', say('spin_named', spin.number, spin.label)), element('p', spin.at, { className: 'quiet' }),
    ...spin.lines.map((line) => element('p', line)));
  if (spin.left && spin.left.seen_now) box.append(element('p', say('left_seen_now', spin.left.words)));
  if (spin.on) box.append(element('p', say('weights_on', spin.on.join('; ') || say('nothing'))));
  if (!spin.counts) box.append(element('p', say('set_aside_because', spin.reason)));
  if (!present || !spin.may_be_set_aside) return box;
  const form = element('form', null, { autocomplete: 'off', className: 'aside' });
  form.append(reasonField(), element('button', say('set_aside_now')));
  form.addEventListener('submit', (event) => { event.preventDefault(); setAside(spin, form.elements.reason.value); });
  if (spin.may_be_spun_again) {
    form.append(element('button', say('spin_again'), { type: 'button', className: 'again', onclick: () => setAside(spin, form.elements.reason.value || say('reason_again')) }));
  }
  box.append(form);
  return box;
}

// The strip, and under it the spin that was opened.
function stripOf(told, present) {
  const box = element('div', null, { className: 'course' });
  const opened = element('div');
  const strip = element('div', null, { className: 'strip', role: 'group' });
  strip.setAttribute('aria-label', say('course'));
  const open = (spin) => {
    course.opened = spin && { job: told.job, number: spin.number };
    [...strip.children].forEach((card, i) => card.setAttribute('aria-expanded', String(told.spins[i] === spin)));
    opened.replaceChildren(...(spin ? [spinOpened(spin, present)] : []));
  };
  told.spins.forEach((spin) => {
    const card = spinCard(spin, false);
    card.onclick = () => open(card.getAttribute('aria-expanded') === 'true' ? null : spin);
    strip.append(card);
  });
  box.append(strip, opened, usualReasons());
  if (told.picture) box.append(picture(told.picture, say('picture_course'), 'chart'));
  const before = course.opened && course.opened.job === told.job && told.spins.find((spin) => spin.number === course.opened.number);
  if (before) open(before);
  return box;
}

// The newest spin in sight, when the strip is unfolded.
document.getElementById('course').addEventListener('toggle', () => document.querySelectorAll('#course .strip').forEach((strip) => { strip.scrollLeft = strip.scrollWidth; }));

// The last thing that was said, taken back with one touch; what that was is said.
function undoButton(undo) {
  return element('button', say('undo', undo.words), { type: 'button', id: 'undo', onclick: async () => {
    if (!await act('/api/back', Object.assign(seen(), { number: undo.number, reason: say('reason_undo') }))) return;
    const lines = [say('took_back', undo.number, undo.words), ...undo.lines].map((line) => element('p', line));
    if (undo.kind === 'fit') lines.push(element('p', say('took_back_fit'), { className: 'unsure' }));
    at('took-back').replaceChildren(...lines);
    at('took-back').scrollIntoView({ block: 'nearest' });
  } });
}

// A spin may be named before it is made: what is kept of it is never changed.
function drawNaming(spinning) {
  show('naming', spinning);
  if (spinning) put('naming-words', say('spin_called', state.now.spin_name));
}
document.getElementById('naming-form').addEventListener('submit', async (event) => {
  event.preventDefault();
  const label = event.target.elements.label.value;
  document.getElementById('naming').open = false;
  if (await act('/api/name', Object.assign(seen(), { label }))) event.target.reset();
});

async function drawCourse() {
  const now = state.now;
  const wanted = Boolean(now && now.job && now.entries && !now.task);
  show('course', wanted && at('course-words').textContent !== '');
  const key = [now.job, now.entries, state.units, state.language].join();
  if (!now.job || now.task || course.shown === key) return;
  course.shown = key;
  at('took-back').replaceChildren();
  try {
    const told = await ask('/api/course');
    if (course.shown !== key) return;  // something newer was asked for meanwhile
    const last = told.spins.filter((spin) => spin.counts && spin.left).pop();
    put('course-words', last ? say('course_at', told.spins.length, last.left.words) : say('course_with', told.spins.length));
    show('course', wanted);
    at('course-body').replaceChildren(stripOf(told, true), ...(told.undo ? [undoButton(told.undo)] : []));
  } catch { course.shown = ''; }  // the next look asks again
}

// On the page of any job.
async function courseOf(job) {
  const told = await ask('/api/course?job=' + encodeURIComponent(job));
  return told.spins.length ? [element('h2', say('course')), stripOf(told, Boolean(state.now && state.now.job === job))] : [];
}
