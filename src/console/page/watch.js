'use strict';
// A screen that only looks on ('?watch'): it shows the same job, and sends nothing. With '&face', or by the button, the face alone, large.

const query = new URLSearchParams(location.search);
const watching = query.has('watch');

function showFaceAlone(yes) {
  document.body.classList.toggle('face-alone', yes);
  if (yes) curves.shown = 'faces';
}
document.body.classList.toggle('watching', watching);
showFaceAlone(query.has('face'));
document.getElementById('face-alone').onclick = () => { closeMenu(); showFaceAlone(true); };
// A tap on it, and the rest is there again.
document.getElementById('faces').addEventListener('click', () => showFaceAlone(false));
