// Where the program motet is, and what to say when it is nowhere.
import { constants, promises as fs } from "node:fs";
import * as path from "node:path";
import * as vscode from "vscode";

// found is the last program that was found on the PATH.
let found: string | undefined;

// findProgram gives the path of motet: what the setting says, or the first one on the PATH. It is undefined where there is
// none that can be run. VS Code puts the PATH of a login shell in the place of its own some time after it has started, and
// that one may lack a program that was there before: then it is still where it was.
export async function findProgram(): Promise<string | undefined> {
  const set = vscode.workspace.getConfiguration("motet").get<string>("path", "").trim();
  if (set) return (await runs(set)) ? set : undefined;
  found = (await onThePath()) ?? (found && (await runs(found)) ? found : undefined);
  return found;
}

async function onThePath(): Promise<string | undefined> {
  const endings = process.platform === "win32" ? [".exe"] : [""];
  for (const folder of (process.env.PATH ?? "").split(path.delimiter).filter(Boolean)) {
    for (const ending of endings) {
      const file = path.join(folder, "motet" + ending);
      if (await runs(file)) return file;
    }
  }
  return undefined;
}

async function runs(file: string): Promise<boolean> {
  return fs.access(file, constants.X_OK).then(() => true, () => false);
}

const install = "go install -tags netgo,osusergo ./cmd/motet";

// offerHelp says how to get motet, and takes whoever reads it there.
export async function offerHelp(): Promise<void> {
  const set = vscode.workspace.getConfiguration("motet").get<string>("path", "").trim();
  const where = set ? `There is no program at "${set}", where the setting motet.path has it.` : "The program motet is not on the PATH.";
  const copy = "Copy the Command", settings = "Say Where It Is", retry = "Try Again";
  const answer = await vscode.window.showWarningMessage(
    `${where} Motion sheets get colours only. To install it, run \`${install}\` in motet's folder.`, copy, settings, retry);
  if (answer === copy) await vscode.env.clipboard.writeText(install);
  if (answer === settings) await vscode.commands.executeCommand("workbench.action.openSettings", "motet.path");
  if (answer === retry) await vscode.commands.executeCommand("motet.restart");
}
