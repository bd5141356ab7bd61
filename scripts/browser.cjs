// Drives classic Jupyter notebooks in Chromium; started by browser.sh with the
// server's address, its token, a folder for screenshots, one for the browser's
// profile, and the notebooks. browser.ipynb is worked through as a person would;
// every other notebook is opened, run as a whole and saved. Every step waits for
// what a person would see; a step that does not come fails after five minutes.
// Exit code 0: all steps came.
const { chromium } = require("playwright-core");
const assert = require("assert");

const [base, token, shots, profile, ...notebooks] = process.argv.slice(2);
const patience = 300_000;
let number = 0;

async function until(what, condition) {
  const end = Date.now() + patience;
  let last;
  while (Date.now() < end) {
    try {
      const value = await condition();
      if (value) return value;
    } catch (e) {
      last = e;
    }
    await new Promise((r) => setTimeout(r, 100));
  }
  throw new Error(`did not come: ${what}${last ? ": " + last.message : ""}`);
}

// desk is one notebook open in the browser.
async function desk(page, name) {
  const d = { page };
  const inPage = (d.inPage = (f, arg) => page.evaluate(f, arg));
  d.shot = async (what) => {
    // The classic page scrolls inside itself: make the window as high as its content.
    const height = await inPage(() => document.querySelector("#notebook").scrollHeight + 200);
    await page.setViewportSize({ width: 1000, height: Math.min(Math.max(height, 900), 12000) });
    number++;
    await page.screenshot({ path: `${shots}/${String(number).padStart(2, "0")}-${what}.png` });
  };
  d.idle = () => until("an idle kernel with no cell waiting", () => inPage(() =>
    document.querySelector(".kernel_idle_icon") && ![...document.querySelectorAll(".input_prompt")].some((p) => p.textContent.includes("[*]"))));
  d.cellText = (i) => inPage((i) => Jupyter.notebook.get_cell(i).element.find(".output").text(), i);
  d.counts = () => inPage(() => Jupyter.notebook.get_cells().filter((c) => c.cell_type === "code" && c.get_text().trim()).map((c) => c.input_prompt_number || null));
  d.menu = async (top, item) => {
    await page.click(`#menus >> text="${top}"`);
    await page.click(item);
  };
  d.indexOf = (word) => inPage((word) => Jupyter.notebook.get_cells().findIndex((c) => c.get_text().includes(word)), word);
  d.freshCell = async (code) => {
    await inPage(() => {
      const nb = Jupyter.notebook;
      nb.insert_cell_at_bottom("code");
      nb.select(nb.ncells() - 1);
      nb.edit_mode();
    });
    await page.keyboard.type(code);
    return inPage(() => Jupyter.notebook.ncells() - 1);
  };
  d.save = async () => {
    await page.keyboard.press("Escape");
    await page.keyboard.press("Control+s");
    await until("the saved notebook", () => inPage(() => !Jupyter.notebook.dirty));
  };

  await until("the server", () => page.goto(`${base}/notebooks/${name}?token=${token}`));
  await until("a connected kernel", () => inPage(() => window.Jupyter && Jupyter.notebook && Jupyter.notebook.kernel && Jupyter.notebook.kernel.is_connected()));
  await d.idle();
  assert.strictEqual(await page.textContent(".kernel_indicator_name"), "Rotorhum (Go)");
  assert(await inPage(() => document.querySelectorAll(".cm-keyword, .cm-variable").length > 0), "code is not coloured as Go");
  done(`${name} opens with the kernel, its code coloured`);
  return d;
}

function done(what) {
  console.log(`ok    ${what}`);
}

// runAll runs all cells from the menu, looks at what they show, and saves.
async function runAll(d, name) {
  await d.menu("Cell", "#run_all_cells a");
  await until("a result of every cell", async () => (await d.counts()).every((n) => n > 0));
  await d.idle();
  const failures = await d.inPage(() => Jupyter.notebook.get_cells()
    .filter((c) => c.cell_type === "code" && !(c.metadata.tags || []).some((t) => t.startsWith("raises-")))
    .flatMap((c) => c.element.find(".output_error").get().map((e) => e.textContent)));
  assert.deepStrictEqual(failures, [], "cells failed");
  const pictures = await d.inPage(() => [...document.querySelectorAll(".output img, .output svg")].map((p) => p.naturalWidth || p.getBoundingClientRect().width));
  assert(pictures.every((w) => w > 10), `pictures are not shown: ${pictures}`);
  await d.shot(`${name.replace(/.*\//, "").replace(".ipynb", "")}-run-all`);
  await d.save();
  done(`${name}: run all: ${(await d.counts()).length} cells, ${pictures.length} pictures`);
  return pictures.length;
}

