'use strict';
// What is to be fitted, and what really was: trial weights off or still on, then the planes with their fields.

function pieceBox(piece, index, again) {
  const box = element('fieldset');
  box.append(element('legend', say('plane', piece.plane)));
  if (piece.face && !again) box.append(picture(piece.face, piece.face_words, 'face'));
  if (piece.mass) box.append(element('p', say('mass_at', piece.mass, piece.clock), { className: 'ask' }));
  if (piece.what) box.append(element('p', piece.what, { className: 'what' }));
  if (piece.where) box.append(element('p', piece.where, { className: 'quiet where' }));
  const pair = element('div', null, { className: 'pair' });
  pair.append(field(say('really_fitted'), 'mass-' + index, piece.mass), field(say('at_clock'), 'place-' + index, piece.clock));
  box.append(pair);
  box.dataset.plane = piece.plane;
  if (piece.radius) box.dataset.radius = piece.radius;
  return box;
}

// What was asked for, or, where no mass is known, an empty box for every plane.
function boxesOf(pieces) {
  const asked = pieces.length ? pieces : state.now.planes.map((plane) => ({ plane, mass: '', clock: '12:00' }));
  return asked.map((piece, i) => pieceBox(piece, i, i > 0 && asked[i - 1].plane === piece.plane));
}

function placed(pieces) { return pieces.map((each) => say('placed', each.plane, each.mass, each.clock)).join(', '); }

// ---- trial weights off or still on, and of which pieces ----
// Steps of their own. What was chosen is a view of the page, so that Back leads to the choice again.
function chosenHere() {
  try {
    const [job, entries, base, way] = JSON.parse(state.shown);
    return job === state.now.job && entries === state.now.entries ? { base, way } : {};
  } catch { return {}; }  // nothing, or another page's
}
function viewOf(base, way) { return JSON.stringify([state.now.job, state.now.entries, base, way].slice(0, way ? 4 : 3)); }
function chosen() {
  const choices = state.now.choices;
  return choices.length === 1 ? choices[0] : choices.find((each) => each.base === chosenHere().base);
}
function fitting() { return fits.includes(state.now.step); }
function choosing() { return fitting() && state.now.choices.length > 0 && !chosen(); }
function baseHere() { const choice = chosen(); return choice ? choice.base : 'as_spun'; }

// What the stock has is worked out by the program, which takes seconds; here it is kept as long as it holds.
const stock = { key: '', told: null };
function ofStock() { return fitting() && state.now.step === 'fit_correction' && typeof state.now.stock === 'string'; }
at('say-stock').onclick = () => { sessionStorage.setItem('stock-from', state.shown || ''); view('stock'); };
document.addEventListener('stock', () => { stock.key = ''; refresh(); });  // another is used from now on
function wayHere() { return stock.told && stock.told.ways.find((each) => each.way === chosenHere().way); }
function choosingWay() { return Boolean(ofStock()) && !choosing() && chosenHere().way !== 'one' && !wayHere(); }
async function lookThroughStock() {
  const key = [viewOf(baseHere()), state.units, state.language].join();
  if (stock.key === key) return;
  Object.assign(stock, { key, told: null });
  let told;
  try { told = await ask('/api/stock?base=' + baseHere()); } catch (trouble) { told = { ways: [], notes: [say('stock_not_used', trouble.message)] }; }
  if (stock.key !== key) return;  // something newer was asked for meanwhile
  stock.told = told;
  drawFit();
  drawLive();
}

