'use strict';
// The faces that move while the shaft turns. The program says where each point lies in the picture; here they are only moved.

const trail_s = 3;
const words_every_ms = 250;  // to be read
const ofSvg = (kind, settings) => {
  const made = document.createElementNS('http://www.w3.org/2000/svg', kind);
  Object.entries(settings).forEach(([name, value]) => made.setAttribute(name, value));
  return made;
};

// One face: its ground, and over it what moves.
function liveFace(told) {
  const face = element('figure', null, { className: 'live-face' });
  const ground = element('div', null, { className: 'ground' });
  const over = ofSvg('svg', { viewBox: `0 0 ${told.size} ${told.size}`, 'aria-hidden': 'true' });
  const parts = { ellipse: ofSvg('polygon', { class: 'ellipse' }), trail: ofSvg('polyline', { class: 'trail' }),
    arrow: ofSvg('line', { class: 'arrow', x1: told.centre[0], y1: told.centre[1] }), tip: ofSvg('circle', { class: 'tip', r: 2 }),
    lensEllipse: ofSvg('polygon', { class: 'ellipse' }), lensArrow: ofSvg('line', { class: 'lens-arrow' }) };
  over.append(...Object.values(parts));
  const name = element('strong', told.name);
  const words = element('span', '');
  const caption = element('figcaption');
  caption.append(name, ' ', words);
  face.append(ground, over, caption);
  face.parts = Object.assign(parts, { ground, words });
  face.trail = [];
  face.told = 0;
  return face;
}

function groundOf(face, told) {
  if (face.drawn === told.picture.light) return;
  face.drawn = told.picture.light;
  face.trail = [];  // of another scale
  face.parts.ground.replaceChildren(picture(told.picture, told.name, ''));
}

// A short vector once more, larger.
function drawLens({ lensEllipse, lensArrow }, lens) {
  [lensEllipse, lensArrow].forEach((part) => part.toggleAttribute('hidden', !lens));
  if (!lens) return;
  lensEllipse.setAttribute('points', lens.ellipse.join(' '));
  [['x1', lens.centre[0]], ['y1', lens.centre[1]], ['x2', lens.tip[0]], ['y2', lens.tip[1]]].forEach(([name, value]) => lensArrow.setAttribute(name, value));
}

function drawFace(face, told, old) {
  groundOf(face, told);
  const now = performance.now();
  const tip = old ? null : told.tip;
  if (tip) face.trail.push([now, tip]);
  face.trail = tip ? face.trail.filter(([at]) => now - at < 1000 * trail_s) : [];
  const { ellipse, trail, arrow, tip: dot, words } = face.parts;
  [ellipse, trail, arrow, dot].forEach((part) => part.toggleAttribute('hidden', !tip));
  drawLens(face.parts, tip && told.lens);
  if (!tip || now - face.told > words_every_ms) {
    words.textContent = old ? '' : told.words;  // without a tip: why there is none
    words.className = tip ? '' : 'bad';
    face.told = now;
  }
  if (!tip) return;
  ellipse.setAttribute('points', told.ellipse.join(' '));
  trail.setAttribute('points', face.trail.map(([, at]) => at).join(' '));
  arrow.setAttribute('x2', tip[0]); arrow.setAttribute('y2', tip[1]);
  dot.setAttribute('cx', tip[0]); dot.setAttribute('cy', tip[1]);
}

function drawFaces(live, shown) {
  const box = at('faces');
  const faces = shown ? live.faces : [];
  show('faces', faces.length > 0);
  if (box.childElementCount !== faces.length || faces.some((told, i) => box.children[i].name !== told.name)) {
    box.replaceChildren(...faces.map((told) => Object.assign(liveFace(told), { name: told.name })));
  }
  faces.forEach((told, i) => drawFace(box.children[i], told, live.old));
}