// workThrough does what a person does with a notebook besides running it.
async function workThrough(d) {
  const { page, inPage } = d;
  assert((await d.cellText(await d.indexOf("7*pulses"))).includes("tone 35 Hz"), "printed text is missing");

  let cell = await d.freshCell("strings.Repe");
  await page.keyboard.press("Tab");
  await until("the completed word", () => inPage((i) => Jupyter.notebook.get_cell(i).get_text() === "strings.Repeat", cell));
  await page.keyboard.press("Control+a");
  await page.keyboard.type("strings.To");
  await page.keyboard.press("Tab");
  await until("the list of completions", () => inPage(() => (document.querySelector(".completions select") || {}).length > 3));
  await d.shot("complete");
  await page.keyboard.press("Escape");
  done("complete");

  cell = await d.freshCell("strings.Repeat(");
  await page.keyboard.press("Shift+Tab");
  await until("the tooltip", () => inPage(() => {
    const t = document.querySelector("#tooltip");
    return t && getComputedStyle(t).opacity === "1" && t.textContent.includes("count int");
  }));
  await d.shot("shift-tab");
  await page.keyboard.press("Escape");
  done("shift-tab shows signature and comment");

  cell = await d.freshCell("for i := 0; ; i++ {");
  await inPage((i) => Jupyter.notebook.get_cell(i).set_text("for i := 0; ; i++ {\n}"), cell);
  await page.keyboard.press("Control+Enter");
  await until("a busy kernel", () => inPage(() => document.querySelector(".kernel_busy_icon")));
  await page.click("button[data-jupyter-action='jupyter-notebook:interrupt-kernel']");
  await until("the interrupted cell", async () => (await d.cellText(cell)).includes("Interrupted"));
  await d.idle();
  await d.shot("interrupt");
  cell = await d.freshCell("pulses");
  await page.keyboard.press("Control+Enter");
  await until("the state after the interrupt", async () => (await d.cellText(cell)).includes("5"));
  done("interrupt ends the loop and keeps the session");

  // The cells added above would fail or run for ever: take them out again.
  await inPage(() => {
    const nb = Jupyter.notebook;
    const first = nb.get_cells().findIndex((c) => c.get_text().startsWith("strings.To"));
    while (nb.ncells() > first) nb.delete_cell(nb.ncells() - 1);
  });
  // The last cell gets a count that only a restart makes small again.
  await inPage(() => Jupyter.notebook.select(Jupyter.notebook.ncells() - 1));
  await page.keyboard.press("Control+Enter");
  await until("a later count", async () => (await d.counts()).at(-1) > 4);
  await d.idle();
  await d.menu("Kernel", "#restart_run_all a");
  await page.click(".modal.in .btn-danger");
  await until("new counts", async () => (await d.counts()).every((n, i) => n === i + 1));
  const last = await d.indexOf("FINISHED");
  await until("what the last cell prints", async () => (await d.cellText(last)).includes("finished"));
  await d.idle();
  await d.shot("restart-and-run-all");
  done("restart and run all");

  await d.save();
}

async function main() {
  const browser = await chromium.launchPersistentContext(profile, {
    executablePath: process.env.CHROMIUM || "/usr/bin/chromium",
    headless: true,
    viewport: { width: 1000, height: 1400 },
    args: ["--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run", "--disable-background-networking",
      "--disable-component-update", "--disable-sync"],
  });
  const problems = [];
  for (const name of notebooks) {
    const page = await browser.newPage();
    page.on("pageerror", (e) => problems.push(e.message));
    const d = await desk(page, name);
    const pictures = await runAll(d, name);
    if (name === "browser.ipynb") {
      assert.strictEqual(pictures, 1);
      await workThrough(d);
    }
    await page.close({ runBeforeUnload: false });
  }
  assert.deepStrictEqual(problems, [], "errors in the page");
  await browser.close();
}

main().catch((e) => {
  console.error(`FAIL  ${e.message}`);
  process.exit(1);
});
