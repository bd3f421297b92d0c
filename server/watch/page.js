// The page: what is shown, what keys and pointers do, and the clock. What moves comes from the engine, by sheet/N.
import { Cast } from './family.js';
import { Puppet, frame, lookDown, pose, turns, unpack } from './figure.js';
import { SheetText } from './sheet.js';
import { Strips } from './strips.js';

const $ = id => document.getElementById(id);
const speeds = [0.1, 0.25, 0.5, 1, 1.5, 2];
const inks = {};
const state = {
  version: 0, sheets: [], number: 0, sheet: null, before: null, block: null, chosen: new Set(), chosenBy: '',
  time: 0, seconds: 0, playing: !matchMedia('(prefers-reduced-motion: reduce)').matches, speed: 1,
  view: '', turn: 0, seam: false, click: false, ghost: false, arc: '', family: false, phases: false, drawn: 0, out: null,
  model: null, fresh: null, unseen: null, shown: { since: 0, heard: 0, told: 0, at: 0 }, // when a version was heard of, told and seen, in ms since 1970
};
const text = new SheetText($('lines'), (frames, block) => { state.block = block; seek(frames); }, openLine), strips = new Strips($('strips'), inks), cast = new Cast($('cast'), inks);

function readInks() {
  const style = getComputedStyle(document.documentElement);
  for (const name of ['paper', 'panel', 'rule', 'soft', 'strong', 'center', 'left', 'right', 'fault', 'trace', 'skin']) inks[name] = style.getPropertyValue(`--${name}`).trim();
}
readInks();
matchMedia('(prefers-color-scheme: dark)').addEventListener('change', () => { readInks(); strips.stale = true; });

async function ask(what) {
  const answer = await fetch(what);
  if (!answer.ok) throw new Error(await answer.text());
  return answer.json();
}

// refresh brings the page up to date with the newest list of sheets, and keeps the moment, the view and what is chosen.
// Lists that come meanwhile wait, all but the last one.
const clock = () => performance.timeOrigin + performance.now();
let newest = null, busy = false;
async function refresh(list) {
  newest = Object.assign(list, { heard: clock() });
  if (busy) return;
  busy = true;
  try {
    while (newest) {
      const now = newest, first = !state.version;
      newest = null;
      await bring(now);
      if (first) goToFragment();
      else if (state.going) goTo(...state.going);
    }
  } catch (error) {
    $('problem').textContent = `the page could not be brought up to date: ${error.message}`;
  } finally {
    busy = false;
  }
}

async function bring(list) {
  const path = state.sheets[state.number]?.path, before = JSON.stringify(state.sheets.map(s => [s.name, s.path]));
  Object.assign(state, { sheets: list.sheets, version: list.version });
  const same = list.sheets.findIndex(s => s.path === path);
  state.number = same >= 0 ? same : Math.max(0, list.sheets.findIndex(s => s.whole));
  $('problem').textContent = list.problem ?? '';
  document.body.classList.toggle('opens', state.opens = list.opens);
  $('edit').hidden = !list.opens;
  if (before !== JSON.stringify(state.sheets.map(s => [s.name, s.path]))) showList();
  const chosen = state.sheets[state.number];
  if (chosen && (same < 0 || state.sheet?.since !== chosen.since)) await showSheet(same >= 0, list.heard);
  if (state.family) await showFamily();
  askFaults();
}

// askFaults asks what is wrong once there is nothing newer to be shown: the check takes longer than the figure.
let asking = 0;
function askFaults() {
  clearTimeout(asking);
  asking = setTimeout(async () => {
    const { version, number } = state, path = state.sheets[number]?.path;
    if (!path) return;
    try {
      const told = await ask(`faults?path=${encodeURIComponent(path)}`);
      if (state.sheet?.path === path && state.sheet.since === told.since) {
        state.sheet.findings = told.findings;
        layText();
        text.say(told.findings);
        strips.say(told.findings);
      }
      const levels = await ask('levels');
      if (state.version === version) [...$('sheets').children].forEach((button, i) => { button.className = levels[i] ?? ''; });
    } catch (error) {
      $('problem').textContent = `what is wrong could not be asked: ${error.message}`;
    }
  }, 40);
}

