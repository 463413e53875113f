// What every test of the service's pages in a real browser needs: a folder, the service, the browser, a look at a page.
//
// `node TEST.mjs PROGRAM FOLDER`; pictures of every page are left in FOLDER. It knows nothing of the program but its command
// and what it says at its start.

import assert from "node:assert/strict";
import { spawn } from "node:child_process";
import { mkdirSync, mkdtempSync, readFileSync } from "node:fs";
import { createRequire } from "node:module";
import { tmpdir } from "node:os";
import { join, resolve } from "node:path";
import { chromium } from "playwright-core";

const [program, pictures] = [resolve(process.argv[2]), resolve(process.argv[3])];
export { pictures };
export const config = resolve(import.meta.dirname, "../../config");
const axe = readFileSync(createRequire(import.meta.url).resolve("axe-core/axe.min.js"), "utf8");
const WIDTHS = { wide: 1280, narrow: 390 };

export const folder = mkdtempSync(join(tmpdir(), "page-"));
mkdirSync(pictures, { recursive: true });

// --- the service ------------------------------------------------------------------------------------------------

export async function serve(listen = "127.0.0.1:0") {
  const child = spawn(program, ["serve", join(folder, "service.yaml"), "--listen", listen, "--log", "json"], {
    stdio: ["ignore", "ignore", "pipe"],
  });
  let log = "";
  const address = await new Promise((found, failed) => {
    child.stderr.on("data", (bytes) => {
      log += bytes;
      const told = /the page is at (http:\/\/\S+?)"/.exec(log);
      if (told) found(told[1]);
    });
    child.on("exit", (code) => failed(new Error(`the service ended with ${code}:\n${log}`)));
  });
  const ended = new Promise((done) => child.on("exit", done));
  return { address, child, ended, log: () => log };
}

// --- the browser ------------------------------------------------------------------------------------------------

export const browser = await chromium.launch({
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
export const complaints = [];
export const elsewhere = [];

export async function context(options = {}) {
  const made = await browser.newContext({ viewport: { width: WIDTHS.wide, height: 900 }, ...options });
  made.setDefaultTimeout(15_000);
  await made.route("**/*", (route) => {
    if (new URL(route.request().url()).hostname === "127.0.0.1") return route.continue();
    elsewhere.push(route.request().url());
    return route.abort();
  });
  made.on("dialog", (dialog) => {
    complaints.push(`a dialog: ${dialog.message()}`);
    dialog.dismiss();
  });
  made.on("console", (message) => {
    if (message.type() === "error" && /Content Security Policy|is not defined|TypeError/.test(message.text()))
      complaints.push(message.text());
  });
  made.on("weberror", (error) => complaints.push(String(error.error())));
  return made;
}

// A picture in both widths, light and dark, and printed; nothing may be wider than the window, and a checker of accessibility finds nothing grave.
export async function look(page, name, { document: isDocument = false, anything = false } = {}) {
  for (const [width, pixels] of Object.entries(WIDTHS)) {
    await page.setViewportSize({ width: pixels, height: 900 });
    await page.waitForTimeout(150);
    const wide = await page.evaluate(() => document.documentElement.scrollWidth - innerWidth);
    assert.ok(wide <= 0, `${name} is ${wide} pixels too wide at ${pixels}`);
    await page.screenshot({ path: join(pictures, `${name}-${width}.png`), fullPage: true });
    if (!isDocument) {
      await page.emulateMedia({ colorScheme: "dark" });
      await page.screenshot({ path: join(pictures, `${name}-${width}-dark.png`), fullPage: true });
      await page.emulateMedia({ colorScheme: null });
    }
  }
  await page.pdf({ path: join(pictures, `${name}.pdf`), format: "A4" });
  await page.setViewportSize({ width: WIDTHS.wide, height: 900 });
  if (!isDocument) {
    await accessible(page, name, anything);
    await page.emulateMedia({ colorScheme: "dark" });
    await accessible(page, `${name}, dark,`, anything);
    return page.emulateMedia({ colorScheme: null });
  }
  // A document runs nothing, not even a checker: that looks at a copy.
  const copy = await page.context().newPage();
  await copy.setContent(await page.content());
  await accessible(copy, name);
  await copy.close();
}

export async function accessible(page, name, anything = false) {
  // Put in by the debugger: the page's own policy forbids every script but the service's, as it should.
  const session = await page.context().newCDPSession(page);
  await session.send("Runtime.evaluate", { expression: axe });
  const found = await page.evaluate(() => globalThis.axe.run(document, { resultTypes: ["violations"] }));
  const grave = found.violations.filter((one) => anything || ["serious", "critical"].includes(one.impact));
  assert.deepEqual(
    grave.map((one) => `${one.id}: ${one.nodes.map((node) => node.html).join(" ")}`),
    [],
    `${name} is not accessible`,
  );
  await session.detach();
}

export const steps = [];
export async function step(name, does) {
  const began = performance.now();
  await does();
  steps.push(name);
  console.log(`ok  ${name} (${((performance.now() - began) / 1000).toFixed(1)} s)`);
}
