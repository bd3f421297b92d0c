// What the Khronos glTF validator says of files. Request: {paths}; answer: for each, [{severity, code, message, pointer}],
// where severity is 0 for an error, 1 for a warning, 2 for information and 3 for a hint.
import { readFileSync } from "node:fs";
import validator from "gltf-validator";
import { answer } from "./ask.mjs";

answer(({ paths }) =>
  Promise.all(
    paths.map(async (path) => {
      const report = await validator.validateBytes(new Uint8Array(readFileSync(path)));
      return report.issues.messages.map(({ severity, code, message, pointer }) => ({ severity, code, message, pointer }));
    }),
  ),
);
