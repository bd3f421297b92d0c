// Draws the figure from the places that the engine has worked out. Nothing about motion is decided here: between two
// samples a place is taken from the straight line between them.

export const lookDown = 9 * Math.PI / 180;
export const turns = { front: 0, side: 90, 'three-quarter': 40 };

// unpack gives a motion its places as numbers, sample by sample, spot by spot.
export function unpack(motion) {
  const bytes = Uint8Array.from(atob(motion.Places), c => c.charCodeAt(0));
  motion.places = new Float32Array(bytes.buffer);
  motion.Places = null;
  motion.stride = motion.Spots.length * 3;
  motion.frames = {};
  return motion;
}

// pose writes the places at a time, in frames, into out.
export function pose(motion, time, out) {
  const { Count, Step, Closed, Length, stride, places } = motion;
  let at = Closed ? ((time % Length) + Length) % Length : Math.min(Math.max(time, 0), Length);
  at /= Step;
  let i = Math.min(Math.floor(at + 1e-9), Count - 1);
  const rest = Math.max(0, at - i);
  const k = i + 1 < Count ? i + 1 : Closed ? 0 : i;
  for (let n = 0; n < stride; n++) {
    const from = places[i * stride + n];
    out[n] = from + (places[k * stride + n] - from) * rest;
  }
  return out;
}

// sampleAt is the sample that a time is in.
function sampleAt(motion, time) {
  const { Count, Step, Closed, Length } = motion;
  const at = Closed ? ((time % Length) + Length) % Length : Math.min(Math.max(time, 0), Length);
  return Math.min(Math.floor(at / Step + 1e-9), Count - 1);
}

// frame is the part of the view that holds the whole motion, in cm; of a view that turns, from every side.
export function frame(motion, view) {
  if (motion.frames[view]) return motion.frames[view];
  const h = motion.Height, box = { left: -0.16 * h, right: 0.16 * h, bottom: -0.06 * h, top: 0.2 * h };
  const project = projection(turns[view] ?? 0);
  for (let i = 0; i < motion.Count; i++) {
    for (const bone of motion.Bones) {
      for (const [spot, r] of [[bone.From, bone.R0], [bone.To, bone.R1]]) {
        const n = i * motion.stride + spot * 3, p = motion.places;
        let [x, y] = project(p[n], p[n + 1], p[n + 2]);
        if (!(view in turns)) {
          x = Math.hypot(p[n], p[n + 2]);
          box.left = Math.min(box.left, -x - r);
        }
        box.left = Math.min(box.left, x - r);
        box.right = Math.max(box.right, x + r);
        box.bottom = Math.min(box.bottom, y - r);
        box.top = Math.max(box.top, y + r);
      }
    }
  }
  return motion.frames[view] = box;
}

// projection gives where a place is seen, in cm to the right and up, and how near it is.
export function projection(turnDegrees) {
  const turn = turnDegrees * Math.PI / 180;
  const sin = Math.sin(turn), cos = Math.cos(turn), down = Math.sin(lookDown), level = Math.cos(lookDown);
  return (x, y, z) => {
    const depth = z * cos - x * sin;
    return [x * cos + z * sin, y * level - depth * down, depth * level + y * down];
  };
}

// Puppet draws one figure with a canvas context: at is where the middle of the ground is, scale pixels a cm.
export class Puppet {
  constructor(context, inks, at, scale, turn) {
    Object.assign(this, { context, inks, at, scale });
    this.project = projection(turn);
  }

  point(places, spot) {
    const [x, y, near] = this.project(places[spot * 3], places[spot * 3 + 1], places[spot * 3 + 2]);
    return [this.at[0] + x * this.scale, this.at[1] - y * this.scale, near];
  }

  ground(motion) {
    const c = this.context, r = 0.22 * motion.Height * this.scale;
    for (const [rim, ink] of [[0.5, this.inks.rule], [-0.5, this.inks.panel]]) {
      c.beginPath();
      c.ellipse(this.at[0], this.at[1], r + rim, r * Math.sin(lookDown) + rim, 0, 0, 2 * Math.PI);
      c.fillStyle = ink;
      c.fill();
    }
  }

  // feet draws the ground under each foot: full where the foot is planted, a rim where it is free.
  feet(motion, places, time) {
    for (const foot of motion.Feet) {
      const flat = spot => [places[spot * 3], 0, places[spot * 3 + 2]];
      const [a, b] = [foot.Heel, foot.Toe].map(spot => this.project(...flat(spot)))
        .map(([x, y]) => [this.at[0] + x * this.scale, this.at[1] - y * this.scale]);
      const r = 0.022 * motion.Height * this.scale;
      const planted = foot.Planted[sampleAt(motion, time)] === '1';
      const part = [{ a, b, r0: r, r1: r }];
      this.fill(part, this.inks.soft, 0.5);
      if (!planted) this.fill(part, this.inks.panel, -0.5);
    }
  }

