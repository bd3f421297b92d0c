// Monotone cubics by the curveMonotoneX of `d3-shape`. Request: [[[x, y]…]…]; answer: for each curve its segments as Bézier
// control points [x0, y0, x1, y1, x2, y2, x3, y3]. Its slopes at the two ends are not M. Steffen's; those between are.
import { curveMonotoneX } from "d3-shape";
import { answer } from "./ask.mjs";

function segments(points) {
  const found = [];
  let x = 0;
  let y = 0;
  const move = (toX, toY) => ([x, y] = [toX, toY]);
  const curve = curveMonotoneX({
    moveTo: move,
    lineTo: move,
    bezierCurveTo(...rest) {
      found.push([x, y, ...rest]);
      move(rest[4], rest[5]);
    },
  });
  curve.lineStart();
  for (const point of points) curve.point(...point);
  curve.lineEnd();
  return found;
}

answer((curves) => curves.map(segments));
