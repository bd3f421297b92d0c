// The rules' pages. The server writes them and says where they are, in each report and behind each rule's name; a client
// shows what stands there (workspace/textDocumentContent, LSP 3.18, which version 9 of the client library does not know).
import * as vscode from "vscode";
import type { ClientCapabilities, FeatureState, LanguageClient, StaticFeature } from "vscode-languageclient/node";

const scheme = "motet-rule";

export class RulePages implements StaticFeature, vscode.TextDocumentContentProvider {
  private readonly registered: vscode.Disposable;

  constructor(private readonly client: () => LanguageClient | undefined) {
    this.registered = vscode.workspace.registerTextDocumentContentProvider(scheme, this);
  }

  fillClientCapabilities(capabilities: ClientCapabilities): void {
    Object.assign((capabilities.workspace ??= {}), { textDocumentContent: {} });
  }

  initialize(): void {}

  getState(): FeatureState {
    return { kind: "static" };
  }

  clear(): void {}

  async provideTextDocumentContent(uri: vscode.Uri): Promise<string> {
    const client = this.client();
    if (!client?.isRunning()) return "The rules' pages come from the language server, which does not run.\n";
    const page = await client.sendRequest<{ text: string }>("workspace/textDocumentContent", { uri: uri.toString() });
    return page.text;
  }

  // show shows a rule's page as it is meant to be read.
  async show(rule: string): Promise<void> {
    const page = vscode.Uri.from({ scheme, path: `/${rule}.md` });
    try {
      await vscode.workspace.openTextDocument(page);
    } catch (fault) {
      void vscode.window.showErrorMessage(fault instanceof Error ? fault.message : String(fault));
      return;
    }
    await vscode.commands.executeCommand("markdown.showPreview", page);
  }

  dispose(): void {
    this.registered.dispose();
  }
}