function showList() {
  $('sheets').replaceChildren(...state.sheets.map((sheet, i) => {
    const button = document.createElement('button');
    button.textContent = sheet.name;
    button.title = sheet.path;
    button.setAttribute('aria-current', i === state.number);
    button.addEventListener('click', () => open(i));
    return button;
  }));
}

async function open(i) {
  if (state.family) toggleFamily();
  Object.assign(state, { number: i, before: null, block: null });
  showList();
  await showSheet(false);
  askFaults();
}

// showSheet shows the figure of the chosen sheet first, and when that has been drawn, its text.
async function showSheet(again, heard = clock()) {
  const path = state.sheets[state.number]?.path;
  if (path === undefined) return;
  const sheet = await ask(`sheet?path=${encodeURIComponent(path)}`);
  if (state.sheets[state.number]?.path !== path) return; // another one has been chosen meanwhile
  if (sheet.motion) unpack(sheet.motion);
  if (again && state.sheet?.motion) state.before = state.sheet;
  sheet.findings = again ? state.sheet?.findings ?? [] : [];
  Object.assign(state, { sheet, fresh: { sheet, again }, unseen: { since: sheet.since, path, heard, told: clock() } });
  if (!sheet.motion) {
    layText();
    $('moment').textContent = 'there is no motion in this sheet yet; what is in its way stands at its lines';
    return;
  }
  state.out = new Float32Array(sheet.motion.stride);
  wantModel(sheet);
  if (!again || !state.view) setView(sheet.motion.View || 'front');
  choose(again);
  showJoints(sheet.motion);
  state.time = wrapped(state.time);
}

// wantModel gets the character that the rig names. Until it is there, and where it can't be had, the figure is of paper.
let threeDimensions = null, brush = null;
async function wantModel(sheet) {
  const told = sheet.model, key = told && `${told.Path} ${sheet.path}`;
  if (!told) state.model = null;
  if (!told || state.model?.key === key) return showPaper();
  const wanted = state.model = { key, character: null, problem: '' };
  showPaper();
  try {
    threeDimensions ??= await import('./model.bundle.js');
    if (!threeDimensions.canDraw()) throw new Error('this browser draws nothing in three dimensions (WebGL 2)');
    brush ??= new threeDimensions.Brush(() => { brush = null; lost(new Error('the browser gave up drawing in three dimensions; load the page again')); });
    const character = await threeDimensions.Model.load(sheet);
    if (!character.seat(told)) throw new Error('none of its nodes has the name of a joint; name the joints as its nodes, or import the rig from it');
    wanted.character = character;
  } catch (error) {
    lost(error);
  }

  function lost(error) {
    Object.assign(wanted, { character: null, problem: `drawn in paper, since ${told.Path} can’t be shown: ${error.message}` });
    showPaper();
  }
}

function showPaper() { $('paper').textContent = state.model?.problem ?? ''; }

// layText lays out the text of the sheet whose figure has been drawn.
function layText() {
  if (!state.fresh) return;
  const { sheet, again } = state.fresh;
  state.fresh = null;
  const scroll = $('text').scrollTop;
  text.show(sheet);
  if (!again) text.say([]);
  $('text').scrollTop = again ? scroll : 0;
  if (!text.blocks.has(state.block)) state.block = [...text.blocks.keys()][0] ?? null;
  // The first table comes into view, so that one sees its rows being played.
  if (!again) text.blocks.get(state.block)?.[0].row.scrollIntoView({ block: 'center' });
}

// drawn is called when a frame has been given to the screen, with the sheet that was new in it.
function drawn(unseen) {
  if (unseen) state.shown = Object.assign(unseen, { at: clock() });
  if (state.unseen === unseen) state.unseen = null;
  layText();
}

