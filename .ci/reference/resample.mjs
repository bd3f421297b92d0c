// Keys that a clip can do without, by the resample of `@gltf-transform/functions`. Request: [{times: [s…], values: [v…],
// interpolation: "LINEAR" or "STEP"}…]; answer: [[the times of the keys that are left…]…].
import { Document } from "@gltf-transform/core";
import { resample } from "@gltf-transform/functions";
import { answer } from "./ask.mjs";

answer(async (tracks) => {
  const document = new Document();
  const buffer = document.createBuffer();
  const animation = document.createAnimation();
  const samplers = tracks.map(({ times, values, interpolation }) => {
    const input = document.createAccessor().setArray(new Float32Array(times)).setBuffer(buffer);
    const output = document.createAccessor().setType("VEC3").setBuffer(buffer);
    output.setArray(new Float32Array(values.flatMap((v) => [v, 0, 0])));
    const sampler = document.createAnimationSampler().setInput(input).setOutput(output).setInterpolation(interpolation);
    const channel = document.createAnimationChannel().setTargetNode(document.createNode()).setTargetPath("translation");
    animation.addSampler(sampler).addChannel(channel.setSampler(sampler));
    return sampler;
  });
  await document.transform(resample({ tolerance: 1e-4, cleanup: false }));
  return samplers.map((sampler) => Array.from(sampler.getInput().getArray()));
});
