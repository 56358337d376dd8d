'use strict';
// What weights there are, asked one question at a time; the file that comes of it; and the one that is there.

const stockSeen = { told: null, note: '' };
function typedKey() { return 'stock:' + stockSeen.told.next.key; }

// What was typed and not sent yet outlives a reload; what was refused stays in its field.
async function stockCommand(box, path, said) {
  const field = box.querySelector('input');
  box.dataset.busy = 'yes';
  box.querySelectorAll('button').forEach((each) => { each.disabled = true; });
  stockSeen.note = '';
  let words = '';
  try {
    await ask('/api/' + path, Object.assign({ seen: stockSeen.told.seen }, said));
    if (said.answer !== undefined) sessionStorage.removeItem(typedKey());
    if (path === 'stock-write') {
      stockSeen.note = say('stock_written', stockSeen.told.file);
      document.dispatchEvent(new Event('stock'));
    }
  } catch (trouble) { words = trouble.message; }
  const asked = stockSeen.told.next && stockSeen.told.next.key;
  try { await drawStock(box); } catch (trouble) {  // all stays as it was, to be tried again
    words = words || trouble.message;
    delete box.dataset.busy;
    box.querySelectorAll('button').forEach((each) => { each.disabled = false; });
  }
  if (!words) return;
  box.querySelectorAll('#stock-trouble').forEach((each) => each.remove());
  const there = box.querySelector('input');
  const beside = element('p', words, { className: 'bad', id: 'stock-trouble' });
  beside.setAttribute('role', 'alert');
  if (field && there && said.answer !== undefined && stockSeen.told.next && stockSeen.told.next.key === asked) {
    there.setAttribute('aria-invalid', 'true');
    there.setAttribute('aria-describedby', 'stock-trouble');
    there.closest('label').after(beside);
  } else box.prepend(beside);
  beside.scrollIntoView({ block: 'center' });
}

function stockButton(box, id, words, path, said, kind = '') {
  return element('button', words, { type: 'button', id, className: kind, onclick: () => stockCommand(box, path, said) });
}

// ---- the question ----
function stockPad(input, keys) {
  const typed = (text) => { input.value = text; input.dispatchEvent(new Event('input', { bubbles: true })); };
  const back = () => {
    const last = keys.find((key) => input.value.endsWith(key.text));
    typed(input.value.slice(0, -(last ? last.text.length : 1)));
  };
  const pad = element('div', null, { className: 'pad', id: 'stock-pad' });
  pad.setAttribute('role', 'group');
  pad.setAttribute('aria-label', say('pad_for', stockSeen.told.next.words));
  const key = (label, action) => element('button', label, { type: 'button', onclick: action });
  const group = (buttons) => { const made = element('div'); made.append(...buttons); return made; };
  pad.append(group([...['7', '8', '9', '4', '5', '6', '1', '2', '3', '.', '0'].map((each) => key(each, () => typed(input.value + each))), key('⌫', back)]),
    group(keys.map((each) => key(each.label, () => typed(input.value + each.text)))));
  return pad;
}

function noMore(box, asked) {
  const given = stockSeen.told.answers.some((each) => each.key === asked.key && each.answers.length);
  const words = !asked.repeated ? say('stock_not_known') : given ? say('stock_no_more') : say('stock_none');
  if (asked.standard) return [stockButton(box, 'stock-standard', say('stock_take', asked.standard), 'stock-answer', { key: asked.key, answer: '' })];
  return asked.optional ? [stockButton(box, 'stock-no-more', words, 'stock-answer', { key: asked.key, answer: '' })] : [];
}

function stockQuestion(box) {
  const asked = stockSeen.told.next;
  const form = element('form', null, { id: 'stock-question', autocomplete: 'off' });
  const label = element('label', asked.help);
  const input = element('input', null, { name: 'answer', type: 'text', maxLength: 200, value: sessionStorage.getItem(typedKey()) || '' });
  input.setAttribute('aria-label', asked.words);
  label.append(input);
  const add = element('button', asked.repeated ? say('stock_add') : say('stock_next'), { className: 'main', id: 'stock-add' });
  const others = noMore(box, asked);
  // What is typed is added or taken out of the field, never passed over.
  const may = () => { add.disabled = !input.value.trim(); others.forEach((each) => { each.disabled = !add.disabled; }); };
  input.addEventListener('input', () => { sessionStorage.setItem(typedKey(), input.value); may(); });
  form.addEventListener('submit', (event) => {
    event.preventDefault();
    if (input.value.trim()) stockCommand(box, 'stock-answer', { key: asked.key, answer: input.value });
  });
  may();
  const buttons = element('div', null, { className: 'stock-buttons' });
  buttons.append(add, ...others);
  const said = element('div');
  said.append(element('p', say('stock_number', stockSeen.told.number, stockSeen.told.questions), { className: 'quiet', id: 'stock-number' }),
    element('h2', asked.words, { id: 'stock-asked' }), label, buttons);
  form.append(said, ...(asked.keys.length ? [stockPad(input, asked.keys)] : []));
  if (matchMedia('(pointer: fine)').matches) setTimeout(() => input.focus({ preventScroll: true }));
  return form;
}

