// The review: everybody plays, each has a card, and a note is tied to a member and to the beat at which it was written.
const $ = id => document.getElementById(id);
const inks = {};
for (const name of ['paper', 'panel', 'rule', 'soft', 'strong', 'center', 'left', 'right', 'fault', 'trace', 'skin']) inks[name] = getComputedStyle(document.documentElement).getPropertyValue(`--${name}`).trim();
const review = JSON.parse($('data').textContent);
for (const member of review.members) unpack(member.motion);
const cast = new Cast($('cast'), inks);
cast.show(review);
const longest = Math.max(0, ...review.members.map(m => m.motion.Length / m.motion.Rate)) || 1;
const state = { seconds: 0, playing: !matchMedia('(prefers-reduced-motion: reduce)').matches, view: 'front', phases: false, drawn: 0 };

function element(name, text, kind) {
  const e = document.createElement(name);
  e.textContent = text;
  if (kind) e.className = kind;
  return e;
}

function plural(n, word) { return `${n || 'no'} ${word}${n === 1 ? '' : 's'}`; }

// beatOf is the moment of a member on the half beat that is nearest, as its sheet writes it.
function beatOf(member) {
  const m = member.motion, time = (state.seconds * m.Rate + (state.phases ? m.Phase : 0)) % m.Length;
  const all = Math.max(1, Math.round(m.Length / m.Beat * 2)), halves = Math.round(time / m.Beat * 2) % all;
  return halves % 2 ? `${halves}/2b` : `${halves / 2}b`;
}

// noteOn is a note as its card shows it: where it is, what it says, and what became of it.
function noteOn(note) {
  const became = { open: '', new: 'new: ', done: 'done: ', withdrawn: 'taken out: ' };
  return element('li', `${became[note.is]}at ${note.at}, ${note.text}`, note.is);
}

const asItWas = 'moves as it did';

function summary() {
  const count = kind => review.cards.reduce((n, card) => n + card.notes.filter(note => kind.includes(note.is)).length, 0);
  const said = review.cards.reduce((n, card) => n + card.findings.length, 0);
  const parts = [plural(review.members.length, 'member'), said ? `the check reports ${said}` : 'the check reports nothing', plural(count(['open', 'new']), 'open note')];
  if (review.since) {
    const changed = review.cards.filter(card => card.changes[0] !== asItWas).length;
    parts.push(`since ${review.since}, ${plural(changed, 'member')} changed and ${plural(count(['done']), 'note')} done`);
  }
  if (review.gone.length) parts.push(`no longer there: ${review.gone.join(', ')}`);
  if (review.broken.length) parts.push(`can’t be played: ${review.broken.join(', ')}`);
  return parts.join('; ');
}
$('summary').textContent = summary();

const moments = review.members.map((member, i) => {
  const card = document.createElement('article'), said = review.cards[i], list = document.createElement('ul');
  const form = document.createElement('form'), input = document.createElement('input'), at = element('span', '', 'at');
  input.placeholder = 'a note at this moment';
  input.setAttribute('aria-label', `a note on ${member.name} at this moment`);
  list.append(...said.findings.map(text => element('li', text, 'found')), ...said.notes.map(noteOn));
  const title = document.createElement('h2'), choose = element('button', member.name);
  choose.title = 'lay over another one: choose two';
  choose.setAttribute('aria-pressed', false);
  choose.addEventListener('click', () => {
    cast.chosen = cast.chosen.includes(i) ? cast.chosen.filter(k => k !== i) : [...cast.chosen, i].slice(-2);
    document.querySelectorAll('article h2 button').forEach((b, k) => b.setAttribute('aria-pressed', cast.chosen.includes(k)));
    $('apart').textContent = cast.apart();
  });
  title.append(choose);
  form.append(at, input, element('button', 'add note'));
  form.addEventListener('focusin', () => { state.playing = false; showPlaying(); });
  form.addEventListener('submit', event => {
    event.preventDefault();
    if (!input.value.trim()) return;
    $('lines').value += `${member.path} ${beatOf(member)} ${input.value.trim().replaceAll('"', '’')}\n`;
    input.value = '';
    unsaved(true);
  });
  card.append(title, element('p', said.facts.join(', '), 'facts'), list);
  if (review.since) {
    const changes = document.createElement('ul');
    changes.append(...said.changes.map(text => element('li', text, text === asItWas ? 'same' : 'changed')));
    card.append(element('h3', `since ${review.since}`), changes);
  }
  card.append(form);
  $('cards').append(card);
  return at;
});

// unsaved keeps who has written notes from leaving without them.
let notes = false;
function unsaved(yes) {
  notes = yes;
  $('saved').textContent = yes ? 'not saved yet' : '';
}
$('lines').addEventListener('input', () => unsaved($('lines').value.trim() !== ''));
addEventListener('beforeunload', event => { if (notes) event.preventDefault(); });
$('save').addEventListener('click', () => {
  const link = document.createElement('a');
  link.href = URL.createObjectURL(new Blob([$('lines').value], { type: 'text/plain' }));
  link.download = 'notes.txt';
  link.click();
  unsaved(false);
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
  $('at').textContent = `${(state.seconds % longest).toFixed(2)} of ${+longest.toFixed(2)} s`;
  review.members.forEach((member, i) => {
    const text = `at ${beatOf(member)}`;
    if (moments[i].textContent !== text) moments[i].textContent = text;
  });
  state.drawn++;
}
showPlaying();
requestAnimationFrame(drawAll);
globalThis.motet = { state, cast };