// choose keeps the strips that are chosen, or takes those with the most keys in the sheet's own text.
function choose(again) {
  const { strips: all, name } = state.sheet;
  if (!again || state.chosenBy !== name) {
    state.chosenBy = name;
    const own = all.filter(s => s.keys.length).sort((a, b) => b.keys.length - a.keys.length).slice(0, 6);
    state.chosen = new Set((own.length ? own : all.slice(0, 6)).map(s => s.path));
  }
  strips.lay(state.sheet, state.chosen);
  $('strips').setAttribute('aria-valuemax', Math.round(state.sheet.motion.Length));
  const names = JSON.stringify(all.map(s => [s.path, state.chosen.has(s.path)]));
  if (state.names === names) return;
  state.names = names;
  $('names').replaceChildren(...all.map(strip => {
    const button = document.createElement('button');
    button.textContent = strip.path;
    button.setAttribute('aria-pressed', state.chosen.has(strip.path));
    button.addEventListener('click', () => {
      if (!state.chosen.delete(strip.path)) state.chosen.add(strip.path);
      button.setAttribute('aria-pressed', state.chosen.has(strip.path));
      state.names = '';
      strips.lay(state.sheet, state.chosen);
    });
    return button;
  }));
}

function showJoints(motion) {
  const names = motion.Spots.slice(0, motion.Joints);
  if (!names.includes(state.arc)) state.arc = '';
  if ([...$('arc').options].slice(1).map(o => o.value).join() === names.join()) return;
  $('arc').replaceChildren(...['', ...names].map(name => new Option(name || 'no joint', name, false, name === state.arc)));
}

function wrapped(time) {
  const m = state.sheet?.motion;
  if (!m) return 0;
  return m.Closed ? ((time % m.Length) + m.Length) % m.Length : Math.min(Math.max(time, 0), m.Length);
}

function seek(time) {
  state.time = wrapped(time);
  state.seconds = state.time / (state.sheet?.motion?.Rate ?? 24);
  state.playing = false;
  showPlaying();
}

// advance moves the moment on by seconds of a clock.
function advance(seconds) {
  const m = state.sheet?.motion;
  if (!m) return;
  const before = state.time, half = Math.min(m.Rate / 2, m.Length / 2);
  state.seconds += seconds * state.speed;
  let time = before + seconds * state.speed * m.Rate;
  if (state.seam && m.Closed) {
    let past = wrapped(time + half);
    if (past > 2 * half) past = 0;
    state.time = wrapped(past - half);
  } else {
    if (!m.Closed && time > m.Length) time = 0;
    state.time = wrapped(time);
  }
  if (state.click && Math.floor(time / m.Beat + 1e-6) !== Math.floor(before / m.Beat + 1e-6)) tick();
}

let sound = null;
function tick() {
  sound ??= new AudioContext();
  const tone = sound.createOscillator(), loud = sound.createGain();
  tone.frequency.value = 880;
  loud.gain.setValueAtTime(0.2, sound.currentTime);
  loud.gain.exponentialRampToValueAtTime(0.001, sound.currentTime + 0.05);
  tone.connect(loud).connect(sound.destination);
  tone.start();
  tone.stop(sound.currentTime + 0.06);
}

function setView(view) {
  state.view = view;
  state.turn = turns[view] ?? state.turn;
  for (const name of ['front', 'side', 'three-quarter', 'round']) $(name).setAttribute('aria-pressed', name === view);
}

function showPlaying() { $('play').lastChild.textContent = state.playing ? ' pause' : ' play'; }

function toggle(name) {
  state[name] = !state[name];
  $(name).setAttribute('aria-pressed', state[name]);
}

async function toggleFamily() {
  toggle('family');
  $('one').hidden = state.family;
  $('all').hidden = !state.family;
  if (state.family) await showFamily();
}

async function showFamily() {
  const family = await ask('family');
  for (const member of family.members) unpack(member.motion);
  cast.show(family);
  $('members').replaceChildren(...family.members.map((member, i) => {
    const button = document.createElement('button');
    button.textContent = member.name;
    button.setAttribute('aria-pressed', cast.chosen.includes(i));
    button.addEventListener('click', () => {
      cast.chosen = cast.chosen.includes(i) ? cast.chosen.filter(k => k !== i) : [...cast.chosen, i].slice(-2);
      [...$('members').children].forEach((b, k) => b.setAttribute('aria-pressed', cast.chosen.includes(k)));
      $('apart').textContent = cast.apart();
    });
    return button;
  }));
  $('apart').textContent = cast.apart();
}