let chosen_at = -1e9;
function choiceButton(view_of_it, words, lines, quiet) {
  const made = element('button', null, { type: 'button', className: 'choice', onclick: (event) => {
    chosen_at = event.timeStamp;
    view('work', view_of_it);
  } });
  made.append(element('strong', words), ...lines.map((line) => element('span', line)), element('span', quiet, { className: 'quiet' }));
  return made;
}
function choiceBox(words, buttons) {
  const group = element('div', null, { id: 'choices' });
  group.setAttribute('role', 'group');
  group.setAttribute('aria-label', words);
  group.append(...buttons);
  return group;
}
function offWords(pieces) { return pieces.length ? [say('came_off', placed(pieces))] : []; }
function baseChoice() {
  return choiceBox(say('which'), state.now.choices.map((choice) => Object.assign(choiceButton(viewOf(choice.base), choice.words,
    [...offWords(choice.take_off), say('then_fit', placed(choice.fit) || say('nothing'))], choice.expected), { value: choice.base })));
}
function wayChoice() {
  const one = chosen() || { fit: state.now.fit, expected: '' };
  const ways = stock.told ? stock.told.ways : [];
  const buttons = ways.map((way) => Object.assign(choiceButton(viewOf(baseHere(), way.way), way.words,
    [...offWords(way.take_off), ...(way.fit.length > 4 ? [] : way.fit.map((piece) => say('stock_piece', piece.plane, piece.clock, piece.what)))],
    [way.left, way.proof].filter(Boolean).join('; ')), { value: way.way }));
  buttons.push(Object.assign(choiceButton(viewOf(baseHere(), 'one'), say('one_a_plane'), [placed(one.fit)], one.expected), { value: 'one' }));
  return Object.assign(choiceBox(say('which_pieces'), buttons), { className: 'ways' });
}
function wayStep() {
  const notes = stock.told ? stock.told.notes : [say('stock_looking', state.now.stock)];
  return [wayChoice(), ...notes.map((note) => element('p', note, { className: 'quiet', role: 'status' })),
    ...(state.now.choices.length > 1 ? [backButton()] : [])];
}
function backButton() { return element('button', say('back_to_choice'), { type: 'button', id: 'other-choice', onclick: () => history.back() }); }

// What was chosen is said again where it is confirmed.
function chosenLine(choice, way) {
  const line = element('p', null, { id: 'chosen' });
  if (choice) {
    const off = choice.take_off.length ? say('came_off', placed(choice.take_off)) : say('weights_on', placed(state.now.on));
    line.append(element('strong', choice.words + '.'), ' ', element('span', off + '.'), ' ');
  }
  if (way) line.append(element('strong', way.words + '.'), ' ', element('span', offWords(way.take_off).join()));
  return line;
}

// ---- one plane after the other, where the screen is narrow; the style sheet shows them all on a wide one ----
function planesToFit() { return [...new Set([...document.querySelectorAll('#pieces fieldset')].map((box) => box.dataset.plane))]; }
function showPlane(plane) {
  const planes = planesToFit();
  const next = planes[planes.indexOf(plane) + 1];
  at('fit').dataset.plane = plane;
  at('fit').classList.toggle('goes-on', next !== undefined);
  document.querySelectorAll('#pieces fieldset').forEach((box) => box.classList.toggle('of-other-plane', box.dataset.plane !== plane));
  document.querySelectorAll('#planes button').forEach((each) => each.setAttribute('aria-pressed', String(each.value === plane)));
  put('next-plane', next === undefined ? '' : say('next_plane', next));
  at('next-plane').onclick = () => showPlane(next);
}
function planeButtons(planes) {
  const group = element('div', null, { id: 'planes' });
  group.setAttribute('role', 'group');
  group.setAttribute('aria-label', say('planes'));
  group.append(...planes.map((plane) => element('button', say('plane', plane), { type: 'button', value: plane, onclick: () => showPlane(plane) })));
  return group;
}

// ---- the form ----
function reachOf(question) {
  const reach = element('div', null, { className: 'reach' });
  reach.append(element('div', null, { id: 'asked-once', role: 'alert' }));
  if (state.now.choices.length > 1 || ofStock()) reach.append(backButton());
  reach.append(element('button', '', { type: 'button', className: 'main', id: 'next-plane' }),
    element('button', say(question ? 'was_on' : 'is_on'), { className: 'main', id: 'fitted' }));
  return reach;
}

