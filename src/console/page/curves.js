'use strict';
// What is shown in the place of the faces if it is asked for: curves over time or speed, or the orders. The program draws them.

const curves_every_ms = 400;
const curves = { shown: localStorage.getItem('curves') || 'faces', wanted: false, asked: 0, waiting: false, seen: 0, theme: '' };

function themeNow() { return matchMedia(darkMedia()).matches ? 'dark' : 'light'; }
function curvesAddress() { return '/live-' + curves.shown + '.svg?theme=' + curves.theme + '&' + viewer(); }

// The next picture takes the place of the last one when it is whole.
async function nextCurves() {
  curves.waiting = true;
  curves.asked = performance.now();
  curves.theme = themeNow();
  const shown = curves.shown;
  const next = new Image();
  next.src = curvesAddress() + '&number=' + Math.round(curves.asked);
  next.alt = say('show_' + shown);
  try {
    await next.decode();
    if (shown !== curves.shown) return;
    at('curves-picture').replaceChildren(next);
    curves.seen = performance.now();
    put('curves-words', '');
  } catch {
    ask(curvesAddress()).catch((trouble) => { if (trouble.code) put('curves-words', trouble.message); });
  } finally {
    curves.waiting = false;
  }
}

// What is older than two seconds is said to be, and does not look as if it were now. The orders are of when they say.
function drawCurves(shown) {
  curves.wanted = shown && curves.shown !== 'faces';
  show('instruments', shown);
  document.body.classList.toggle('following', shown);
  show('curves', curves.wanted);
  show('orders-again', curves.shown === 'orders');
  document.querySelectorAll('#instruments button').forEach((each) => each.setAttribute('aria-pressed', String(each.value === curves.shown)));
  if (!curves.wanted) return;
  const age_ms = performance.now() - curves.seen;
  const old = curves.seen > 0 && age_ms > 2000 && curves.shown !== 'orders';
  at('curves').classList.toggle('gone-by', old);
  if (old) put('curves-words', say('picture_old', Math.floor(age_ms / 1000)));
  const due = curves.theme !== themeNow() || (curves.shown === 'orders' ? curves.asked === 0 : performance.now() - curves.asked > curves_every_ms);
  if (due && !curves.waiting) nextCurves();
}

document.getElementById('instruments').addEventListener('click', (event) => {
  if (!event.target.value) return;
  Object.assign(curves, { shown: event.target.value, asked: 0, seen: 0 });
  localStorage.setItem('curves', curves.shown);
  at('curves-picture').replaceChildren();
  put('curves-words', '');
  drawLive();
});
document.getElementById('orders-again').onclick = () => { curves.asked = 0; drawLive(); };
