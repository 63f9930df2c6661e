// The extension starts `wj lsp` and leaves everything else to it. A journal is a folder
// with wj.yaml; its records are Markdown files.
"use strict";

const vscode = require("vscode");
const { LanguageClient, TransportKind } = require("vscode-languageclient/node");

let client;

const settings = () => vscode.workspace.getConfiguration("wj");

// serverOptions says how the server is started.
function serverOptions() {
  const env = { ...process.env };
  const pages = settings().get("pages");
  if (pages) env.WJ_PAGES = pages;
  const command = settings().get("path") || "wj";
  const run = { command, args: ["lsp"], options: { env }, transport: TransportKind.stdio };
  return { run, debug: run };
}

async function start() {
  client = new LanguageClient("wj", "wj", serverOptions(), {
    documentSelector: [
      { scheme: "file", language: "markdown" },
      { scheme: "file", language: "yaml", pattern: "**/wj.yaml" },
    ],
  });
  try {
    await client.start();
  } catch (err) {
    client = undefined;
    const choice = await vscode.window.showErrorMessage(
      `wj did not start: ${err.message || err}. Install wj, or name the program in the setting wj.path.`,
      "Open the setting",
    );
    if (choice) vscode.commands.executeCommand("workbench.action.openSettings", "wj.path");
  }
}

async function stop() {
  const running = client;
  client = undefined;
  if (running) await running.stop();
}

// showReferences opens the list that a code lens speaks of. The server writes places as the
// protocol does, and the editor wants its own objects.
function showReferences(uri, position, locations) {
  const at = (p) => new vscode.Position(p.line, p.character);
  return vscode.commands.executeCommand(
    "editor.action.showReferences",
    vscode.Uri.parse(uri),
    at(position),
    locations.map((l) => new vscode.Location(vscode.Uri.parse(l.uri), new vscode.Range(at(l.range.start), at(l.range.end)))),
  );
}

// show prints the open record with what follows from it in a terminal.
function show() {
  const editor = vscode.window.activeTextEditor;
  if (!editor || editor.document.uri.scheme !== "file") return;
  const file = editor.document.uri.fsPath;
  const id = file.replace(/^.*[\\/]/, "").replace(/\.md$/, "");
  const terminal = vscode.window.createTerminal({
    name: `wj show ${id}`,
    cwd: file.replace(/[\\/][^\\/]*$/, ""),
    shellPath: settings().get("path") || "wj",
    shellArgs: ["show", id],
  });
  terminal.show();
}

async function activate(context) {
  context.subscriptions.push(
    vscode.commands.registerCommand("wj.showReferences", showReferences),
    vscode.commands.registerCommand("wj.show", show),
    vscode.commands.registerCommand("wj.restart", async () => {
      await stop();
      await start();
    }),
    vscode.workspace.onDidChangeConfiguration(async (e) => {
      if (e.affectsConfiguration("wj.path") || e.affectsConfiguration("wj.pages")) {
        await stop();
        await start();
      }
    }),
  );
  await start();
}

module.exports = { activate, deactivate: stop };