function drawFit() {
  const now = state.now;
  const form = at('fit');
  if (now.task) { drawMasses(); return; }
  if (choosing()) { form.replaceChildren(baseChoice()); return; }
  if (ofStock() && chosenHere().way !== 'one') lookThroughStock();
  if (choosingWay()) { form.replaceChildren(...wayStep()); return; }
  const choice = chosen();
  const way = wayHere();
  const question = now.step === 'say_fitted';
  const boxes = element('div', null, { id: 'pieces' });
  boxes.replaceChildren(...boxesOf(way ? way.fit : choice ? choice.fit : now.fit));
  const said = [...(now.stock_trouble ? [element('p', say('stock_not_used', now.stock_trouble), { className: 'quiet' })] : []), ...(choice || way ? [chosenLine(choice, way)] : [])];
  form.replaceChildren(...said, boxes);
  dressBoxes();
  const planes = planesToFit();
  if (planes.length > 1) boxes.before(planeButtons(planes));
  if (now.on.length > 0 && !choice && !(way && way.off.length)) {
    const tick = element('label', null, { className: 'tick' });
    tick.append(element('input', null, { type: 'checkbox', name: 'all' }),
      element('span', say('all_off', placed(now.on))));
    form.append(tick, ...(now.on.length > 1 ? [offTicks()] : []));
  }
  form.append(reachOf(question));
  showPlane(planes[0]);
  if (question) {
    form.append(element('button', say('unchanged'),
      { type: 'button', id: 'unchanged', onclick: () => act('/api/fit', Object.assign(seen(), { pieces: [] })) }));
  }
}

// What was typed is far from what was asked for: asked once, with the two answers.
function askOnce(words, said) {
  const so = element('button', say('as_typed'), { type: 'button', id: 'as-typed', onclick: () => act('/api/fit', Object.assign({}, said, { as_typed: true })) });
  const mend = element('button', say('mend'), { type: 'button', id: 'mend', onclick: () => at('asked-once').replaceChildren() });
  at('asked-once').replaceChildren(element('p', words, { className: 'bad' }), so, ' ', mend);
  so.focus();
}

function pieceText(plane, mass, place, radius) { return plane + ' ' + mass + ' @ ' + place + (radius ? ', radius ' + radius : ''); }
function statedPieces(form) {
  return [...form.querySelectorAll('fieldset[data-plane]')].map((box, i) =>
    [box.dataset.plane, form.elements['mass-' + i].value.trim(), form.elements['place-' + i].value.trim(), box.dataset.radius])
    .filter((each) => each[1] !== '').map((each) => pieceText(...each));
}
function askedPieces(way) { return way.fit.map((piece) => pieceText(piece.plane, piece.mass, piece.clock, piece.radius)).join(); }

document.getElementById('fit').addEventListener('submit', (event) => {
  event.preventDefault();
  const form = event.target;
  if (choosing() || choosingWay()) return;
  if (state.now.step.startsWith('knock')) { act(state.now.step === 'knock' ? '/api/knocks-record' : '/api/knocks-enough', { entries: state.now.entries }); return; }
  if (at('next-plane').offsetParent) { at('next-plane').click(); return; }  // not before every plane was looked at
  const pieces = statedPieces(form);
  const way = wayHere();
  act('/api/fit', Object.assign(seen(), {
    pieces,
    off: way ? way.off : offNumbers(form),
    as_typed: Boolean(way) && pieces.join() === askedPieces(way),  // nothing typed: what was asked for needs no question
    as_asked: Boolean(state.now.task) && pieces.join() === askedPieces(state.now),  // of work on the rig
    all: Boolean(form.elements.all && form.elements.all.checked),
    bare: Boolean(chosen() && chosen().base === 'bare'),
    was_on: state.now.step === 'say_fitted',
  }));
});
