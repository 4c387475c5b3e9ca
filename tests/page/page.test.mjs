// page.html as a reader meets it, in Debian's Chromium: axe-core's rules (WCAG 2.2 A and AA, best practice), colours
// computed by the formula of WCAG 2.2 ("contrast ratio"), the keyboard, what can be taken away, the printer, and that
// nothing is asked of the network.
//
//   node --test page.test.mjs        PAGES=folder:folder (each with page.html, findings.csv, findings.json)
//                                    SESSIONS=folder     (the sessions that they were made from)

import assert from "node:assert/strict";
import { execFileSync } from "node:child_process";
import { mkdtempSync, readFileSync, rmSync } from "node:fs";
import { createRequire } from "node:module";
import { tmpdir } from "node:os";
import { basename, join } from "node:path";
import { after, before, test } from "node:test";
import { pathToFileURL } from "node:url";
import { chromium } from "playwright-core";

const folders = process.env.PAGES.split(":");
const sessions = process.env.SESSIONS;
const axe = readFileSync(createRequire(import.meta.url).resolve("axe-core/axe.min.js"), "utf8");
const RULES = ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22a", "wcag22aa", "best-practice"];

let browser;
const home = mkdtempSync(join(tmpdir(), "asfound-page-"));
before(async () => {
  browser = await chromium.launch({
    executablePath: process.env.CHROMIUM ?? "/usr/bin/chromium",
    args: [
      "--no-sandbox",
      "--disable-gpu",
      "--disable-quic",
      "--no-first-run",
      "--disable-background-networking",
      "--disable-component-update",
      "--disable-sync",
    ],
  });
});
after(async () => {
  await browser?.close();
  rmSync(home, { recursive: true, force: true });
});

/** Opens the page of a folder; whatever it asks for or complains of is an error at the end. */
async function opened(folder, { width = 1280, ...more } = {}) {
  const context = await browser.newContext({ viewport: { width, height: 900 }, acceptDownloads: true, ...more });
  const page = await context.newPage();
  const address = pathToFileURL(join(folder, "page.html")).href;
  const faults = [];
  page.on("request", (request) => {
    const url = request.url();
    if (url !== address && !url.startsWith("data:")) faults.push(`asked for ${url.slice(0, 80)}`);
  });
  page.on("console", (message) => {
    if (["error", "warning"].includes(message.type())) faults.push(message.text());
  });
  page.on("pageerror", (error) => faults.push(String(error)));
  await page.goto(address);
  await page.evaluate(() => document.fonts.ready);
  const close = async () => {
    await context.close();
    assert.deepEqual(faults, []);
  };
  return { page, close };
}

/**
 * What axe-core finds, in short. It is put in by the debugger, so that the page's own policy stays in force. What is
 * within a drawing is presentational (WAI-ARIA 1.2, role img) and is taken out first, for it takes most of the time;
 * its colours are computed below. So are all others at every width; axe-core's own rule for them, which takes half of
 * its time, runs where `contrast` is asked for. To be called last.
 */
async function violations(page, contrast = false) {
  await page.evaluate(() => document.querySelectorAll("svg.chart").forEach((chart) => chart.replaceChildren()));
  await page.evaluate(axe);
  const found = await page.evaluate(
    ([values, enabled]) =>
      window.axe.run(document, {
        runOnly: { type: "tag", values },
        rules: { "color-contrast": { enabled } },
        resultTypes: ["violations"],
      }),
    [RULES, contrast],
  );
  assert.ok(found.passes.length > 20, "axe-core ran");
  return found.violations.map(
    (rule) => `${rule.id}: ${rule.help} (${rule.nodes.length}), as in ${rule.nodes[0].html.slice(0, 160)}`,
  );
}

