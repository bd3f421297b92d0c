// All members at once, in step or by their phases, and any two over each other.
import { Puppet, frame, pose, turns } from './figure.js';

export class Cast {
  constructor(canvas, inks) {
    Object.assign(this, { canvas, inks, context: canvas.getContext('2d', { alpha: false }), members: [], chosen: [], shown: 0 });
  }

  show(family) {
    Object.assign(this, { members: family.members, distances: family.distances });
    this.shown++;
    for (const member of this.members) member.out = new Float32Array(member.motion.stride);
    this.chosen = this.chosen.filter(i => i < this.members.length);
  }

  // apart says how far the two chosen members are apart.
  apart() {
    if (this.chosen.length !== 2) return '';
    const [i, k] = this.chosen, share = this.distances[i]?.[k];
    const names = `${this.members[i].name} and ${this.members[k].name}`;
    return share >= 0 ? `${names} are ${Math.round(share * 100)} % of the base’s motion apart` : `how far ${names} are apart can’t be told`;
  }

  // draw draws everybody at a time in seconds.
  draw(seconds, view, turn, byPhase) {
    const ratio = devicePixelRatio || 1, { clientWidth: w, clientHeight: h } = this.canvas, c = this.context;
    if (this.canvas.width !== Math.round(w * ratio)) this.canvas.width = Math.round(w * ratio);
    if (this.canvas.height !== Math.round(h * ratio)) this.canvas.height = Math.round(h * ratio);
    c.setTransform(ratio, 0, 0, ratio, 0, 0);
    c.fillStyle = this.inks.paper;
    c.fillRect(0, 0, w, h);
    const cells = this.members.length + (this.chosen.length === 2 ? 1 : 0);
    if (!cells) return;
    const tallest = Math.max(...this.members.map(m => frame(m.motion, view).top));
    const widest = Math.max(...this.members.map(m => { const f = frame(m.motion, view); return 2 * Math.max(f.right, -f.left); }));
    const sizes = Array.from({ length: cells }, (_, n) => Math.min((h / Math.ceil(cells / (n + 1)) - 24) / (1.16 * tallest), w / (n + 1) / widest));
    const scale = Math.max(...sizes), columns = sizes.indexOf(scale) + 1;
    const wide = w / columns, tall = h / Math.ceil(cells / columns);
    const below = 24 + 0.06 * tallest * scale; // the feet of who faces the front are lower than the middle of the ground
    const spot = i => [(i % columns + 0.5) * wide, (Math.floor(i / columns) + 1) * tall - below];
    const under = i => [spot(i)[0], spot(i)[1] + below - 8];
    this.members.forEach((member, i) => {
      this.time(member, seconds, byPhase);
      this.one(member, spot(i), scale, turn);
      this.label(member.name, under(i), this.chosen.includes(i));
    });
    if (this.chosen.length === 2) {
      const [a, b] = this.chosen.map(i => this.members[i]), at = spot(cells - 1);
      const puppet = new Puppet(c, this.inks, at, scale, turn);
      puppet.ground(a.motion);
      puppet.outline(b.motion, b.out);
      puppet.body(a.motion, a.out);
      this.label(`${a.name} over ${b.name}`, under(cells - 1), true);
    }
  }

  time(member, seconds, byPhase) {
    const m = member.motion;
    member.at = (seconds * m.Rate + (byPhase ? m.Phase : 0)) % m.Length;
    pose(m, member.at, member.out);
  }

  one(member, at, scale, turn) {
    const puppet = new Puppet(this.context, this.inks, at, scale, turn);
    puppet.ground(member.motion);
    puppet.feet(member.motion, member.out, member.at);
    puppet.body(member.motion, member.out);
  }

  label(text, [x, y], strong) {
    const c = this.context;
    c.font = `${strong ? 'bold ' : ''}12px system-ui, "DejaVu Sans", sans-serif`;
    c.textAlign = 'center';
    c.fillStyle = this.inks.strong;
    c.fillText(text, x, y);
  }
}
