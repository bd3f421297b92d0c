// Where the vertices of a skinned character are as its own clip plays, by the GLTFLoader and AnimationMixer of `three`.
// Request: {path, clip, at: [s…]}; answer: for each time, [x, y, z] of every vertex of every skinned mesh, in metres.
import { Vector3 } from "three";
import { answer } from "./ask.mjs";
import { play } from "./play.mjs";

answer(async ({ path, clip, at }) => {
  const { scene, to } = await play({ path, clip });
  return at.map((seconds) => {
    to(seconds);
    const places = [];
    scene.traverse((mesh) => {
      if (!mesh.isSkinnedMesh) return;
      for (let i = 0; i < mesh.geometry.attributes.position.count; i++) {
        places.push(...mesh.getVertexPosition(i, new Vector3()).applyMatrix4(mesh.matrixWorld).toArray());
      }
    });
    return places;
  });
});