function speed(by) {
  const i = speeds.indexOf(state.speed) + by;
  state.speed = speeds[Math.min(Math.max(i, 0), speeds.length - 1)];
  $('speed').textContent = `${state.speed}×`;
}

function step(by, beats) {
  const m = state.sheet?.motion;
  if (!m) return;
  const unit = beats ? m.Beat : 1;
  seek((Math.round(state.time / unit * 1e6) / 1e6 % 1 ? (by > 0 ? Math.ceil(state.time / unit) : Math.floor(state.time / unit)) : state.time / unit + by) * unit);
}

const keys = {
  ' ': () => { state.playing = !state.playing; showPlaying(); },
  '-': () => speed(-1), '+': () => speed(1), '=': () => speed(1),
  f: () => setView('front'), s: () => setView('side'), t: () => setView('three-quarter'), r: () => setView('round'),
  e: () => toggle('seam'), b: () => toggle('click'), g: () => toggle('ghost'), v: toggleFamily, p: () => toggle('phases'),
  a: () => nextArc(), o: openPlayed,
};

// openLine shows a line of the sheet in the editor.
async function openLine(line) {
  if (!state.opens || !state.sheet) return;
  const answer = await fetch(`open?path=${encodeURIComponent(state.sheet.path)}&line=${line}`, { method: 'POST' });
  if (!answer.ok) $('problem').textContent = await answer.text();
}

// openPlayed shows the row that is being played, of the table that was last chosen.
function openPlayed() {
  const row = text.blocks.get(state.block)?.find(row => row.now);
  if (row) openLine(row.line);
}

// goTo shows a sheet at a moment that the address names, or the editor's cursor.
async function goTo(path, frames) {
  const i = state.sheets.findIndex(sheet => sheet.path === path);
  state.going = i < 0 ? [path, frames] : null; // it may come with the next list
  if (i < 0) return;
  if (i !== state.number || state.family) await open(i);
  if (Number.isFinite(frames)) seek(frames);
}

function goToFragment() {
  const asked = new URLSearchParams(location.hash.slice(1));
  if (asked.has('sheet')) goTo(asked.get('sheet'), asked.has('frame') ? +asked.get('frame') : NaN);
}
addEventListener('hashchange', goToFragment);

function nextArc() {
  const m = state.sheet?.motion;
  if (!m) return;
  const names = ['', ...m.Spots.slice(0, m.Joints)];
  state.arc = names[(names.indexOf(state.arc) + 1) % names.length];
  $('arc').value = state.arc;
}

addEventListener('keydown', event => {
  if (event.ctrlKey || event.metaKey || event.altKey || event.target.tagName === 'SELECT') return;
  const ahead = { ArrowRight: 1, ArrowDown: 1, ArrowLeft: -1, ArrowUp: -1 }[event.key];
  if (ahead && document.activeElement !== $('text')) {
    step(ahead, event.shiftKey);
    event.preventDefault();
    return;
  }
  if (event.key === ' ' && event.target.tagName === 'BUTTON' && event.target.id !== 'play') return;
  const does = keys[event.key.toLowerCase()];
  if (does) {
    does();
    event.preventDefault();
  }
});
for (const button of document.querySelectorAll('button[data-key]')) {
  button.addEventListener('click', () => { keys[button.dataset.key](); });
  button.addEventListener('keyup', event => { if (event.key === ' ') event.preventDefault(); });
}
$('arc').addEventListener('change', () => { state.arc = $('arc').value; });

let dragging = false;
const drag = event => { if (dragging) seek(strips.time(event.offsetY)); };
$('strips').addEventListener('pointerdown', event => { dragging = true; $('strips').setPointerCapture(event.pointerId); drag(event); });
$('strips').addEventListener('pointermove', drag);
$('strips').addEventListener('pointerup', () => { dragging = false; });

