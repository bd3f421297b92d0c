// Validates SARIF logs with `ajv` against the OASIS schema (2.1.0-rtm.5) that `@microsoft/jest-sarif` carries.
// Request: [text…]; answer: [[fault…]…].
import { readFileSync } from "node:fs";
import { createRequire } from "node:module";
import Ajv from "ajv-draft-04";
import addFormats from "ajv-formats";
import { answer } from "./ask.mjs";

const require = createRequire(import.meta.url);
const home = require.resolve("@microsoft/jest-sarif");
const schema = JSON.parse(readFileSync(new URL("schemas/sarif-2.1.0-rtm.5.json", `file://${home}`), "utf8"));
const ajv = new Ajv({ strict: false, allErrors: true, unicodeRegExp: false });
addFormats(ajv);
const validate = ajv.compile(schema);

answer((texts) =>
  texts.map((text) => (validate(JSON.parse(text)) ? [] : validate.errors.map((e) => `${e.instancePath} ${e.message}`))),
);
