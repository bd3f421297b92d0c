// The status item: how long the sheet is and whether its seam closes, as the server tells it above the sheet's first line.
import * as vscode from "vscode";
import { CodeLensRequest, LanguageClient } from "vscode-languageclient/node";

export class StatusItem implements vscode.Disposable {
  private readonly item = vscode.window.createStatusBarItem("motet.sheet", vscode.StatusBarAlignment.Right, 90);
  private readonly parts: vscode.Disposable[];
  private waiting: NodeJS.Timeout | undefined;
  private missing = false;

  constructor(private readonly client: () => LanguageClient | undefined) {
    this.item.name = "Motet: length and seam";
    this.parts = [
      this.item,
      vscode.window.onDidChangeActiveTextEditor(() => this.update()),
      vscode.workspace.onDidChangeTextDocument((change) => {
        if (change.document === vscode.window.activeTextEditor?.document) this.update();
      }),
      vscode.workspace.onDidChangeConfiguration((change) => {
        if (change.affectsConfiguration("motet.statusItem")) this.update();
      }),
    ];
  }

  setProgram(program: string | undefined): void {
    this.missing = !program;
    this.update();
  }

  // update asks once the hand has rested: while it types, what is told would be out of date at once.
  update(): void {
    clearTimeout(this.waiting);
    this.waiting = setTimeout(() => void this.ask(), 300);
  }

  private async ask(): Promise<void> {
    const document = vscode.window.activeTextEditor?.document;
    const wanted = vscode.workspace.getConfiguration("motet").get<boolean>("statusItem", true);
    if (!wanted || document?.languageId !== "motet") return this.item.hide();
    if (this.missing) {
      this.show("$(warning) motet is missing", "The program motet can't be found. Click to try again.", "motet.restart");
      return;
    }
    const client = this.client();
    if (!client?.isRunning()) return this.item.hide();
    const version = document.version;
    const lenses = await client.sendRequest(CodeLensRequest.type, { textDocument: { uri: document.uri.toString() } }).catch(() => null);
    if (version !== document.version || document !== vscode.window.activeTextEditor?.document) return;
    const lens = lenses?.find((l) => l.command && document.lineAt(l.range.start.line).text.startsWith("sheet"));
    if (!lens?.command) return this.item.hide();
    this.show(brief(lens.command.title), lens.command.title, "motet.check");
  }

  private show(text: string, tooltip: string, command: string): void {
    this.item.text = text;
    this.item.tooltip = tooltip;
    this.item.command = command;
    this.item.show();
  }

  dispose(): void {
    clearTimeout(this.waiting);
    this.parts.forEach((part) => part.dispose());
  }
}

// brief is what of the sheet's lens fits a status bar: its length, and what is said of its seam.
function brief(title: string): string {
  const parts = title.split(" · ");
  const seam = parts.find((part) => part.includes("seam"));
  const icon = !seam ? "" : seam.includes("closes") ? "$(sync) " : "$(warning) ";
  return icon + [parts[0], seam].filter(Boolean).join(" · ");
}
