// Drives a classic Jupyter notebook in Chromium; started by browser.sh with the
// server's address, its token, a folder for screenshots and one for the
// browser's profile. Every step waits for what a person would see; a step that
// does not come fails after two minutes. Exit code 0: all steps came.
const { chromium } = require("playwright-core");
const assert = require("assert");

const [base, token, shots, profile] = process.argv.slice(2);
const patience = 120_000;
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

async function main() {
  const browser = await chromium.launchPersistentContext(profile, {
    executablePath: process.env.CHROMIUM || "/usr/bin/chromium",
    headless: true,
    viewport: { width: 1000, height: 1400 },
    args: ["--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run", "--disable-background-networking",
      "--disable-component-update", "--disable-sync"],
  });
  const page = await browser.newPage();
  const problems = [];
  page.on("pageerror", (e) => problems.push(e.message));

  const shot = async (name) => {
    number++;
    await page.screenshot({ path: `${shots}/${String(number).padStart(2, "0")}-${name}.png` });
  };
  const done = async (what) => console.log(`ok    ${what}`);
  const inPage = (f, arg) => page.evaluate(f, arg);
  const idle = () => until("an idle kernel with no cell waiting", () => inPage(() =>
    document.querySelector(".kernel_idle_icon") && ![...document.querySelectorAll(".input_prompt")].some((p) => p.textContent.includes("[*]"))));
  const cellText = (i) => inPage((i) => Jupyter.notebook.get_cell(i).element.find(".output").text(), i);
  const counts = () => inPage(() => Jupyter.notebook.get_cells().filter((c) => c.cell_type === "code").map((c) => c.input_prompt_number || null));
  const menu = async (top, item) => {
    await page.click(`#menus >> text="${top}"`);
    await page.click(item);
  };
  const indexOf = (word) => inPage((word) => Jupyter.notebook.get_cells().findIndex((c) => c.get_text().includes(word)), word);
  const freshCell = async (code) => {
    await inPage(() => {
      const nb = Jupyter.notebook;
      nb.insert_cell_at_bottom("code");
      nb.select(nb.ncells() - 1);
      nb.edit_mode();
    });
    await page.keyboard.type(code);
    return inPage(() => Jupyter.notebook.ncells() - 1);
  };

  await until("the server", () => page.goto(`${base}/notebooks/browser.ipynb?token=${token}`));
  await until("a connected kernel", () => inPage(() => window.Jupyter && Jupyter.notebook && Jupyter.notebook.kernel && Jupyter.notebook.kernel.is_connected()));
  await idle();
  assert.strictEqual(await page.textContent(".kernel_indicator_name"), "Rotorhum (Go)");
  await shot("open");
  await done("the notebook opens with the kernel");

  assert(await inPage(() => document.querySelectorAll(".cm-keyword").length > 0), "code is not coloured as Go");
  await done("code is coloured");

  await menu("Cell", "#run_all_cells a");
  await until("a result of every cell", async () => (await counts()).every((n) => n > 0));
  await idle();
  const failures = await inPage(() => [...document.querySelectorAll(".output_error")].map((e) => e.textContent));
  assert.deepStrictEqual(failures, [], "cells failed");
  assert((await cellText(await indexOf("7*pulses"))).includes("tone 35 Hz"), "printed text is missing");
  const sizes = await inPage(() => [...document.querySelectorAll(".output img, .output svg")].map((p) => p.naturalWidth || p.getBoundingClientRect().width));
  assert(sizes.length >= 1 && sizes.every((w) => w > 10), `pictures are not shown: ${sizes}`);
  await shot("run-all");
  await done(`run all: ${(await counts()).length} cells, ${sizes.length} pictures`);

  await page.keyboard.press("Escape");
  await page.keyboard.press("Control+s");
  await until("the saved notebook", () => inPage(() => !Jupyter.notebook.dirty));
  await done("save");

  let cell = await freshCell("strings.Repe");
  await page.keyboard.press("Tab");
  await until("the completed word", () => inPage((i) => Jupyter.notebook.get_cell(i).get_text() === "strings.Repeat", cell));
  await page.keyboard.press("Control+a");
  await page.keyboard.type("strings.To");
  await page.keyboard.press("Tab");
  await until("the list of completions", () => inPage(() => (document.querySelector(".completions select") || {}).length > 3));
  await shot("complete");
  await page.keyboard.press("Escape");
  await done("complete");

  cell = await freshCell("strings.Repeat(");
  await page.keyboard.press("Shift+Tab");
  await until("the tooltip", () => inPage(() => {
    const t = document.querySelector("#tooltip");
    return t && t.offsetHeight > 0 && t.textContent.includes("count int");
  }));
  await shot("shift-tab");
  await page.keyboard.press("Escape");
  await done("shift-tab shows signature and comment");

  cell = await freshCell("for i := 0; ; i++ {");
  await inPage((i) => Jupyter.notebook.get_cell(i).set_text("for i := 0; ; i++ {\n}"), cell);
  await page.keyboard.press("Control+Enter");
  await until("a busy kernel", () => inPage(() => document.querySelector(".kernel_busy_icon")));
  await page.click("button[data-jupyter-action='jupyter-notebook:interrupt-kernel']");
  await until("the interrupted cell", async () => (await cellText(cell)).includes("Interrupted"));
  await idle();
  await shot("interrupt");
  cell = await freshCell("pulses");
  await page.keyboard.press("Control+Enter");
  await until("the state after the interrupt", async () => (await cellText(cell)).includes("5"));
  await done("interrupt ends the loop and keeps the session");

  // The cells added above would fail or run for ever: take them out again.
  await inPage(() => {
    const nb = Jupyter.notebook;
    const first = nb.get_cells().findIndex((c) => c.get_text().startsWith("strings.To"));
    while (nb.ncells() > first) nb.delete_cell(nb.ncells() - 1);
  });
  await menu("Kernel", "#restart_run_all a");
  await page.click(".modal.in .btn-danger");
  await until("new counts", async () => (await counts()).every((n, i) => n === i + 1));
  const last = await indexOf("FINISHED");
  await until("what the last cell prints", async () => (await cellText(last)).includes("finished"));
  await idle();
  await shot("restart-and-run-all");
  await done("restart and run all");

  await page.keyboard.press("Escape");
  await page.keyboard.press("Control+s");
  await until("the saved notebook", () => inPage(() => !Jupyter.notebook.dirty));
  assert.deepStrictEqual(problems, [], "errors in the page");
  await browser.close();
}

main().catch((e) => {
  console.error(`FAIL  ${e.message}`);
  process.exit(1);
});
