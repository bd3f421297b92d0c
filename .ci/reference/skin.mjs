// Where the vertices of a skinned character are as its own clip plays, by the GLTFLoader and AnimationMixer of `three`.
// Request: {path, clip, at: [s…]}; answer: for each time, [x, y, z] of every vertex of every skinned mesh, in metres.
import { readFileSync } from "node:fs";
import { AnimationMixer, LoopOnce, Vector3 } from "three";
import { GLTFLoader } from "three/addons/loaders/GLTFLoader.js";
import { answer } from "./ask.mjs";

answer(async ({ path, clip, at }) => {
  globalThis.self ??= globalThis;
  globalThis.ProgressEvent ??= class extends Event {}; // which three tells of while it reads numbers that are written as text
  const file = readFileSync(path);
  const gltf = await new GLTFLoader().parseAsync(file.buffer.slice(file.byteOffset, file.byteOffset + file.byteLength), "");
  const mixer = new AnimationMixer(gltf.scene);
  const action = mixer.clipAction(gltf.animations[clip]);
  action.setLoop(LoopOnce, 1);
  action.clampWhenFinished = true;
  action.play();
  return at.map((seconds) => {
    action.reset();
    mixer.setTime(seconds);
    gltf.scene.updateMatrixWorld(true);
    const places = [];
    gltf.scene.traverse((mesh) => {
      if (!mesh.isSkinnedMesh) return;
      for (let i = 0; i < mesh.geometry.attributes.position.count; i++) {
        places.push(...mesh.getVertexPosition(i, new Vector3()).applyMatrix4(mesh.matrixWorld).toArray());
      }
    });
    return places;
  });
});
