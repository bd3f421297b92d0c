// Run by test.sh: works on a sheet in real VS Code as a person would, prints one line for each thing that was seen to work,
// and takes screenshots.
import fs from "node:fs";
import os from "node:os";
import path from "node:path";
import { createRequire } from "node:module";

const { chromium } = createRequire(process.env.PLAYWRIGHT + "/")("playwright-core");
const [base, sheets, shots] = process.argv.slice(2);
const file = path.join(sheets, "harbour.motet");
const sheet = `sheet harbour-wait
  rig       person in "person.motet"
  tempo     80 bpm
  cycle     4b

track hips
  at      drop    tilt
  0b      -1      4
  4/3b    -5^     .
  2b      -3      -6
  4b  -1  2
`;
const mended = sheet.replace("  4b  -1  2\n", "  4b      -1      4\n");
fs.writeFileSync(file, sheet);

let failed = 0;
const say = (name, ok, extra = "") => {
  console.log(ok ? "ok" : "FAIL", name, extra);
  if (!ok) failed++;
};
const profile = fs.mkdtempSync(path.join(os.tmpdir(), "chromium-"));
const browser = await chromium.launchPersistentContext(profile, {
  executablePath: "/usr/bin/chromium", headless: true, viewport: { width: 1200, height: 760 },
  args: ["--no-sandbox", "--disable-gpu", "--no-first-run", "--disable-background-networking", "--disable-component-update", "--disable-sync"],
});
// Nothing outside this machine is asked for anything.
await browser.route((url) => !["127.0.0.1", "localhost"].includes(url.hostname) && /^(https?|wss?):$/.test(url.protocol), (route) => route.abort());
const page = browser.pages()[0] ?? (await browser.newPage());
page.setDefaultTimeout(90000);
const shot = (name) => page.screenshot({ path: path.join(shots, name + ".png") });
const text = () => page.evaluate(() => [...document.querySelectorAll(".view-line")].map((l) => l.innerText.replace(/\u00a0/g, " ")).join("\n"));

// placeOf is where a word of the line that contains `line` stands on the screen.
const placeOf = (line, word) => page.evaluate(([line, word]) => {
  const row = [...document.querySelectorAll(".view-line")].find((l) => l.innerText.replace(/\u00a0/g, " ").includes(line));
  const walker = document.createTreeWalker(row, NodeFilter.SHOW_TEXT);
  for (let node; (node = walker.nextNode());) {
    const at = node.data.replace(/\u00a0/g, " ").indexOf(word);
    if (at < 0) continue;
    const range = document.createRange();
    range.setStart(node, at);
    range.setEnd(node, at + word.length);
    const box = range.getBoundingClientRect();
    return { x: box.x + box.width / 2, y: box.y + box.height / 2 };
  }
}, [line, word]);

const command = async (title) => {
  await page.keyboard.press("F1");
  await page.waitForSelector(".quick-input-widget input");
  await page.keyboard.type(title);
  await page.locator(".quick-input-list .monaco-list-row", { hasText: title }).first().waitFor();
  await page.keyboard.press("Enter");
};

