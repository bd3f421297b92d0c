// Motion sheets in VS Code. The language server does the work; this starts it, says how to get it when it is missing, and
// adds what a server can't: commands, a status item and a task.
import * as vscode from "vscode";
import { ExecuteCommandRequest, LanguageClient, State } from "vscode-languageclient/node";
import { exportClip } from "./clip";
import { findProgram, offerHelp } from "./program";
import { RulePages } from "./rules";
import { StatusItem } from "./status";
import { checkTask, checkTasks } from "./tasks";

let client: LanguageClient | undefined;

export async function activate(context: vscode.ExtensionContext): Promise<void> {
  const status = new StatusItem(() => client);
  const rules = new RulePages(() => client);
  context.subscriptions.push(
    status,
    rules,
    vscode.tasks.registerTaskProvider("motet", checkTasks),
    vscode.commands.registerCommand("motet.restart", restart),
    vscode.commands.registerCommand("motet.showOutput", () => client?.outputChannel.show()),
    vscode.commands.registerCommand("motet.check", check),
    vscode.commands.registerCommand("motet.explain", () => explain(rules)),
    vscode.commands.registerCommand("motet.showMotion", showMotion),
    vscode.commands.registerCommand("motet.newSheet", newSheet),
    vscode.commands.registerCommand("motet.export", () => exportClip(client)),
    vscode.workspace.onDidChangeConfiguration((change) => {
      if (change.affectsConfiguration("motet.path") || change.affectsConfiguration("motet.hoverPictures")) void restart();
    }),
  );
  await start();

  async function restart(): Promise<void> {
    await client?.dispose();
    client = undefined;
    await start();
  }

  async function start(): Promise<void> {
    const program = await findProgram();
    status.setProgram(program);
    if (!program) {
      void offerHelp();
      return;
    }
    const settings = vscode.workspace.getConfiguration("motet");
    client = new LanguageClient("motet", "Motet", { command: program, args: ["serve"] }, {
      documentSelector: [{ language: "motet" }],
      initializationOptions: { hoverPictures: settings.get<boolean>("hoverPictures", false) },
      synchronize: { fileEvents: vscode.workspace.createFileSystemWatcher("**/*.motet") },
    });
    client.registerFeature(rules);
    client.onDidChangeState((change) => {
      if (change.newState === State.Running) status.update();
    });
    await client.start();
  }
}

export async function deactivate(): Promise<void> {
  await client?.dispose();
}

async function check(): Promise<void> {
  if (!(await findProgram())) return offerHelp();
  await vscode.tasks.executeTask(await checkTask({ type: "motet" }));
}

// explain shows what a rule looks for, by default the one reported where the cursor is.
async function explain(rules: RulePages): Promise<void> {
  const editor = vscode.window.activeTextEditor;
  const here = editor && vscode.languages.getDiagnostics(editor.document.uri).find((d) => d.range.intersection(editor.selection));
  const rule = await vscode.window.showInputBox({
    prompt: "The rule's name, as a report shows it",
    value: typeof here?.code === "object" ? String(here.code.value) : String(here?.code ?? ""),
  });
  if (rule) await rules.show(rule.trim());
}

// showMotion opens the page that plays the sheet, at the moment of the row where the cursor is; it follows what is typed.
async function showMotion(): Promise<void> {
  const editor = vscode.window.activeTextEditor;
  if (!client?.isRunning() || editor?.document.languageId !== "motet") {
    void vscode.window.showInformationMessage("Open a motion sheet first; the page plays the one where the cursor is.");
    return;
  }
  const { line, character } = editor.selection.active;
  await client.sendRequest(ExecuteCommandRequest.type, {
    command: "motet.showPage", arguments: [client.code2ProtocolConverter.asUri(editor.document.uri), { line, character }],
  });
}

// newSheet makes a folder to begin in and opens its first sheet.
async function newSheet(): Promise<void> {
  const chosen = vscode.workspace.workspaceFolders?.[0]?.uri
    ?? (await vscode.window.showOpenDialog({ canSelectFolders: true, canSelectFiles: false, openLabel: "Begin here" }))?.[0];
  if (!chosen) return;
  const who = await vscode.window.showInputBox({ prompt: "Whom is the first sheet about?", value: "keeper" });
  if (!who) return;
  await runInTerminal(["init", "--yes", "--name", who, "."], chosen);
}

async function runInTerminal(args: string[], cwd?: vscode.Uri): Promise<void> {
  const program = await findProgram();
  if (!program) return offerHelp();
  const task = new vscode.Task({ type: "motet" }, vscode.TaskScope.Workspace, args[0], "motet",
    new vscode.ProcessExecution(program, args, cwd ? { cwd: cwd.fsPath } : undefined));
  task.presentationOptions = { clear: true };
  await vscode.tasks.executeTask(task);
}
