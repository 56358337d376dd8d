'use strict';
// Work on the rig itself: where it stands, its qualification and daily check one instruction at a time, and its charts.

const verdictClass = { passed: 'good', failed: 'bad' };

function atRig() { return Boolean(state.now && state.now.task); }

// What hands do before a spin: a field for each mass, or, where none is to be on, only what is said of the shaft.
function drawMasses() {
  const now = state.now;
  const form = at('fit');
  const first = element('div', null, { id: 'first' });
  first.append(...now.first.map((line) => element('p', line)));
  form.replaceChildren(first);
  const boxes = element('div', null, { id: 'pieces' });
  if (now.fit.length) {
    boxes.append(...boxesOf(now.fit));
    form.append(boxes);
    dressBoxes();
  }
  const planes = planesToFit();
  if (planes.length > 1) boxes.before(planeButtons(planes));
  form.append(reachOf(false));
  const ready = now.step === 'knock';
  if (now.task === 'knocks') put('fitted', say(ready ? 'knock_record' : 'knock_enough'));
  if (planes.length) showPlane(planes[0]);
  else { form.classList.remove('goes-on'); put('next-plane', ''); if (now.step === 'fit_masses') put('fitted', say('rig_done')); }
}

function rigTable(findings) {
  return table([say('place'), say('result'), ''], findings.map((each) => {
    const row = element('tr');
    row.append(element('td', each.place), element('td', each.words), element('td', each.verdict_words, { className: verdictClass[each.verdict] || 'unsure' }));
    return row;
  }), say('rig_found'), 'stacked');
}

// Into the rig's file, by this button alone.
function toBeWritten(told) {
  if (!told) return [];
  if (told.written) return [element('p', say('rig_written'), { className: 'good', id: 'rig-next' })];
  if (told.trouble) return [element('p', told.trouble, { className: 'bad' })];
  return [...told.lines.map((line) => element('p', line)),
    element('button', say('rig_write'), { type: 'button', id: 'rig-write', onclick: async () => { if (await act('/api/rig-write', { work: told.work })) view('rig'); } })];
}

// What all spins came to.
function rigResult() {
  const result = state.now.rig_result;
  if (!result) return [];
  const writing = state.now.to_be_written;
  const next = element('p', result.next, { className: result.good ? 'good' : 'bad', id: 'rig-next' });
  return [...(writing && writing.written ? [] : [next]), ...toBeWritten(writing), ...(result.findings.length ? [rigTable(result.findings)] : []),
    ...result.lines.map((line) => element('p', line)), ...(result.picture ? [picture(result.picture, result.picture_words, 'chart')] : [])];
}

function reasonForm(words, id, send) {
  const form = element('form', null, { autocomplete: 'off', className: 'aside', id });
  form.append(reasonField(), element('button', words));
  form.addEventListener('submit', (event) => { event.preventDefault(); send(form.elements.reason.value); });
  return form;
}

// Under the instruction: the spins that were made, and what can be done about them.
let rig_steps = '';
function drawRigSteps() {
  const now = state.now;
  const open = Boolean(atRig() && now.open && now.work);
  show('rig-steps', open);
  if (!open) { rig_steps = ''; return; }
  put('rig-steps-words', say('rig_steps', now.spins.length, now.work.steps));
  const key = [now.job, now.entries, now.step, state.units, state.language].join();
  if (rig_steps === key) return;
  rig_steps = key;
  const made = now.spins.flatMap((spin) => [element('h3', spin.words), ...spin.lines.map((line) => element('p', line, { className: 'quiet' }))]);
  const off = element('button', say('rig_not_on'), { type: 'button', id: 'not-on', onclick: () => act('/api/rig-not-on', seen()) });
  at('rig-steps-body').replaceChildren(...(now.step === 'spin' ? [off] : []),
    ...(now.last_spin ? [element('h3', say('rig_last_back')), reasonForm(say('rig_last_back_now'), 'rig-back', (reason) => act('/api/back', Object.assign(seen(), { number: now.last_spin, reason })))] : []),
    element('h3', say('rig_end')), reasonForm(say('rig_end_now'), 'rig-end', (reason) => act('/api/close', Object.assign(seen(), { reason }))),
    usualReasons(), ...made);
}

