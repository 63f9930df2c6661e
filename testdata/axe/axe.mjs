// Asks axe-core about one page of every kind, in light and dark and as wide as a telephone, and walks all pages of a folder in
// a browser, with and without script: no request may leave the folder, and no page may be wider than the screen.
// WALK=no leaves the walk out. Two things are as they must be: the page for a wall reads itself again, which is what it is for (WCAG 2.2.1 would have a reader
// stop it), and labels are as wide as the paper.
//
//   npm install --prefix DIR axe-core@4 puppeteer-core@24     (not kept in the repository)
//   wj site -o PAGES --wall
//   CHROME=/usr/bin/chromium NODE_PATH=DIR/node_modules node testdata/axe/axe.mjs PAGES [more.html ...]
import { createRequire } from "node:module";
import { readdirSync, readFileSync, statSync } from "node:fs";
import { join, resolve } from "node:path";
import { pathToFileURL } from "node:url";

const require = createRequire(join(process.env.NODE_PATH || ".", "x"));
const puppeteer = require("puppeteer-core");
const axe = readFileSync(require.resolve("axe-core/axe.min.js"), "utf8");

const [folder, ...more] = process.argv.slice(2).map((p) => resolve(p));
const all = [];
const walk = (at) => { for (const name of readdirSync(at).sort()) { const p = join(at, name); statSync(p).isDirectory() ? walk(p) : p.endsWith(".html") && all.push(p); } };
walk(folder);
const kinds = new Map();
for (const p of all) {
  const rel = p.slice(folder.length + 1), at = rel.includes("/") ? rel.split("/")[0] + (rel.endsWith("index.html") ? " list" : "") : rel;
  kinds.set(at, p); // the last of a kind, which is the newest
}
const chosen = [...kinds.values(), ...more];
const browser = await puppeteer.launch({ executablePath: process.env.CHROME || "/usr/bin/chromium", args: ["--no-sandbox", "--allow-file-access-from-files"] });
let wrong = 0;
const say = (text) => { wrong++; console.log(text); };

for (const scheme of ["light", "dark"]) for (const width of [1200, 375]) {
  const page = await browser.newPage();
  await page.setBypassCSP(true); // for axe alone
  await page.setViewport({ width, height: 900 });
  await page.emulateMediaFeatures([{ name: "prefers-color-scheme", value: scheme }]);
  for (const p of chosen) {
    await page.goto(pathToFileURL(p).href);
    await page.evaluate(() => document.querySelectorAll("details").forEach((d) => { d.open = true; }));
    const over = await page.evaluate(() => document.documentElement.scrollWidth - document.documentElement.clientWidth);
    if (over > 0 && !p.endsWith("labels.html")) say(`${p} ${width}: ${over} px wider than the screen`);
    await page.evaluate(axe);
    const { violations } = await page.evaluate(() => window.axe.run({ runOnly: ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa", "best-practice"] }));
    for (const v of violations) if (!(v.id === "meta-refresh" && p.endsWith("wall.html"))) say(`${p} ${scheme} ${width}: ${v.id}: ${v.help}\n    ${v.nodes.length} ${v.nodes[0].target} ${v.nodes[0].html.slice(0, 160)}\n    ${v.nodes[0].failureSummary.replace(/\n/g, " ")}`);
  }
  await page.close();
}

for (const script of process.env.WALK === "no" ? [] : [true, false]) {
  const page = await browser.newPage();
  await page.setJavaScriptEnabled(script);
  page.on("request", (r) => { if (!r.url().startsWith(pathToFileURL(folder).href)) say(`request for ${r.url()}`); });
  page.on("requestfailed", (r) => say(`failed: ${r.url()}`));
  page.on("console", (m) => { if (m.type() === "error") say(`${page.url()}: ${m.text()}`); });
  for (const p of all) {
    await page.goto(pathToFileURL(p).href);
    if (await page.evaluate(() => getComputedStyle(document.body).maxWidth) === "none" && !p.endsWith("wall.html")) say(`${p}: no style`);
  }
  if (script) {
    await page.goto(pathToFileURL(join(folder, "find.html")).href + "?q=lots");
    console.log(`search: ${await page.evaluate(() => document.getElementById("found").textContent)}`);
  }
  await page.close();
}
await browser.close();
console.log(`${chosen.length} pages by axe, ${all.length} walked twice: ${wrong} wrong`);
process.exit(wrong ? 1 : 0);
