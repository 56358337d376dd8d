'use strict';
// On the simulated rig alone: what may go wrong, switched on and off, and, once the job is closed, what the shaft really has left.

function drawMishaps(now) {
  show('truth', now.truth.length > 0);
  put('truth', now.truth.length ? say('truth') + ' ' + now.truth.join('; ') : '');
  document.querySelectorAll('#mishaps button').forEach((each) =>
    each.setAttribute('aria-pressed', String(now.mishaps.includes(each.value))));
}

document.getElementById('mishaps').addEventListener('click', (event) => {
  const mishap = event.target.value;
  if (mishap) act('/api/practice', { mishap, on: !state.now.mishaps.includes(mishap) });
});