/** Texts whose colour has too little contrast on what is behind them, in rendered colours. */
function pale() {
  const channels = (colour) => {
    const [r, g, b, a = 1] = colour.match(/[\d.]+/g).map(Number);
    return { rgb: [r, g, b], a };
  };
  const luminance = (rgb) => {
    const [r, g, b] = rgb.map((value) => {
      const c = value / 255;
      return c <= 0.04045 ? c / 12.92 : ((c + 0.055) / 1.055) ** 2.4;
    });
    return 0.2126 * r + 0.7152 * g + 0.0722 * b;
  };
  // In a drawing, the last shape drawn under the middle of the text is its ground, else the paper.
  const shape = (element) => {
    const box = element.getBBox();
    const middle = new DOMPoint(box.x + box.width / 2, box.y + box.height / 2);
    const filled = [...element.ownerSVGElement.querySelectorAll("polygon, circle, rect, path")].filter(
      (other) =>
        element.compareDocumentPosition(other) & Node.DOCUMENT_POSITION_PRECEDING &&
        other.getAttribute("fill") !== "none" &&
        other.isPointInFill(middle),
    );
    return filled.at(-1);
  };
  const ground = (element) => {
    const under = element instanceof SVGElement ? shape(element) : undefined;
    if (under) return channels(getComputedStyle(under).fill).rgb;
    for (let at = element; at; at = at.parentElement) {
      const colour = channels(getComputedStyle(at).backgroundColor);
      if (colour.a === 1) return colour.rgb;
    }
    return [255, 255, 255];
  };
  const faults = new Set();
  let seen = 0;
  const walker = document.createTreeWalker(document.body, NodeFilter.SHOW_TEXT);
  for (let node = walker.nextNode(); node; node = walker.nextNode()) {
    const element = node.parentElement;
    if (!node.data.trim() || element.closest("script, style, .unseen, .skip")) continue;
    const style = getComputedStyle(element);
    const colour = channels(element instanceof SVGElement ? style.fill : style.color);
    const [x, y] = [luminance(colour.rgb), luminance(ground(element))];
    const ratio = (Math.max(x, y) + 0.05) / (Math.min(x, y) + 0.05);
    seen += 1;
    if (colour.a !== 1 || ratio < 4.5) faults.add(`${ratio.toFixed(2)}: ${node.data.trim().slice(0, 60)}`);
  }
  return { seen, faults: [...faults] };
}

/** The smallest text in a chart, in CSS pixels. */
function smallestInCharts() {
  let smallest = Infinity;
  for (const chart of document.querySelectorAll("svg.chart")) {
    const scale = chart.getBoundingClientRect().width / chart.viewBox.baseVal.width;
    for (const text of chart.querySelectorAll("text")) {
      smallest = Math.min(smallest, Number(text.getAttribute("font-size")) * scale);
    }
  }
  return smallest;
}

