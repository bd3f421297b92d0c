// The weights of morph targets in a glTF clip by the GLTFLoader and AnimationMixer of `three`. Request: a list of {path,
// clip, at: [s…]}; answer: for each, for each time, for each node of the file, the weights of its mesh's targets, and none
// for a node without any.
import { readFileSync } from "node:fs";
import { AnimationMixer, LoopOnce } from "three";
import { GLTFLoader } from "three/addons/loaders/GLTFLoader.js";
import { answer } from "./ask.mjs";

answer(async (requests) => {
  globalThis.self ??= globalThis;
  globalThis.ProgressEvent ??= class extends Event {}; // which three tells of while it reads numbers that are written as text
  return Promise.all(requests.map(weighed));
});

async function weighed({ path, clip, at }) {
  const file = readFileSync(path);
  const buffer = file.buffer.slice(file.byteOffset, file.byteOffset + file.byteLength);
  const gltf = await new GLTFLoader().parseAsync(buffer, "");
  const nodes = await Promise.all(gltf.parser.json.nodes.map((_, i) => gltf.parser.getDependency("node", i)));
  const mixer = new AnimationMixer(gltf.scene);
  const action = mixer.clipAction(gltf.animations[clip]);
  action.setLoop(LoopOnce, 1);
  action.clampWhenFinished = true;
  action.play();
  return at.map((seconds) => {
    action.reset();
    mixer.setTime(seconds);
    return nodes.map((node) => [...(node.morphTargetInfluences ?? [])]);
  });
}
