// The pose of a glTF clip by the GLTFLoader and AnimationMixer of `three`. Request: {path, clip, at: [s…]}, with seconds
// on the file's own clock; answer: for each time, for each node of the file, [x, y, z, qx, qy, qz, qw], its place in the
// world in metres and its own turn. A list of requests gets a list of answers.
import { Vector3 } from "three";
import { answer } from "./ask.mjs";
import { play } from "./play.mjs";

answer(async (request) => (Array.isArray(request) ? Promise.all(request.map(played)) : played(request)));

async function played({ path, clip, at }) {
  const { nodes, to } = await play({ path, clip });
  const place = new Vector3();
  return at.map((seconds) => {
    to(seconds);
    return nodes.map((node) => {
      place.setFromMatrixPosition(node.matrixWorld);
      return [...place.toArray(), ...node.quaternion.toArray()];
    });
  });
}
