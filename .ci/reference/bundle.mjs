// What the live page needs of `three`, in one module with its licence: server/watch/model.js, bundled. The request is empty;
// the answer is the text of server/watch/model.bundle.js, which `MOTET_UPDATE=1 go test ./server/watch -run Bundle` writes.
import { readFileSync } from "node:fs";
import { fileURLToPath } from "node:url";
import { build } from "esbuild";
import { answer } from "./ask.mjs";

const here = (path) => fileURLToPath(new URL(path, import.meta.url));

answer(async () => {
  const { version } = JSON.parse(readFileSync(here("node_modules/three/package.json"), "utf8"));
  const licence = readFileSync(here("node_modules/three/LICENSE"), "utf8").replaceAll("\r", "").trim();
  const { outputFiles } = await build({
    entryPoints: [here("../../server/watch/model.js")], bundle: true, minify: true, format: "esm", target: "es2022", write: false,
    legalComments: "none", charset: "utf8", nodePaths: [here("node_modules")],
    banner: { js: `/*! model.js and three ${version}, bundled; see .ci/reference/bundle.mjs.\n\nthree:\n${licence}\n*/` },
  });
  return outputFiles[0].text;
});
