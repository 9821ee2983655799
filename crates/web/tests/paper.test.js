// The sheets and charts of the program, on paper and on a phone: pages, sizes of type, texts that hide each other, axe.
import assert from "node:assert/strict";
import { execFileSync } from "node:child_process";
import { existsSync, mkdirSync, mkdtempSync, readFileSync, rmSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { after, before, test } from "node:test";
import { chromium } from "playwright-core";

const executablePath = process.env.CHROMIUM ?? "/usr/bin/chromium";
const program = process.env.POINTAGE;
const skip = existsSync(executablePath) ? (program ? false : "POINTAGE names no program") : "no Chromium here";
const path = (name) => new URL(`../../../${name}`, import.meta.url).pathname;
const axe = path("crates/web/node_modules/axe-core/axe.min.js");
const demo = path("data/demo/market-poolish.toml");
const bakes = { one: path("crates/cli/tests/bakes/one.toml"), three: demo, twelve: path("crates/cli/tests/bakes/twelve.toml"), forty: path("crates/cli/tests/bakes/forty.toml") };
/** What is inside the margins, in mm. */
const papers = { A4: [210 - 22, 297 - 18], Letter: [215.9 - 22, 279.4 - 18] };
const kept = process.env.SCREENSHOTS;
let browser;
let folder;

before(async () => {
  if (skip) return;
  if (kept) mkdirSync(kept, { recursive: true });
  folder = kept ?? mkdtempSync(join(tmpdir(), "pointage-"));
  browser = await chromium.launch({ executablePath, args: ["--no-sandbox", "--disable-quic", "--disable-background-networking"] });
});
after(async () => {
  await browser?.close();
  if (folder && !kept) rmSync(folder, { recursive: true });
});

/** The program's answer, whatever it ends with. */
function run(...asked) {
  try {
    execFileSync(program, [...asked, "--force"], { stdio: "pipe" });
  } catch (fault) {
    assert.equal(fault.status, 1, `${fault.stderr}`);
  }
}
const when = ["--first-out", "07:30", "--date", "2026-11-28", "--zone", "Europe/Vienna"];

/** Of the page: every line of text with its box and size of type, the foot of what is printed, and what flows over. */
function texts() {
  const walker = document.createTreeWalker(document.body, NodeFilter.SHOW_TEXT);
  const boxes = [];
  while (walker.nextNode()) {
    const node = walker.currentNode;
    const owner = node.parentElement;
    if (!node.data.trim() || owner.closest("title, desc, style")) continue;
    const range = document.createRange();
    range.selectNodeContents(node);
    const scale = owner.ownerSVGElement ? owner.getScreenCTM().a : 1;
    const size = Number.parseFloat(getComputedStyle(owner).fontSize) * scale;
    for (const { left, right, top, bottom } of range.getClientRects()) {
      // A box of text is higher than its letters.
      const trim = ((bottom - top) - size) / 2 + 0.12 * size;
      boxes.push({ text: node.data.trim(), left: left + 0.5, right: right - 0.5, top: top + trim, bottom: bottom - trim, size });
    }
  }
  return { boxes, wide: document.documentElement.scrollWidth - innerWidth, foot: document.querySelector("main")?.lastElementChild.getBoundingClientRect().bottom };
}

function apart({ boxes, wide }, where) {
  assert.ok(boxes.length > 10, where);
  assert.ok(wide <= 0, `${where}: ${wide} px too wide`);
  for (const [i, a] of boxes.entries()) {
    for (const b of boxes.slice(0, i)) {
      const clear = a.left >= b.right || b.left >= a.right || a.top >= b.bottom || b.top >= a.bottom;
      assert.ok(clear, `${where}: "${a.text}" and "${b.text}"`);
    }
  }
}

const fresh = (width, height, deviceScaleFactor = 1) => browser.newPage({ viewport: { width: Math.floor(width), height: Math.floor(height) }, deviceScaleFactor });

for (const [name, bake] of Object.entries(bakes)) {
  test(`the sheet of ${name}`, { skip }, async () => {
    const file = join(folder, `${name}.html`);
    run("plan", bake, ...when, "--sheet", file);
    for (const [format, paper] of Object.entries(papers)) {
      const [width, height] = paper.map((mm) => (mm / 25.4) * 96);
      const tab = await fresh(width, height);
      await tab.emulateMedia({ media: "print" });
      await tab.goto(`file://${file}`);
      const shown = await tab.evaluate(texts);
      apart(shown, `${name} on ${format}`);
      const points = ({ size }) => Math.round(size * 75) / 100;
      const smallest = Math.min(...shown.boxes.map(points));
      assert.ok(smallest >= 9, `${smallest} pt on ${format}`);
      const pdf = await tab.pdf({ format, path: kept && join(kept, `${name}-${format}.pdf`) });
      const pages = pdf.toString("latin1").match(/\/Type\s*\/Page\b/g).length;
      const used = shown.foot / height;
      assert.ok(name === "forty" ? pages > 1 && pages - used < 1.2 : pages === 1 && used > 0.97, `${pages} pages on ${format}, used ${used}`);
      if (name === "one" || name === "three") {
        const times = shown.boxes.filter(({ text }) => /^\d\d:\d\d$/.test(text));
        const text = shown.boxes.filter(({ text }) => text.startsWith("Load 1") || text.startsWith("out "));
        assert.ok(times.length > 6 && times.every((box) => points(box) >= 15), format);
        assert.ok(text.length > 1 && text.every((box) => points(box) >= 11), format);
      }
      await tab.close();
    }
    for (const width of [390, 1024]) {
      const tab = await fresh(width, 844);
      await tab.goto(`file://${file}`);
      apart(await tab.evaluate(texts), `${name} at ${width} px`);
      await tab.addScriptTag({ path: axe });
      const { violations } = await tab.evaluate(() => window.axe.run());
      assert.deepEqual(violations.map(({ id, nodes }) => `${id}: ${nodes[0].html}`), []);
      if (kept) await tab.screenshot({ path: join(kept, `${name}-${width}.png`), fullPage: true });
      await tab.close();
    }
  });
}

/** What draws a chart, but for its file. */
const charts = {
  ...Object.fromEntries(Object.entries(bakes).map(([name, bake]) => [`day-${name}`, ["plan", bake, ...when]])),
  "day-autumn": ["plan", demo, "--first-out", "09:00", "--date", "2026-10-25", "--zone", "Europe/Vienna"],
  compare: ["compare", demo, ...when, "--vary", "room=18..26"],
  learn: ["learn", path("data/demo/stall-log.csv")],
};
for (const [name, asked] of Object.entries(charts)) {
  test(`the chart ${name}`, { skip }, async () => {
    const file = join(folder, `${name}.svg`);
    run(...asked, "--chart", file);
    for (const width of [720, 360]) {
      const tab = await fresh(width, 600, 720 / width);
      await tab.setContent(`<html lang="en"><title>${name}</title><body style="margin:0;filter:grayscale(1)"><main><h1 hidden>chart</h1>${readFileSync(file)}</main>`);
      const shown = await tab.evaluate(texts);
      apart(shown, `${name} at ${width} px`);
      assert.ok(shown.boxes.every(({ left, right, size }) => left >= 0 && right <= width && size >= 9.9), `${name} at ${width} px`);
      await tab.addScriptTag({ path: axe });
      const { violations } = await tab.evaluate(() => window.axe.run("svg"));
      assert.deepEqual(violations.map(({ id, nodes }) => `${id}: ${nodes[0].html}`), []);
      if (kept) await tab.screenshot({ path: join(kept, `${name}-${width}.png`), fullPage: true });
      await tab.close();
    }
  });
}
