// The task that checks all sheets of a folder, as a CI would. It has no problem matcher, since the language server reports
// what there is in all sheets of the folder, open or not: each report would stand in the list twice.
import * as vscode from "vscode";
import { findProgram } from "./program";

// checkTask is the task; where motet is nowhere the shell says so.
export async function checkTask(definition: vscode.TaskDefinition): Promise<vscode.Task> {
  const program = (await findProgram()) ?? "motet";
  const args = definition.strict ? ["check", "--strict"] : ["check"];
  const task = new vscode.Task(definition, vscode.TaskScope.Workspace, "check", "motet", new vscode.ShellExecution(program, args), []);
  task.group = vscode.TaskGroup.Test;
  return task;
}

export const checkTasks = {
  provideTasks: async (): Promise<vscode.Task[]> => [await checkTask({ type: "motet" })],
  resolveTask: (task: vscode.Task): Promise<vscode.Task> => checkTask(task.definition),
};
