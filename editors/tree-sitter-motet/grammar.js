// The tree-sitter grammar of motion sheets, made of words.json, which `go test ./editors/colours -update` writes from the
// language's own tables. Every text parses: an atom of no class is a node `wrong`, since the language server says what is
// wrong with it. A line is read by the words of its own block, so that a control may be named `sheet`.
//
// src/parser.c is made by Debian 13's tree-sitter 0.22.6: `tree-sitter generate --no-bindings`.
const words = require("./words.json");

const atoms = words.atoms;
const kinds = [...new Set(atoms.map((a) => a.name))];
const openers = words.blocks.map((b) => b.word);

// A word of the language as a node, with the white space behind it. It wins over the same word as a name.
const word = ($, node, list) => prec.right(5, seq(choice(...list.map((w) => alias(w, $[node]))), optional($._space)));

// The words of a line behind its first, and atoms.
const rest = ($, line) =>
  line.clauses || line.choices
    ? repeat(choice(...(line.clauses ? [word($, "clause_word", line.clauses)] : []), ...(line.choices ? [word($, "choice_word", line.choices)] : []), $._atom))
    : optional($._atoms);

const rules = {
  source_file: ($) => seq(optional($._loose), repeat(seq($._newline, optional($._loose))), repeat(choice(...openers.map((w) => $[w + "_block"])))),

  // A line above the first block.
  _loose: ($) => choice($._blank, seq($._space, alias($._plain, $.stray)), alias($._plain_front, $.stray)),
  // A line of white space or a comment, but for an empty one.
  _blank: ($) => prec.right(choice($._space, seq(optional($._space), $.comment))),
  _plain: ($) => prec.right(seq($._atoms, optional($.comment))),
  // A line in column 1 that opens no block belongs to the block above.
  _plain_front: ($) => prec.right(seq($._front, optional($._space), optional($._atoms), optional($.comment))),

  _atoms: ($) => prec.right(repeat1($._atom)),
  _atom: ($) => prec.right(2, seq(choice($._front, ...openers.map((w) => alias(w, $.name))), optional($._space))),
  _front: ($) => choice(...kinds.map((k) => $[k]), $.text, $.wrong),

  _title: ($) => choice(...[...kinds, "text", "wrong"].map((k) => alias($[k], $.title)), ...openers.map((w) => alias(w, $.title))),

  _newline: () => /\r?\n/,
  _space: () => /[ \t]+/,
  comment: () => /#[^\r\n]*/,
  text: () => /"[^"\r\n]*"/,
};

for (const b of words.blocks) {
  const begins = (b.lines ?? []).map((line) => line.word);
  const first = ($) => seq(choice($._front, ...openers.filter((w) => !begins.includes(w)).map((w) => alias(w, $.name))), optional($._space));
  const then = ($) => optional($._space);
  rules[b.word + "_opener"] = ($) => prec.right(seq(
    alias(b.word, $.block_word), then($),
    b.titled
      ? optional(seq(choice($._title, ...(b.opener.clauses ?? []).map((w) => alias(w, $.title))), then($), rest($, b.opener)))
      : rest($, b.opener),
    optional($.comment)));
  rules["_" + b.word + "_line"] = ($) => prec.right(seq($._space, choice(
    ...(b.lines ?? []).map((line) => alias(prec.right(seq(word($, "entry_word", [line.word]), rest($, line))), $.entry)),
    b.table ? alias($["_" + b.word + "_cells"], $.row) : alias(prec.right(seq(first($), rest($, b.plain))), $.entry)), optional($.comment)));
  if (b.table) {
    const cells = b.choices ? ($) => repeat1(choice(word($, "choice_word", b.choices), $._atom)) : ($) => repeat1($._atom);
    let row = cells;
    for (let i = 0; i < b.names; i++) {
      const behind = row;
      row = ($) => seq($._atom, optional(behind($)));
    }
    rules["_" + b.word + "_cells"] = ($) => prec.right(row($));
    const column = ($) => word($, "column_word", b.channels ? [...new Set([...b.columns, ...openers]), $.name] : b.columns);
    const other = ($) => (b.channels ? seq(choice(...kinds.filter((k) => k !== "name").map((k) => $[k]), $.text, $.wrong), then($)) : $._atom);
    rules["_" + b.word + "_head"] = ($) => prec.right(seq($._space, alias(prec.right(repeat1(choice(column($), other($)))), $.columns), optional($.comment)));
  }
  const line = ($) => choice($._blank, $["_" + b.word + "_line"], alias($._plain_front, $.stray));
  rules[b.word + "_block"] = ($) => prec.right(b.table
    ? seq($[b.word + "_opener"], repeat(seq($._newline, optional(choice($._blank, alias($._plain_front, $.stray))))),
      optional(seq($._newline, $["_" + b.word + "_head"], repeat(seq($._newline, optional(line($)))))))
    : seq($[b.word + "_opener"], repeat(seq($._newline, optional(line($))))));
}

// Of two tokens of one length the first counts, and 72f is a time before it is a quantity.
for (const kind of ["time", ...kinds.filter((k) => k !== "time")]) {
  rules[kind] = () => token(choice(...atoms.filter((a) => a.name === kind).map((a) => new RegExp(a.expression, "u"))));
}
// What fits no class, a quote without its end, and what is no line end.
rules.wrong = () => token(prec(-1, choice(/[^ \t\r\n#"]+/, /"[^"\r\n]*/, /\r/)));

module.exports = grammar({ name: "motet", extras: () => [], word: ($) => $.name, rules });
