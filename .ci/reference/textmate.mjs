// Colours by VS Code's own `vscode-textmate`. Request: {grammar: text of a .tmLanguage.json, texts: [lines…][]}; answer: for
// each text, for each line, [start, end, innermost scope][], in UTF-16 units.
import { readFileSync } from "node:fs";
import { createRequire } from "node:module";
import { answer } from "./ask.mjs";

const require = createRequire(import.meta.url);
const textmate = require("vscode-textmate");
const oniguruma = require("vscode-oniguruma");

answer(async ({ grammar, texts }) => {
  await oniguruma.loadWASM(readFileSync(require.resolve("vscode-oniguruma/release/onig.wasm")).buffer);
  const registry = new textmate.Registry({
    onigLib: Promise.resolve({
      createOnigScanner: (patterns) => new oniguruma.OnigScanner(patterns),
      createOnigString: (text) => new oniguruma.OnigString(text),
    }),
    loadGrammar: async () => textmate.parseRawGrammar(grammar, "motet.json"),
  });
  const loaded = await registry.loadGrammar("source.motet");
  return texts.map((lines) => {
    let state = textmate.INITIAL;
    return lines.map((line) => {
      const result = loaded.tokenizeLine(line, state);
      state = result.ruleStack;
      return result.tokens.map((t) => [t.startIndex, t.endIndex, t.scopes.at(-1)]);
    });
  });
});
