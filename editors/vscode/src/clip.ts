// A clip of the sheet in the editor, as it stands there, written by the server.
import * as vscode from "vscode";
import { ExecuteCommandRequest, LanguageClient, WorkDoneProgress } from "vscode-languageclient/node";

let asked = 0;

// exportClip asks where the clip goes and has the server write it, with a progress that can be stopped.
export async function exportClip(client: LanguageClient | undefined): Promise<void> {
  const document = vscode.window.activeTextEditor?.document;
  if (!client?.isRunning() || document?.languageId !== "motet") {
    void vscode.window.showWarningMessage("A clip is made of the motion sheet in the editor: open one first.");
    return;
  }
  const beside = document.isUntitled ? undefined : document.uri.with({ path: document.uri.path.replace(/\.motet$/, "") + ".glb" });
  const target = await vscode.window.showSaveDialog({ defaultUri: beside, filters: { "glTF clips": ["glb"] }, saveLabel: "Export" });
  if (!target) return;
  const workDoneToken = `motet-clip-${++asked}`;
  await vscode.window.withProgress({ location: vscode.ProgressLocation.Notification, title: "Motet", cancellable: true }, async (progress, cancel) => {
    const steps = client.onProgress(WorkDoneProgress.type, workDoneToken, (step) => {
      if (step.kind !== "end") progress.report({ message: step.message ?? (step.kind === "begin" ? step.title : undefined) });
    });
    try {
      const params = { command: "motet.exportClip", arguments: [document.uri.toString(), target.toString()], workDoneToken };
      const answer = await client.sendRequest(ExecuteCommandRequest.type, params, cancel);
      void vscode.window.showInformationMessage(String(answer?.report));
    } catch (problem) {
      if (!cancel.isCancellationRequested) void vscode.window.showErrorMessage(String((problem as Error).message));
    } finally {
      steps.dispose();
    }
  });
}
