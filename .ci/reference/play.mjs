// A glTF clip as the GLTFLoader and AnimationMixer of `three` play it, once and to its end: {scene, nodes, to(seconds)}, where
// nodes are those of the file in its order, and `to` moves all of them to a time on the file's own clock.
import { readFileSync } from "node:fs";
import { AnimationMixer, LoopOnce } from "three";
import { MeshoptDecoder } from "three/addons/libs/meshopt_decoder.module.js";
import { GLTFLoader } from "three/addons/loaders/GLTFLoader.js";

globalThis.self ??= globalThis;
globalThis.ProgressEvent ??= class extends Event {}; // which three tells of while it reads numbers that are written as text

export async function play({ path, clip }) {
  const file = readFileSync(path);
  const buffer = file.buffer.slice(file.byteOffset, file.byteOffset + file.byteLength);
  const gltf = await new GLTFLoader().setMeshoptDecoder(MeshoptDecoder).parseAsync(buffer, "");
  const nodes = await Promise.all(gltf.parser.json.nodes.map((_, i) => gltf.parser.getDependency("node", i)));
  const mixer = new AnimationMixer(gltf.scene);
  const action = mixer.clipAction(gltf.animations[clip]);
  action.setLoop(LoopOnce, 1);
  action.clampWhenFinished = true;
  action.play();
  const to = (seconds) => {
    action.reset();
    mixer.setTime(seconds);
    gltf.scene.updateMatrixWorld(true);
  };
  return { scene: gltf.scene, nodes, to };
}
