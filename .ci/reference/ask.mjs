// Reads one JSON request from standard input and writes the answer to standard output: the protocol of all the scripts here.
import { readFileSync, writeFileSync } from "node:fs";

export function answer(solve) {
  const request = JSON.parse(readFileSync(0, "utf8"));
  Promise.resolve(solve(request)).then((result) => writeFileSync(1, JSON.stringify(result)));
}
