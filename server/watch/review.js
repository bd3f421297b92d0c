// The review: everybody plays, each has a card, and a note is tied to a member and to the beat at which it was written.
const $ = id => document.getElementById(id);
const inks = {};
for (const name of ['paper', 'panel', 'rule', 'soft', 'strong', 'center', 'left', 'right', 'fault', 'trace', 'skin']) inks[name] = getComputedStyle(document.documentElement).getPropertyValue(`--${name}`).trim();
const review = JSON.parse($('data').textContent);
for (const member of review.members) unpack(member.motion);
const cast = new Cast($('cast'), inks);
cast.show(review);
const longest = Math.max(...review.members.map(m => m.motion.Length / m.motion.Rate));
const state = { seconds: 0, playing: !matchMedia('(prefers-reduced-motion: reduce)').matches, view: 'front', phases: false, drawn: 0 };

function element(name, text, kind) {
  const e = document.createElement(name);
  e.textContent = text;
  if (kind) e.className = kind;
  return e;
}

// beatOf is the moment of a member on the half beat that is nearest, as its sheet writes it.
function beatOf(member) {
  const m = member.motion, time = (state.seconds * m.Rate + (state.phases ? m.Phase : 0)) % m.Length;
  const halves = Math.round(time / m.Beat * 2) % Math.round(m.Length / m.Beat * 2);
  return halves % 2 ? `${halves}/2b` : `${halves / 2}b`;
}

review.members.forEach((member, i) => {
  const card = document.createElement('article'), said = review.cards[i], list = document.createElement('ul');
  const form = document.createElement('form'), input = document.createElement('input'), at = element('button', 'note');
  input.placeholder = 'a note at this moment';
  input.setAttribute('aria-label', `a note on ${member.name}`);
  list.append(...said.findings.map(text => element('li', text, 'found')), ...said.notes.map(text => element('li', text, 'open')));
  const title = document.createElement('h2'), choose = element('button', member.name);
  choose.setAttribute('aria-pressed', false);
  choose.addEventListener('click', () => {
    cast.chosen = cast.chosen.includes(i) ? cast.chosen.filter(k => k !== i) : [...cast.chosen, i].slice(-2);
    document.querySelectorAll('article h2 button').forEach((b, k) => b.setAttribute('aria-pressed', cast.chosen.includes(k)));
    $('apart').textContent = cast.apart();
  });
  title.append(choose);
  form.append(input, at);
  form.addEventListener('focusin', () => { state.playing = false; showPlaying(); });
  form.addEventListener('submit', event => {
    event.preventDefault();
    if (!input.value.trim()) return;
    $('lines').value += `${member.path} ${beatOf(member)} ${input.value.trim().replaceAll('"', '’')}\n`;
    input.value = '';
  });
  card.append(title, element('p', said.facts.join(', '), 'facts'), list, form);
  $('cards').append(card);
});

$('save').addEventListener('click', () => {
  const link = document.createElement('a');
  link.href = URL.createObjectURL(new Blob([$('lines').value], { type: 'text/plain' }));
  link.download = 'notes.txt';
  link.click();
});

function showPlaying() { $('play').querySelector('span').textContent = state.playing ? 'pause' : 'play'; }

function setView(view) {
  state.view = view;
  for (const name of Object.keys(turns)) $(name).setAttribute('aria-pressed', name === view);
}

const keys = {
  ' ': () => { state.playing = !state.playing; showPlaying(); },
  f: () => setView('front'), s: () => setView('side'), t: () => setView('three-quarter'),
  p: () => { state.phases = !state.phases; $('phases').setAttribute('aria-pressed', state.phases); },
};
addEventListener('keydown', event => {
  if (event.ctrlKey || event.metaKey || event.altKey || ['INPUT', 'TEXTAREA', 'BUTTON'].includes(event.target.tagName)) return;
  const does = keys[event.key.toLowerCase()];
  if (does) {
    does();
    event.preventDefault();
  }
});
for (const [id, key] of [['play', ' '], ['front', 'f'], ['side', 's'], ['three-quarter', 't'], ['phases', 'p']]) $(id).addEventListener('click', keys[key]);
$('time').max = longest;
$('time').addEventListener('input', () => {
  Object.assign(state, { seconds: +$('time').value, playing: false });
  showPlaying();
});

let last = 0;
function drawAll(now) {
  requestAnimationFrame(drawAll);
  const passed = Math.min((now - last) / 1000, 0.25);
  last = now;
  if (state.playing) state.seconds += passed;
  cast.draw(state.seconds, state.view, turns[state.view], state.phases);
  if (state.playing) $('time').value = state.seconds % longest;
  $('at').textContent = `${(state.seconds % longest).toFixed(2)} s`;
  state.drawn++;
}
showPlaying();
requestAnimationFrame(drawAll);
globalThis.motet = { state, cast };
