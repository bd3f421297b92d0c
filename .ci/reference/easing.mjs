// Cubic Bézier easings by `bezier-easing`. Request: [{ease: [x1, y1, x2, y2], at: [x…]}…]; answer: [[y…]…].
import bezier from "bezier-easing";
import { answer } from "./ask.mjs";

answer((requests) => requests.map(({ ease, at }) => at.map(bezier(...ease))));
