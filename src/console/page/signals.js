'use strict';
// What reaches an operator who looks at the shaft: sounds, a screen that stays awake, and keys, which a foot pedal has too.

const sound = { on: localStorage.getItem('sound') !== 'off', device: null, last: '', again: 0 };

// Frequency and length of each tone; what warns is lower, longer and repeated.
const tunes = {
  steady: [[880, 0.12]],
  recorded: [[880, 0.12], [1320, 0.25]],
  too_fast: [[220, 0.5], [180, 0.5]],
  tach_lost: [[330, 0.3], [220, 0.5]],
};
const repeated_ms = { too_fast: 1500, tach_lost: 5000 };

// Where there is no sound, the page goes on without it.
function play(tones) {
  try { sound.device = sound.device || new AudioContext(); } catch { return; }
  let from = sound.device.currentTime;
  tones.forEach(([frequency, seconds]) => {
    const tone = sound.device.createOscillator();
    tone.frequency.value = frequency;
    tone.connect(sound.device.destination);
    tone.start(from);
    tone.stop(from += seconds);
  });
}

function tuneOf(live) {
  if (live.alarm) return 'too_fast';
  if (live.tach_lost) return 'tach_lost';
  return { recording: 'steady', measuring: 'recorded' }[live.phase] || '';
}

function signal(live) {
  const tune = live.old ? '' : tuneOf(live);
  const due = tune !== sound.last || (repeated_ms[tune] && performance.now() - sound.again > repeated_ms[tune]);
  sound.last = tune;
  if (!due) return;
  sound.again = performance.now();
  if (sound.on && tune) play(tunes[tune]);
}

// ---- light or dark, and how large: as the screen has it, or as chosen here ----
const themes = ['', 'light', 'dark'];
const sizes_percent = ['100', '115', '130'];
function chosenOf(key, choices) { return choices.includes(localStorage.getItem(key)) ? localStorage.getItem(key) : choices[0]; }
function darkMedia() { return { light: 'not all', dark: 'all' }[chosenOf('theme', themes)] || '(prefers-color-scheme: dark)'; }
function showLook() {
  const theme = chosenOf('theme', themes);
  const size = chosenOf('size', sizes_percent);
  document.documentElement.dataset.theme = theme;
  document.documentElement.style.fontSize = size + '%';
  document.querySelectorAll('picture source').forEach((each) => { each.media = darkMedia(); });
  put('theme', { light: say('theme_light'), dark: say('theme_dark') }[theme] || say('theme_of_screen'));
  put('size', say('text_size', size));
}
function nextOf(key, choices) {
  localStorage.setItem(key, choices[(choices.indexOf(chosenOf(key, choices)) + 1) % choices.length]);
  showLook();
}
document.getElementById('theme').onclick = () => nextOf('theme', themes);
document.getElementById('size').onclick = () => nextOf('size', sizes_percent);

function switchSound() {
  sound.on = !sound.on;
  localStorage.setItem('sound', sound.on ? 'on' : 'off');
  showSound();
  if (sound.on) play(tunes.steady);
}
function showSound() { put('sound', say(sound.on ? 'sound_off' : 'sound_on')); }

// Where the browser grants it: on loopback, not over an unencrypted network.
let awake = null;
async function stayAwake(wanted) {
  if (!navigator.wakeLock || document.hidden || wanted === Boolean(awake && !awake.released)) return;
  try {
    if (wanted) awake = await navigator.wakeLock.request('screen');
    else await awake.release();
  } catch { awake = null; }  // refused, as on a battery that is low
}

// The button that the step asks for; never while a field is typed in. That the shaft stands is said by a hand at the screen,
// and a job is closed by one. Of trial weights off or still on it chooses the usual, which is shown first; a pedal that bounces says
// no more than that.
const bounce_ms = 1000;
document.addEventListener('keydown', (event) => {
  const typing = event.target.closest('input, select, textarea, button, a');
  if (event.repeat || typing || state.view !== 'work' || !['Enter', 'PageDown'].includes(event.key)) return;
  const main = [...document.querySelectorAll('#work :is(button.main, button.choice)')].find((each) => each.offsetParent);
  if (!main || event.timeStamp - chosen_at < bounce_ms || (main.id === 'go' && state.now && state.now.step.startsWith('close'))) return;
  event.preventDefault();
  main.click();
});