try {
  const payload = encodeURIComponent(JSON.stringify([["openFile", "vscode-remote://" + new URL(base).host + file]]));
  await page.goto(`${base}/?folder=${encodeURIComponent(sheets)}&payload=${payload}`, { waitUntil: "commit", timeout: 180000 });
  await page.waitForSelector(".monaco-workbench .view-lines .view-line", { timeout: 180000 });

  await page.waitForSelector(".squiggly-error", { timeout: 120000 });
  await page.waitForSelector(".squiggly-warning");
  say("diagnostics", (await page.locator(".squiggly-error").count()) === 1);
  const status = page.locator("#motet-sheet\\.motet\\.motet\\.sheet, [id*='motet.sheet']").first();
  await status.waitFor({ timeout: 20000 }).catch(() => {});
  const told = (await status.innerText().catch(() => "")).trim();
  say("status item", /seam/.test(told), told);
  const colours = await page.evaluate(() => new Set([...document.querySelectorAll(".view-line span span")].map((s) => s.className.match(/mtk\d+/)?.[0])).size);
  say("colours", colours >= 5, colours + " kinds");
  await shot("1-reports");

  const key = await placeOf("2b      -3", "-3");
  await page.mouse.click(key.x, key.y);
  await page.mouse.move(key.x + 1, key.y, { steps: 4 });
  await page.waitForFunction(() => [...document.querySelectorAll(".monaco-hover")].some((h) => h.innerText.includes("hips/drop")));
  await page.waitForTimeout(800);
  const pictures = await page.evaluate(() => [...document.querySelectorAll(".monaco-hover img")].filter((i) => i.naturalWidth > 0).length);
  say("hover", true, pictures + " pictures");
  await shot("2-hover");
  await page.keyboard.press("Escape");
  await page.mouse.move(5, 700);
  const name = await placeOf("sheet harbour-wait", "harbour");
  await page.mouse.move(name.x, name.y, { steps: 4 });
  await page.waitForFunction(() => [...document.querySelectorAll(".monaco-hover img")].some((i) => i.naturalWidth > 0 && i.alt.includes("figure")));
  await page.waitForTimeout(800);
  await shot("2-figure");
  say("figure", pictures === 1);
  await page.mouse.move(5, 700);

  const gap = await placeOf("4b  -1  2", "2");
  await page.mouse.move(gap.x, gap.y, { steps: 4 });
  const link = page.locator(".monaco-hover a", { hasText: "seam-gap" }).first();
  await link.waitFor();
  await link.click();
  await page.locator(".tab", { hasText: "seam-gap.md" }).first().waitFor();
  await page.waitForFunction(() => [...document.querySelectorAll(".view-line")].some((l) => l.innerText.replace(/\u00a0/g, " ").includes("What it reports")));
  await shot("3-rule");
  say("rule's page", true);
  await page.locator(".tab", { hasText: "harbour.motet" }).first().click();
  await page.waitForFunction(() => [...document.querySelectorAll(".view-line")].some((l) => l.innerText.replace(/\u00a0/g, " ").includes("4b  -1  2")));
  await page.mouse.move(5, 700);

  await page.mouse.click(gap.x, gap.y);
  // VS Code was seen to show nothing here in some runs, most of them the first after a while: probably since it drops the answer
  // when another extension begins to offer something meanwhile, as Markdown's does once the rule's page was opened. Asked again,
  // it shows the mends.
  const mendRow = page.locator(".action-widget .monaco-list-row", { hasText: "nd where the cycle starts" }).first();
  for (let asked = 1; ; asked++) {
    await page.keyboard.press("Control+.");
    const shown = await mendRow.waitFor({ timeout: 15000 }).then(() => true, () => false);
    if (shown || asked === 3) {
      say("mends offered", shown, asked + " times asked");
      break;
    }
  }
  await shot("3-mends");
  await page.keyboard.press("Enter");
  await page.waitForFunction(() => document.querySelectorAll(".squiggly-error").length === 0);
  say("mend", (await text()).includes("-1  4"));

  const control = await placeOf("track hips", "track");
  await page.mouse.click(control.x, control.y);
  await page.keyboard.press("End");
  await page.keyboard.press("Control+Backspace");
  await page.keyboard.press("Control+Space");
  await page.waitForSelector(".suggest-widget.visible .monaco-list-row");
  const offered = await page.locator(".suggest-widget").innerText();
  say("completion", offered.includes("hips"), offered.split("\n").slice(0, 5).join(" "));
  await shot("4-completion");
  await page.keyboard.press("Escape");
  await page.keyboard.type("hips");
  await page.keyboard.press("Escape");

  await command("Format Document");
  await page.waitForFunction(() => [...document.querySelectorAll(".view-line")].some((l) => l.innerText.replace(/\u00a0/g, " ").includes("4b      -1      4")));
  await page.keyboard.press("Control+s");
  await page.waitForTimeout(1500);
  const saved = fs.readFileSync(file, "utf8");
  say("format and save", saved === mended, saved === mended ? "" : JSON.stringify(saved));

  // A sheet that is not open is reported too, and nothing is reported twice once the task has checked the folder as well.
  fs.writeFileSync(path.join(sheets, "pier.motet"), sheet.replace("harbour", "pier"));
  await command("Motet: Check the Whole Folder");
  const ran = await page.getByText("check - Task").first().waitFor({ timeout: 30000 }).then(() => true, () => false);
  await page.waitForTimeout(2500);
  await shot("5-terminal");
  await command("Problems: Focus on Problems View");
  await page.locator(".markers-panel .monaco-list-row", { hasText: "pier.motet" }).first().waitFor({ timeout: 20000 }).catch(() => {});
  await page.waitForTimeout(2500);
  const rows = await page.locator(".markers-panel .monaco-list-row").allInnerTexts();
  await shot("5-check");
  const gaps = rows.filter((row) => row.includes("seam-gap"));
  say("check task", ran && gaps.length === 1, JSON.stringify(rows));

  await command("Motet: Export the Sheet as a Clip");
  await page.waitForFunction(() => document.querySelector(".quick-input-widget input")?.value.endsWith("/harbour.glb"));
  await page.keyboard.press("Enter");
  const clip = path.join(sheets, "harbour.glb");
  await page.locator(".notifications-toasts", { hasText: "harbour-wait: a cycle of 72 frames" }).waitFor().catch(() => {});
  await shot("6-clip");
  say("clip", fs.existsSync(clip) && fs.readFileSync(clip).subarray(0, 4).toString() === "glTF");

  await command("Welcome: Open Walkthrough");
  await page.locator(".quick-input-list .monaco-list-row", { hasText: "A first motion sheet" }).first().waitFor();
  await page.locator(".quick-input-list .monaco-list-row", { hasText: "A first motion sheet" }).first().click();
  await page.waitForTimeout(2000);
  say("walkthrough", (await page.locator(".gettingStartedContainer").innerText()).includes("Make a folder to begin in"));
  await shot("7-walkthrough");
} catch (problem) {
  say("no error", false, String(problem.message).slice(0, 600));
  await shot("error").catch(() => {});
}
await browser.close();
fs.rmSync(profile, { recursive: true, force: true });
process.exit(failed ? 1 : 0);
