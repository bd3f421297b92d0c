// The pose of a glTF clip by the GLTFLoader and AnimationMixer of `three`. Request: {path, clip, at: [s…]}, with seconds
// on the file's own clock; answer: for each time, for each node of the file, [x, y, z, qx, qy, qz, qw], its place in the
// world in metres and its own turn. A list of requests gets a list of answers.
import { readFileSync } from "node:fs";
import { AnimationMixer, LoopOnce, Vector3 } from "three";
import { MeshoptDecoder } from "three/addons/libs/meshopt_decoder.module.js";
import { GLTFLoader } from "three/addons/loaders/GLTFLoader.js";
import { answer } from "./ask.mjs";

answer(async (request) => {
  globalThis.self ??= globalThis;
  return Array.isArray(request) ? Promise.all(request.map(played)) : played(request);
});

async function played({ path, clip, at }) {
  const file = readFileSync(path);
  const buffer = file.buffer.slice(file.byteOffset, file.byteOffset + file.byteLength);
  const gltf = await new GLTFLoader().setMeshoptDecoder(MeshoptDecoder).parseAsync(buffer, "");
  const nodes = await Promise.all(gltf.parser.json.nodes.map((_, i) => gltf.parser.getDependency("node", i)));
  const mixer = new AnimationMixer(gltf.scene);
  const action = mixer.clipAction(gltf.animations[clip]);
  action.setLoop(LoopOnce, 1);
  action.clampWhenFinished = true;
  action.play();
  const place = new Vector3();
  return at.map((seconds) => {
    action.reset();
    mixer.setTime(seconds);
    gltf.scene.updateMatrixWorld(true);
    return nodes.map((node) => {
      place.setFromMatrixPosition(node.matrixWorld);
      return [...place.toArray(), ...node.quaternion.toArray()];
    });
  });
}