// ---- the page of the rig ----
async function rigCommand(path, said) { if (await act(path, said)) view('work'); }
function rigCheckButton(rig) {
  return element('button', say('rig_begin_check', rig.proved.shaft), { type: 'button', className: 'main', id: 'begin-check',
    onclick: () => rigCommand('/api/rig-begin', { task: 'check', work: rig.proved.work }) });
}

// Of sensors whose sensitivity nobody knows it is said why not.
function recalibration(rig) {
  if (rig.no_recalibration) return [element('p', rig.no_recalibration, { className: 'quiet' })];
  const box = element('details', null, { id: 'begin-recalibration' });
  box.append(element('summary', say('rig_begin_recalibration', rig.proved.shaft)), element('p', say('rig_recalibration_more'), { className: 'quiet' }),
    element('button', say('rig_with_again', rig.proved.shaft), { type: 'button', className: 'offer', onclick: () => rigCommand('/api/rig-begin', { task: 'recalibration', work: rig.proved.work }) }));
  return [box];
}

// With which shaft: the one that proved the rig before, or one of the folder.
async function rigChoices(rig) {
  const box = element('details', null, { id: 'begin-qualification', open: !rig.proved });
  box.append(element('summary', say('rig_begin_qualification')), element('p', say('rig_qualification_more'), { className: 'quiet' }));
  const offer = (words, said) => box.append(element('button', words, { type: 'button', className: 'offer', onclick: () => rigCommand('/api/rig-begin', { task: 'qualification', ...said }) }));
  if (rig.proved) offer(say('rig_with_again', rig.proved.shaft), { work: rig.proved.work });
  (await ask('/api/shafts')).filter((shaft) => shaft.file && !shaft.fault).forEach((shaft) => offer(say('rig_with', shaft.id, shaft.words), { file: shaft.file }));
  return box;
}

async function rigPage(heading) {
  heading.textContent = say('rig_page');
  const rig = await ask('/api/rig');
  const parts = [element('p', rig.lines[0], { id: 'rig-stands' }), ...rig.lines.slice(1).map((line) => element('p', line)),
    element('p', rig.verdicts, { id: 'rig-verdicts', className: rig.held ? 'bad' : 'quiet' }),
    ...rig.holds.map((each) => element('p', say('in_doubt', each.message, each.remedy), { className: 'bad' }))];
  parts.push(...toBeWritten(rig.to_be_written));
  if (rig.proved) parts.push(element('p', rig.proved.words));
  if (!rig.claims) parts.push(element('p', say('rig_no_claims'), { className: 'unsure' }));
  else if (rig.open) parts.push(element('button', say('rig_go_on', rig.open), { type: 'button', className: 'main', id: 'rig-go-on', onclick: () => rigCommand('/api/rig-go-on', {}) }));
  else parts.push(...(rig.proved ? [rigCheckButton(rig)] : []), await rigChoices(rig), ...(rig.proved ? recalibration(rig) : []));
  if (rig.live && !rig.open) parts.push(element('button', say('rig_begin_knocks'), { type: 'button', id: 'begin-knocks', onclick: () => rigCommand('/api/knocks', {}) }));
  if (rig.present) parts.push(element('button', say('rig_leave'), { type: 'button', id: 'rig-leave', onclick: () => rigCommand('/api/rig-leave', {}) }));
  if (rig.checks) parts.push(element('h2', say('rig_checks')), picture(rig.checks, rig.checks_words, 'chart'));
  if (rig.proved) parts.push(element('h2', say('rig_last_qualification')), picture(rig.proved.picture, rig.proved.picture_words, 'chart'));
  if (rig.works.length) {
    parts.push(element('h2', say('rig_works')), table([say('rig_work'), say('rig_begun'), say('result')], rig.works.map((work) => {
      const row = element('tr');
      row.append(...[say('rig_work_with', work.task, work.shaft), work.opened, work.words].map((text) => element('td', text)));
      return row;
    }), say('newest_first')));
  }
  return parts;
}
