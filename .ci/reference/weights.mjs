// The weights of morph targets in a glTF clip by the GLTFLoader and AnimationMixer of `three`. Request: a list of {path,
// clip, at: [s…]}; answer: for each, for each time, for each node of the file, the weights of its mesh's targets, and none
// for a node without any.
import { answer } from "./ask.mjs";
import { play } from "./play.mjs";

answer(async (requests) => Promise.all(requests.map(weighed)));

async function weighed({ path, clip, at }) {
  const { nodes, to } = await play({ path, clip });
  return at.map((seconds) => {
    to(seconds);
    return nodes.map((node) => [...(node.morphTargetInfluences ?? [])]);
  });
}
