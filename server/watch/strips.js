// The curves: time runs down, each chosen channel is a strip, and threads lead from the rows of the text to their moments.

const gutter = 84, top = 46, beyondBeats = 1;

export class Strips {
  constructor(canvas, inks) {
    Object.assign(this, { canvas, inks, context: canvas.getContext('2d', { alpha: false }), layer: document.createElement('canvas'), said: new Set(), stale: true });
  }

  // size fits the canvas to its place on the page.
  size() {
    const ratio = devicePixelRatio || 1, { clientWidth: w, clientHeight: h } = this.canvas;
    if (this.canvas.width !== Math.round(w * ratio) || this.canvas.height !== Math.round(h * ratio)) {
      this.canvas.width = Math.round(w * ratio);
      this.canvas.height = Math.round(h * ratio);
      this.stale = true;
    }
    this.context.setTransform(ratio, 0, 0, ratio, 0, 0);
    Object.assign(this, { w, h, ratio });
  }

  lay(sheet, chosen) {
    this.sheet = sheet;
    this.strips = sheet.strips.filter(strip => chosen.has(strip.path));
    const m = sheet.motion;
    this.beyond = m.Closed ? Math.min(m.Length, beyondBeats * m.Beat) : 0;
    this.say(sheet.findings);
  }

  // say tells about which lines the check says something.
  say(findings) {
    this.said = new Set(findings.map(finding => finding.line));
    this.stale = true;
  }

  y(frames) { return top + frames / (this.sheet.motion.Length + this.beyond) * (this.h - top - 12); }

  // time is the moment at a height of the canvas.
  time(y) {
    const m = this.sheet.motion;
    return Math.min(Math.max((y - top) / (this.h - top - 12) * (m.Length + this.beyond), 0), m.Length + this.beyond);
  }

  // draw draws the moment onto the curves, which themselves are drawn only when they change.
  draw(time, threads) {
    if (!this.sheet?.motion) return;
    this.size();
    if (this.stale) this.curves();
    const c = this.context;
    c.setTransform(1, 0, 0, 1, 0, 0);
    c.drawImage(this.layer, 0, 0);
    c.setTransform(this.ratio, 0, 0, this.ratio, 0, 0);
    this.threads(threads);
    this.playhead(time);
  }

  curves() {
    this.stale = false;
    Object.assign(this.layer, { width: this.canvas.width, height: this.canvas.height });
    const page = this.context, c = this.context = this.layer.getContext('2d', { alpha: false }), m = this.sheet.motion, { inks } = this;
    c.setTransform(this.ratio, 0, 0, this.ratio, 0, 0);
    c.fillStyle = inks.paper;
    c.fillRect(0, 0, this.w, this.h);
    c.font = '11px system-ui, "DejaVu Sans", sans-serif';
    if (this.beyond) {
      c.fillStyle = inks.panel;
      c.fillRect(gutter - 44, this.y(m.Length), this.w, this.y(m.Length + this.beyond) - this.y(m.Length));
    }
    this.beats();
    const n = this.strips.length, wide = Math.min(150, (this.w - gutter - 12) / Math.max(n, 1));
    this.strips.forEach((strip, i) => this.strip(strip, gutter + i * wide, wide - 14));
    if (this.beyond) this.seam();
    this.context = page;
  }

  line(x0, y0, x1, y1, ink, width, dash = []) {
    const c = this.context;
    c.beginPath();
    c.moveTo(x0, y0);
    c.lineTo(x1, y1);
    c.strokeStyle = ink;
    c.lineWidth = width;
    c.setLineDash(dash);
    c.stroke();
    c.setLineDash([]);
  }

  beats() {
    const m = this.sheet.motion, c = this.context, end = m.Length + this.beyond;
    for (let i = 0; i * m.Beat <= end + 1e-6; i++) {
      const y = this.y(i * m.Beat), next = this.beyond && i * m.Beat > m.Length - 1e-6;
      this.line(gutter - 8, y, this.w, y, this.inks.rule, 1);
      if (Math.abs(i * m.Beat - m.Length) < 1e-6) continue;
      c.fillStyle = next ? this.inks.soft : this.inks.strong;
      c.textAlign = 'right';
      c.fillText(`${next ? i - m.Length / m.Beat : i}b`, gutter - 12, y + 4);
    }
  }

  seam() {
    const y = this.y(this.sheet.motion.Length), c = this.context;
    this.line(gutter - 44, y - 2, this.w, y - 2, this.inks.strong, 1.2);
    this.line(gutter - 44, y + 2, this.w, y + 2, this.inks.strong, 1.2);
    c.fillStyle = this.inks.strong;
    c.textAlign = 'right';
    c.fillText('seam', gutter - 12, y - 6);
  }

