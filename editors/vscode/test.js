// The extension without an editor: a stand-in for the editor's API and for the client, and
// what the extension asks of them. The server has tests of its own (go test ./lint/server).
"use strict";

const test = require("node:test");
const assert = require("node:assert");
const Module = require("node:module");

const commands = {};
const asked = [];
const values = { path: "/opt/wj", pages: "https://water.example" };
const vscode = {
  workspace: {
    getConfiguration: () => ({ get: (key) => values[key] }),
    onDidChangeConfiguration: (f) => ((vscode.changed = f), {}),
  },
  commands: {
    registerCommand: (name, f) => ((commands[name] = f), {}),
    executeCommand: (...args) => asked.push(args),
  },
  window: { showErrorMessage: async (text) => (asked.push([text]), undefined) },
  Uri: { parse: (text) => ({ text }) },
  Position: class { constructor(line, character) { Object.assign(this, { line, character }); } },
  Range: class { constructor(start, end) { Object.assign(this, { start, end }); } },
  Location: class { constructor(uri, range) { Object.assign(this, { uri, range }); } },
};
const clients = [];
class LanguageClient {
  constructor(id, name, server, options) { Object.assign(this, { server, options, running: false }); clients.push(this); }
  async start() { if (values.path === "none") throw new Error("no such file"); this.running = true; }
  async stop() { this.running = false; }
}
const load = Module._load;
Module._load = (name, ...rest) =>
  name === "vscode" ? vscode : name === "vscode-languageclient/node" ? { LanguageClient, TransportKind: { stdio: 0 } } : load(name, ...rest);
const extension = require("./extension.js");
const manifest = require("./package.json");

test("starts wj lsp with the settings", async () => {
  await extension.activate({ subscriptions: [] });
  const run = clients[0].server.run;
  assert.deepEqual([run.command, run.args, run.options.env.WJ_PAGES, clients[0].running], ["/opt/wj", ["lsp"], "https://water.example", true]);
  for (const c of manifest.contributes.commands) assert.ok(commands[c.command], c.command);
});

test("starts anew when the program changes", async () => {
  values.path = "/usr/bin/wj";
  await vscode.changed({ affectsConfiguration: (key) => key === "wj.path" });
  assert.deepEqual(clients.map((c) => c.running), [false, true]);
  assert.equal(clients[1].server.run.command, "/usr/bin/wj");
});

test("opens the list of a code lens", () => {
  const zero = { line: 0, character: 0 };
  commands["wj.showReferences"]("file:///a.md", zero, [{ uri: "file:///b.md", range: { start: zero, end: { line: 1, character: 2 } } }]);
  const [name, uri, at, list] = asked.pop();
  assert.deepEqual([name, uri.text, at.line, list[0].uri.text, list[0].range.end.character], ["editor.action.showReferences", "file:///a.md", 0, "file:///b.md", 2]);
});

test("says what to do where there is no program", async () => {
  values.path = "none";
  await commands["wj.restart"]();
  assert.match(asked.pop()[0], /did not start: no such file\. Install wj/);
  await extension.deactivate();
});