  // body draws the limbs, the farther ones first; what is one piece of paper has no rim within.
  body(motion, places, ink) {
    const pieces = [], groups = {}, rim = Math.max(1, 0.006 * motion.Height * this.scale);
    for (const bone of motion.Bones) {
      const a = this.point(places, bone.From), b = this.point(places, bone.To);
      const part = { a, b, r0: bone.R0 * this.scale, r1: bone.R1 * this.scale, ink: ink ?? this.inks[bone.Ink], eye: bone.Eye };
      const near = (a[2] + b[2]) / 2 + bone.Over;
      if (bone.Eye) {
        if (b[2] - a[2] > 0.35 * 0.012 * motion.Height) pieces.push({ near: near + 0.05 * motion.Height, parts: [part] });
      } else if (bone.Group) {
        const group = groups[bone.Group] ??= { sum: 0, parts: [] };
        group.sum += near;
        group.parts.push(part);
      } else {
        pieces.push({ near, parts: [part] });
      }
    }
    for (const group of Object.values(groups)) pieces.push({ near: group.sum / group.parts.length, parts: group.parts });
    pieces.sort((p, q) => p.near - q.near);
    for (const { parts } of pieces) {
      this.fill(parts.filter(part => !part.eye), this.inks.paper, rim);
      for (const ink of new Set(parts.map(part => part.ink))) this.fill(parts.filter(part => part.ink === ink), ink);
    }
  }

  // outline draws the figure as a shape with a rim, to stand behind another one.
  outline(motion, places) {
    const parts = motion.Bones.filter(bone => !bone.Eye).map(bone => ({
      a: this.point(places, bone.From), b: this.point(places, bone.To), r0: bone.R0 * this.scale, r1: bone.R1 * this.scale,
    }));
    this.fill(parts, this.inks.soft, 1.5);
    this.fill(parts, this.inks.panel);
  }

  // arc draws the way of a spot through the whole motion, a dot a sample and a larger one on each beat.
  arc(motion, spot) {
    const c = this.context, beat = motion.Beat / motion.Step;
    c.strokeStyle = c.fillStyle = this.inks.trace;
    c.lineWidth = 1;
    const way = [];
    for (let i = 0; i < motion.Count; i++) way.push(this.point(motion.places.subarray(i * motion.stride, (i + 1) * motion.stride), spot));
    c.beginPath();
    way.forEach(([x, y], i) => i ? c.lineTo(x, y) : c.moveTo(x, y));
    if (motion.Closed) c.closePath();
    c.stroke();
    way.forEach(([x, y], i) => {
      const onBeat = Math.abs(i / beat - Math.round(i / beat)) * beat < 0.5;
      c.beginPath();
      c.arc(x, y, onBeat ? 3.5 : 1.5, 0, 2 * Math.PI);
      c.fill();
    });
  }

  // fill fills several parts as one piece, larger by a rim all round: a rim that is drawn as a line takes software several times
  // as long. All parts go round in the same direction, so that where they overlap is inside.
  fill(parts, ink, rim = 0) {
    this.context.beginPath();
    for (const { a, b, r0, r1 } of parts) this.hull(a, b, Math.max(0, r0 + rim), Math.max(0, r1 + rim));
    this.context.fillStyle = ink;
    this.context.fill();
  }

  // hull adds the way round two circles to the path.
  hull([ax, ay], [bx, by], r0, r1) {
    const c = this.context, apart = Math.hypot(bx - ax, by - ay);
    if (apart <= Math.abs(r0 - r1) + 1e-9) {
      const [x, y, r] = r0 >= r1 ? [ax, ay, r0] : [bx, by, r1];
      c.moveTo(x + r, y);
      c.arc(x, y, r, 0, 2 * Math.PI);
      c.closePath();
      return;
    }
    const along = Math.atan2(by - ay, bx - ax), spread = Math.acos((r0 - r1) / apart);
    c.moveTo(bx + r1 * Math.cos(along - spread), by + r1 * Math.sin(along - spread));
    this.round(bx, by, r1, along - spread, along + spread);
    this.round(ax, ay, r0, along + spread, along - spread + 2 * Math.PI);
    c.closePath();
  }

  // round goes along a circle in straight steps that stay within a tenth of a pixel of it.
  round(x, y, r, from, to) {
    const steps = Math.max(3, Math.ceil((to - from) / (2 * Math.acos(Math.max(0, 1 - 0.1 / Math.max(r, 0.2))))));
    for (let i = 0; i <= steps; i++) {
      const at = from + (to - from) * i / steps;
      this.context.lineTo(x + r * Math.cos(at), y + r * Math.sin(at));
    }
  }
}