// ---- what was answered ----
function stockAnswer(box, question, answer, which) {
  const item = element('li');
  const out = stockButton(box, '', say('stock_out'), 'stock-out', { key: question.key, which });
  out.setAttribute('aria-label', say('stock_out_of', answer));
  item.append(element('span', answer), out);
  return item;
}
function stockAnswers(box) {
  const parts = stockSeen.told.answers.filter((question) => question.answers.length || question.done).map((question) => {
    const part = element('article', null, { className: 'stock-answered' });
    part.dataset.key = question.key;
    const list = element('ul', null, { className: 'plain' });
    list.append(...question.answers.map((answer, which) => stockAnswer(box, question, answer, which)));
    part.append(element('h3', question.words), ...(question.answers.length ? [list] : [element('p', say('stock_nothing'), { className: 'quiet' })]));
    if (question.done && (question.repeated || !question.answers.length))
      part.append(stockButton(box, '', question.repeated ? say('stock_another') : say('stock_say_now'), 'stock-ask', { key: question.key }));
    return part;
  });
  return parts.length ? [element('h2', say('stock_answered')), ...parts] : [];
}

// ---- the file ----
function stockText(text) {
  const made = element('pre', text, { id: 'stock-text', tabIndex: 0 });
  made.setAttribute('role', 'region');
  made.setAttribute('aria-label', say('stock_file'));
  return made;
}
function stockThere(box) {
  const told = stockSeen.told;
  const change = told.by_hand ? [element('p', say('stock_by_hand', told.file), { className: 'quiet', id: 'stock-by-hand' })]
    : [stockButton(box, 'stock-change', say('stock_change'), 'stock-change', { with_answers: true })];
  return [...(told.shops ? [...(stockSeen.note ? [] : [element('p', say('stock_is_used', told.file))]), ...toWork()]
    : [element('p', say('stock_is_there', told.file), { className: 'unsure' }), stockButton(box, 'stock-use', say('stock_use'), 'stock-write', {}, 'main')]),
    stockText(told.there), ...change, element('p', say('stock_anew_more', told.kept_as), { className: 'quiet' }),
    stockButton(box, 'stock-anew', say('stock_anew'), 'stock-change', { with_answers: false })];
}
// On with the job, where it was left.
function toWork() {
  if (!state.now.job || !stockSeen.note) return [];
  return [element('button', say('stock_to_work'), { type: 'button', id: 'stock-to-work', className: 'main', onclick: () => view('work', sessionStorage.getItem('stock-from') || undefined) })];
}
function stockShown(box) {
  const told = stockSeen.told;
  if (!told.text) return [element('p', told.trouble, { className: 'bad', id: 'stock-why-not' })];
  const replaces = told.there && told.there !== told.text;
  return [element('p', replaces ? say('stock_replaces', told.file, told.kept_as) : say('stock_comes', told.file), { className: replaces ? 'unsure' : '' }),
    stockText(told.text), stockButton(box, 'stock-write', replaces ? say('stock_replace') : say('stock_write'), 'stock-write', { language: state.language }, 'main')];
}

const stockStages = {
  there: stockThere,
  asking: (box) => [stockQuestion(box), ...stockAnswers(box)],
  shown: (box) => [...stockShown(box), ...stockAnswers(box)],
};

async function drawStock(box) {
  stockSeen.told = await ask('/api/stock-file');
  const told = stockSeen.told;
  const note = stockSeen.note ? [element('p', stockSeen.note, { className: 'good', id: 'stock-note', role: 'status' })] : [];
  const leave = told.there && told.stage !== 'there' ? [stockButton(box, 'stock-leave', say('stock_leave'), 'stock-leave', {})] : [];
  delete box.dataset.busy;
  box.dataset.stage = told.stage;
  box.dataset.asked = told.next ? told.next.key : '';
  box.replaceChildren(...note, ...stockStages[told.stage](box), ...leave);
}

async function stockPage(heading) {
  heading.textContent = say('stock_page');
  stockSeen.note = '';
  const box = element('div', null, { id: 'stock' });
  await drawStock(box);
  return [box];
}
