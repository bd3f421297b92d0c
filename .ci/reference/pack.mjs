// What a build makes of a glTF file, by `@gltf-transform` and `meshoptimizer`. Request: [{path, out, tolerance, bits,
// meshopt}…]: the file is read from path and written to out, its clips without the keys that resample finds redundant at a
// tolerance (0 for as they are), its turns as normalised integers of so many bits (0 for as they are), and its bytes packed
// by EXT_meshopt_compression with a method, "quantize" or "filter" (empty for as they are). Answer: [{keys, ms}…]: the keys
// of all samplers that are left, and the milliseconds that resample took.
import { NodeIO } from "@gltf-transform/core";
import { ALL_EXTENSIONS, EXTMeshoptCompression } from "@gltf-transform/extensions";
import { resample } from "@gltf-transform/functions";
import { MeshoptDecoder, MeshoptEncoder } from "meshoptimizer";
import { answer } from "./ask.mjs";

answer(async (requests) => {
  const answers = [];
  for (const request of requests) answers.push(await packed(request));
  return answers;
});

async function packed({ path, out, tolerance, bits, meshopt }) {
  await Promise.all([MeshoptDecoder.ready, MeshoptEncoder.ready]);
  const io = new NodeIO().registerExtensions(ALL_EXTENSIONS).registerDependencies({ "meshopt.decoder": MeshoptDecoder, "meshopt.encoder": MeshoptEncoder });
  const document = await io.read(path);
  const start = performance.now();
  if (tolerance) await document.transform(resample({ tolerance, cleanup: false }));
  const ms = performance.now() - start;
  if (bits) quantise(document, bits);
  if (meshopt) document.createExtension(EXTMeshoptCompression).setRequired(true).setEncoderOptions({ method: meshopt });
  if (out) await io.write(out, document);
  const samplers = document.getRoot().listAnimations().flatMap((clip) => clip.listSamplers());
  return { keys: samplers.reduce((sum, sampler) => sum + sampler.getInput().getCount(), 0), ms };
}

// Turns may be normalised integers (glTF 2.0 specification, section on animations); everything else of a clip must not.
function quantise(document, bits) {
  const done = new Set();
  for (const clip of document.getRoot().listAnimations()) {
    for (const channel of clip.listChannels()) {
      const output = channel.getSampler().getOutput();
      if (channel.getTargetPath() !== "rotation" || channel.getSampler().getInterpolation() === "CUBICSPLINE" || done.has(output)) continue;
      done.add(output);
      const full = 2 ** (bits - 1) - 1;
      const Numbers = bits > 8 ? Int16Array : Int8Array;
      output.setArray(Numbers.from(output.getArray(), (v) => Math.round(v * full))).setNormalized(true);
    }
  }
}