function drawFigure() {
  const m = state.sheet.motion, canvas = $('figure'), c = canvas.getContext('2d', { alpha: false }), ratio = devicePixelRatio || 1;
  const { clientWidth: w, clientHeight: h } = canvas;
  if (canvas.width !== Math.round(w * ratio)) canvas.width = Math.round(w * ratio);
  if (canvas.height !== Math.round(h * ratio)) canvas.height = Math.round(h * ratio);
  c.setTransform(ratio, 0, 0, ratio, 0, 0);
  c.fillStyle = inks.paper;
  c.fillRect(0, 0, w, h);
  const box = frame(m, state.view), scale = Math.min((w - 16) / (box.right - box.left), (h - 24) / (box.top - box.bottom));
  const at = [w / 2 - (box.left + box.right) / 2 * scale, h - 12 + box.bottom * scale];
  const puppet = new Puppet(c, inks, at, scale, state.turn);
  puppet.ground(m);
  const ghost = state.ghost && (state.before?.motion ?? m);
  if (ghost) puppet.outline(ghost, pose(ghost, state.before ? state.time : state.time - m.Beat / 2, new Float32Array(ghost.stride)));
  pose(m, state.time, state.out);
  puppet.feet(m, state.out, state.time);
  const character = state.model?.character;
  if (character && brush) {
    character.seat(state.sheet.model);
    character.pose(m, state.time, state.out);
    character.look(state.turn * Math.PI / 180, lookDown, at, scale, w, h);
    c.drawImage(brush.draw(character, w, h, ratio), 0, 0, w, h);
  } else {
    puppet.body(m, state.out);
  }
  if (state.arc) puppet.arc(m, m.Spots.indexOf(state.arc));
}

function showMoment() {
  const m = state.sheet.motion;
  const said = `frame ${state.time.toFixed(1)} of ${+m.Length.toFixed(3)}, beat ${(state.time / m.Beat).toFixed(2)}, ${(state.time / m.Rate).toFixed(2)} s`;
  if ($('moment').textContent !== said) $('moment').textContent = said;
  $('strips').setAttribute('aria-valuenow', Math.round(state.time));
  $('strips').setAttribute('aria-valuetext', said);
}

let last = 0;
function draw(now) {
  requestAnimationFrame(draw);
  const passed = Math.min((now - last) / 1000, 0.25);
  last = now;
  if (!state.sheet?.motion) return;
  if (state.playing) {
    advance(passed);
    if (state.view === 'round') state.turn = (state.turn + passed * 30) % 360;
  }
  const seen = JSON.stringify(scene());
  if (seen !== state.seen) {
    state.seen = seen;
    if (state.family) {
      cast.draw(state.seconds, state.view, state.turn, state.phases);
    } else {
      text.play(state.time);
      strips.draw(state.time, text.blocks.get(state.block) ?? []);
      drawFigure();
      showMoment();
    }
  }
  state.drawn++;
  if (state.unseen || state.fresh) setTimeout(drawn, 0, state.unseen);
}

// scene is all that decides what is drawn, so that nothing is drawn again that stays the same.
function scene() {
  const sizes = ['figure', 'strips', 'cast'].flatMap(id => [$(id).clientWidth, $(id).clientHeight]);
  return [
    state.family, state.view, state.turn, state.phases, state.seconds, state.time, state.sheet.path, state.sheet.since, state.ghost,
    state.before?.since, state.arc, state.block, strips.stale, Boolean(state.model?.character), $('text').scrollTop, inks.paper, devicePixelRatio, cast.shown, cast.chosen, ...sizes,
  ];
}

showPlaying();
const changes = new EventSource('changes');
changes.onmessage = event => {
  const list = JSON.parse(event.data);
  if (list.version !== state.version) refresh(list);
};
changes.addEventListener('place', event => {
  const { Path, Frames } = JSON.parse(event.data);
  goTo(Path, Frames);
});
changes.onerror = () => { $('problem').textContent = 'motet has ended; what is shown stays'; };
changes.onopen = () => { $('problem').textContent = ''; };
requestAnimationFrame(draw);
globalThis.motet = { state, text, cast, strips, seek };