  strip(strip, x, wide) {
    const c = this.context, m = this.sheet.motion, { inks } = this, ink = inks[strip.ink];
    const least = Math.min(...strip.values), most = Math.max(...strip.values);
    const at = v => most - least < 1e-9 ? x + wide / 2 : x + 5 + (v - least) / (most - least) * (wide - 10);
    c.textAlign = 'left';
    c.fillStyle = inks.strong;
    const [control, name] = strip.path.split('/');
    c.fillText(control, x, 12, wide);
    c.fillText(name, x, 25, wide);
    c.fillStyle = inks.soft;
    c.textAlign = 'right';
    if (strip.positive) c.fillText(`+ ${strip.positive} →`, x + wide, 39, wide);
    if (least < strip.rest && strip.rest < most) this.line(at(strip.rest), top, at(strip.rest), this.y(m.Length + this.beyond), inks.soft, 0.6, [2, 4]);
    this.trace(strip, at, ink);
    for (const key of strip.keys) {
      this.key(strip, at(key.value), this.y(key.frames), ink);
      if (this.said.has(key.line)) this.fault(at(key.value), this.y(key.frames));
    }
    if (Math.abs(strip.jump) > 1e-3) this.jump(strip, at, wide, x);
  }

  trace(strip, at, ink) {
    const c = this.context, m = this.sheet.motion, n = m.Count;
    c.beginPath();
    const rounds = this.beyond ? [0, m.Length] : [0];
    for (const from of rounds) {
      for (let i = 0; i < strip.values.length; i++) {
        const t = from + Math.min(i * m.Step, m.Length);
        if (t > m.Length + this.beyond) break;
        const point = [at(strip.values[i]), this.y(t)];
        if (i) c.lineTo(...point); else c.moveTo(...point);
      }
    }
    c.strokeStyle = ink;
    c.lineWidth = 2;
    c.lineJoin = 'round';
    c.stroke();
  }

  key(strip, x, y, ink) {
    const c = this.context;
    c.beginPath();
    if (strip.ink === 'left') c.arc(x, y, 3.5, 0, 2 * Math.PI);
    else if (strip.ink === 'right') c.rect(x - 3, y - 3, 6, 6);
    else [[0, -4], [4, 0], [0, 4], [-4, 0]].forEach(([dx, dy], i) => i ? c.lineTo(x + dx, y + dy) : c.moveTo(x + dx, y + dy));
    c.closePath();
    c.fillStyle = ink;
    c.fill();
    c.strokeStyle = this.inks.paper;
    c.lineWidth = 1;
    c.stroke();
  }

  // fault rings a key about whose line the check says something.
  fault(x, y) {
    const c = this.context;
    c.beginPath();
    c.arc(x, y, 8, 0, 2 * Math.PI);
    c.strokeStyle = this.inks.fault;
    c.lineWidth = 2;
    c.stroke();
  }

  jump(strip, at, wide, x) {
    const c = this.context, m = this.sheet.motion, y = this.y(m.Length + strip.late);
    const i = Math.round(strip.late / m.Step), to = strip.values[Math.min(i, m.Count - 1)], from = to - strip.jump;
    this.line(at(from), y, at(to), y, this.inks.fault, 5);
    c.fillStyle = this.inks.strong;
    c.textAlign = 'center';
    c.fillText(`jumps ${Math.abs(strip.jump).toFixed(1)} ${strip.unit}`, x + wide / 2, y + 17, wide + 10);
  }

  // threads lead from the rows of a block, as far as they can be seen, to their moments.
  threads(threads) {
    const box = this.canvas.getBoundingClientRect(), c = this.context;
    for (const { row, frames, now } of threads) {
      const { top: up, bottom: down } = row.getBoundingClientRect();
      const y = (up + down) / 2 - box.top;
      if (y < -8 || y > this.h + 8) continue;
      c.beginPath();
      c.moveTo(0, y);
      c.bezierCurveTo(26, y, 18, this.y(frames), gutter - 46, this.y(frames));
      c.strokeStyle = now ? this.inks.strong : this.inks.rule;
      c.lineWidth = now ? 1.6 : 1;
      c.stroke();
    }
  }

  playhead(time) {
    const y = this.y(time), c = this.context;
    this.line(gutter - 8, y, this.w, y, this.inks.strong, 2);
    c.beginPath();
    c.moveTo(gutter - 46, y - 6);
    c.lineTo(gutter - 36, y);
    c.lineTo(gutter - 46, y + 6);
    c.fillStyle = this.inks.strong;
    c.fill();
  }
}
