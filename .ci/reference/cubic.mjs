// glTF 2.0 CUBICSPLINE by the GLTFLoader of `three`. Request: [{times: [s…], values: [in, value, out, in…], at: [s…]}…];
// answer: [[value…]…]. The loader does not export its interpolant, so a small clip is loaded to reach it, and then given
// the request's numbers in double precision.
import { GLTFLoader } from "three/addons/loaders/GLTFLoader.js";
import { answer } from "./ask.mjs";

// One node that moves by two CUBICSPLINE keys: two times, then two triples of three components.
function clip() {
  const data = new Float32Array([0, 1, ...new Array(18).fill(0)]);
  const json = JSON.stringify({
    asset: { version: "2.0" },
    scene: 0,
    scenes: [{ nodes: [0] }],
    nodes: [{}],
    buffers: [{ byteLength: data.byteLength }],
    bufferViews: [{ buffer: 0, byteLength: 8 }, { buffer: 0, byteOffset: 8, byteLength: 72 }],
    accessors: [
      { bufferView: 0, componentType: 5126, count: 2, type: "SCALAR", min: [0], max: [1] },
      { bufferView: 1, componentType: 5126, count: 6, type: "VEC3" },
    ],
    animations: [
      {
        samplers: [{ input: 0, output: 1, interpolation: "CUBICSPLINE" }],
        channels: [{ sampler: 0, target: { node: 0, path: "translation" } }],
      },
    ],
  });
  return glb(json.padEnd(Math.ceil(json.length / 4) * 4), data);
}

function glb(json, data) {
  const length = 12 + 8 + json.length + 8 + data.byteLength;
  const file = new ArrayBuffer(length);
  const view = new DataView(file);
  const words = [0x46546c67, 2, length, json.length, 0x4e4f534a];
  words.forEach((word, i) => view.setUint32(4 * i, word, true));
  new Uint8Array(file, 20).set(new TextEncoder().encode(json));
  view.setUint32(20 + json.length, data.byteLength, true);
  view.setUint32(24 + json.length, 0x004e4942, true);
  new Uint8Array(file, 28 + json.length).set(new Uint8Array(data.buffer));
  return file;
}

answer(async (requests) => {
  globalThis.self ??= globalThis;
  const loaded = await new GLTFLoader().parseAsync(clip(), "");
  const Interpolant = loaded.animations[0].tracks[0].createInterpolant(new Float32Array(3)).constructor;
  return requests.map(({ times, values, at }) => {
    const interpolant = new Interpolant(Float64Array.from(times), Float64Array.from(values), 1, new Float64Array(1));
    return at.map((t) => interpolant.evaluate(t)[0]);
  });
});