for (const folder of folders) {
  const name = basename(folder);

  for (const [width, colorScheme] of [[360, "light"], [1280, "light"], [1920, "light"], [1280, "dark"]]) {
    test(`${name} breaks no rule at ${width} pixels, ${colorScheme}`, async () => {
      const { page, close } = await opened(folder, { width, colorScheme });
      const { seen, faults } = await page.evaluate(pale);
      assert.ok(seen > 300, `${seen} texts`);
      assert.deepEqual(faults, []);
      const room = await page.evaluate(() => [document.documentElement.scrollWidth, window.innerWidth]);
      assert.ok(room[0] <= room[1], `the page is ${room[0]} wide in ${room[1]}`);
      const smallest = await page.evaluate(smallestInCharts);
      assert.ok(smallest >= 11, `chart text of ${smallest} px`);
      const faces = await page.evaluate(() => [...document.fonts].filter((face) => face.status === "loaded").length);
      assert.ok(faces >= 3, `${faces} faces`);
      assert.deepEqual(await violations(page, width === 1280), []);
      await close();
    });
  }

  test(`${name} is whole without script`, async () => {
    const plain = await opened(folder, { javaScriptEnabled: false });
    const scripted = await opened(folder);
    const text = async (page) => (await page.locator("main").innerText()).replace(/\s+/g, " ");
    const [without, withScript] = [await text(plain.page), await text(scripted.page)];
    assert.ok(without.length > 5000);
    assert.equal(without, withScript);
    assert.equal(await plain.page.locator("button").count(), 0);
    for (const box of await plain.page.locator(".scroll").all()) assert.equal(await box.getAttribute("tabindex"), "0");
    await plain.close();
    await scripted.close();
  });

  test(`${name}: the tab key reaches all that can be pressed`, async () => {
    const { page, close } = await opened(folder);
    const wanted = await page.evaluate(() => {
      const all = [...document.querySelectorAll("a[href], button, [tabindex='0']")];
      all.forEach((element, index) => (element.dataset.stop = index));
      return all.length;
    });
    const reached = new Set();
    for (let press = 0; press < wanted + 5; press += 1) {
      await page.keyboard.press("Tab");
      const stop = await page.evaluate(() => {
        const on = document.activeElement;
        const box = on.getBoundingClientRect();
        const outline = getComputedStyle(on);
        const seen = outline.outlineStyle !== "none" || on.className === "skip";
        return { index: on.dataset.stop, visible: box.width > 0 && box.bottom > 0 && box.top < innerHeight, seen };
      });
      if (stop.index === undefined) continue;
      assert.ok(stop.visible && stop.seen, `stop ${stop.index} cannot be seen: ${JSON.stringify(stop)}`);
      reached.add(stop.index);
    }
    assert.equal(reached.size, wanted);
    await close();
  });

  test(`${name}: a head sorts by the return key, says so, and gives the order back`, async () => {
    const { page, close } = await opened(folder);
    const heads = page.locator("th[data-sort='number'] .sort");
    assert.ok((await heads.count()) > 3);
    const values = () =>
      page.evaluate(() => {
        const head = document.querySelector("th[data-sort='number']:has(.sort)");
        const body = [...head.closest("table").tBodies].find((body) => body.rows.length > 2);
        const rows = [...body.rows].slice(1);
        const texts = rows.map((row) => row.cells[head.cellIndex].textContent.trim());
        return { texts, order: head.getAttribute("aria-sort"), said: document.querySelector("[role=status]").textContent };
      });
    const asWritten = await values();
    assert.equal(asWritten.order, null);
    const numbers = asWritten.texts.map((text) => Number(text.replace("−", "-"))).filter((value) => !Number.isNaN(value));
    await heads.first().focus();
    await page.keyboard.press("Enter");
    const up = await values();
    const shown = (state) => state.texts.map((text) => Number(text.replace("−", "-"))).filter((v) => !Number.isNaN(v));
    assert.equal(up.order, "ascending");
    assert.deepEqual(shown(up), [...numbers].sort((a, b) => a - b));
    assert.match(up.said, /ascending$/);
    await page.keyboard.press("Enter");
    const down = await values();
    assert.equal(down.order, "descending");
    assert.deepEqual(shown(down), [...numbers].sort((a, b) => b - a));
    assert.deepEqual(await violations(page), []);
    await page.keyboard.press("Enter");
    assert.deepEqual((await values()).texts, asWritten.texts);
    await close();
  });

  test(`${name}: what is taken away is what lies beside the page and in the session`, async () => {
    const { page, close } = await opened(folder);
    const links = await page.locator("a[download]").all();
    assert.ok(links.length >= 3);
    const got = [];
    for (const link of links) {
      const [download] = await Promise.all([page.waitForEvent("download"), link.click()]);
      const file = join(home, `${name}-${got.length}`);
      await download.saveAs(file);
      // Chromium writes a sign that some systems forbid in a name as an underscore.
      const called = await link.getAttribute("download");
      assert.equal(download.suggestedFilename().replaceAll("_", "~"), called.replaceAll("_", "~"));
      got.push(called);
      const bytes = readFileSync(file);
      if (called.startsWith("findings.")) assert.ok(bytes.equals(readFileSync(join(folder, called))), called);
      if (called.startsWith("visits~")) {
        const original = join(sessions, name, called.replaceAll("~", "/"));
        assert.ok(bytes.equals(readFileSync(original)), called);
      }
    }
    assert.deepEqual(got.slice(0, 3), ["findings.csv", "findings.json", "readings.csv"]);
    await close();
  });

  test(`${name} prints whole`, async () => {
    const { page, close } = await opened(folder, { colorScheme: "dark" });
    for (const format of ["A4", "Letter"]) {
      const path = join(home, `${name}-${format}.pdf`);
      await page.pdf({ path, format, preferCSSPageSize: false });
      if (process.env.KEEP) execFileSync("cp", [path, process.env.KEEP]);
      const boxes = execFileSync("pdftotext", ["-bbox", path, "-"], { maxBuffer: 1 << 28 }).toString();
      const [, width] = boxes.match(/<page width="([\d.]+)"/).map(Number);
      let words = 0;
      for (const [, from, to, word] of boxes.matchAll(/<word xMin="([-\d.]+)"[^>]* xMax="([-\d.]+)"[^>]*>(.*?)<\/word>/g)) {
        words += 1;
        assert.ok(Number(from) >= 0 && Number(to) <= width, `${word} is cut off the sheet (${to} of ${width})`);
      }
      assert.ok(words > 1000, `${words} words`);
      // A table's head stands whole on every sheet that the table goes on to, buttons and all.
      const lines = execFileSync("pdftotext", ["-layout", path, "-"], { maxBuffer: 1 << 28 }).toString().split("\n");
      const heads = lines.filter((line) => /\bremarks\s*$/.test(line) && !/[,;:]/.test(line));
      assert.ok(heads.length > 3, `${heads.length} heads`);
      for (const head of heads) assert.match(head, /value .*± .*remarks/);
    }
    await close();
  });
}
