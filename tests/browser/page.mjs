// The service's page in a real browser: `node page.mjs PROGRAM FOLDER`; pictures of every page are left in FOLDER.
//
// It knows nothing of the program but its command, the files it reads and what stands on the page.

import assert from "node:assert/strict";
import { existsSync, mkdirSync, readFileSync, rmSync, writeFileSync } from "node:fs";
import { join } from "node:path";
import { browser, complaints, config, context, elsewhere, folder, look, pictures, serve, step, steps } from "./shared.mjs";

mkdirSync(join(folder, "plans"));

// A plan that one second measures, and one that goes on until it is stopped.
const plan = (name, channels) =>
  writeFileSync(
    join(folder, "plans", `${name}.yaml`),
    `plan: ${name}
rule: us-part-97
unit: { model: FH-2, rated_power: 5 W }
supply: [ { name: battery, set: 7.4 V, limit: 2.5 A } ]
channels:
${channels.map((mhz) => `  - { name: "${mhz}", carrier: ${mhz} MHz, power: { high: 4..5.5 W } }`).join("\n")}
measure: { harmonics: { up_to: 3 } }
`,
  );
plan("short", ["144.2"]);
plan("long", ["144.2", "145.2", "146.2", "147.2"]);
const bench = (name, clock) => {
  const text = readFileSync(join(config, "benches/demo.yaml"), "utf8").replaceAll("../paths", join(config, "paths"));
  const changed = text.replace(/clock: \w+/, `clock: ${clock}`);
  assert.match(changed, new RegExp(`clock: ${clock}`));
  writeFileSync(join(folder, `${name}.yaml`), changed);
};
bench("quick", "fast");
bench("slow", "real");
writeFileSync(
  join(folder, "service.yaml"),
  `service: Browser test
listen: 127.0.0.1:0
data: data
plans: plans
benches:
  - { name: quick, file: quick.yaml }
  - { name: slow, file: slow.yaml }
`,
);

let service = await serve();
const address = service.address;
const token = readFileSync(join(folder, "data/token"), "utf8").trim();

async function ask(page, benchName, planName, firmware = "") {
  await page.goto(address);
  await page.getByRole("combobox", { name: /^Bench/ }).selectOption(benchName);
  await page.getByRole("combobox", { name: /^Plan/ }).selectOption(planName);
  await page.getByRole("textbox", { name: /^Firmware/ }).fill(firmware);
  await page.getByRole("button", { name: "Put into the queue" }).click();
  await page.waitForURL(address);
}

// On a narrow screen what a row came to stands within the window, at the head of its card.
async function leads(page, rows) {
  await page.setViewportSize({ width: 390, height: 900 });
  const places = await page.locator(rows).evaluateAll((found) =>
    found.map((row) => {
      const [of, all] = [row.querySelector("td.leads").getBoundingClientRect(), row.getBoundingClientRect()];
      return { left: of.left, right: of.right, below: of.top - all.top, row: all.right };
    }),
  );
  assert.ok(places.length > 0, `no rows in ${rows}`);
  for (const place of places)
    assert.ok(place.left >= 0 && place.right <= place.row && place.row <= 390 && place.below < 30, JSON.stringify(place));
  await page.setViewportSize({ width: 1280, height: 900 });
}

// After a stop nothing keys until somebody lets the bench take work again.
async function lift(page, name) {
  await card(page, name).getByText("stopped by hand").waitFor();
  await card(page, name).getByRole("button", { name: "Take work again" }).click();
  await card(page, name).getByText("stopped by hand").waitFor({ state: "hidden" });
}

const card = (page, name) => page.locator(`#bench-${name}`);
const newest = (page) => page.locator("#queue tbody tr").first();

try {
  const visitor = await context();
  const page = await visitor.newPage();

  await step("a wrong token is refused", async () => {
    await page.goto(address);
    assert.equal(new URL(page.url()).pathname, "/enter");
    await look(page, "enter");
    await page.getByLabel(/^Token/).fill("wrong");
    await page.getByRole("button", { name: "Enter" }).click();
    await page.getByRole("alert").waitFor();
    await look(page, "enter-refused");
    const answer = await fetch(new URL("/api/queue", address), {
      method: "POST",
      headers: { Authorization: "Bearer wrong", "Content-Type": "application/json" },
      body: JSON.stringify({ bench: "quick", plan: "short" }),
    });
    assert.equal(answer.status, 401);
    assert.equal((await visitor.cookies()).length, 0);
  });

  await step("the link with the token leads in, and leaves it nowhere", async () => {
    await page.goto(`${address}#${token}`);
    await page.getByRole("heading", { name: "Benches" }).waitFor();
    assert.ok(!page.url().includes(token));
    const [cookie] = await visitor.cookies();
    assert.ok(cookie.httpOnly && cookie.sameSite === "Strict");
    await look(page, "benches-idle");
  });

  await step("the keyboard comes to `Stop all` first", async () => {
    await page.goto(address);
    await page.keyboard.press("Tab");
    const focused = await page.evaluate(() => document.activeElement.textContent);
    assert.match(focused, /Stop all: key up/);
  });

  await step("a run is asked for, finishes, and its report opens", async () => {
    await ask(page, "quick", "short");
    await newest(page).getByRole("link", { name: /complies|exceeds/ }).waitFor();
    await look(page, "benches-done");
    await leads(page, "#queue tbody tr");
    await newest(page).getByRole("link").click();
    await page.getByRole("heading", { name: /^Run / }).waitFor();
    await look(page, "run");
    await page.getByRole("link", { name: "Report", exact: true }).click();
    await page.getByRole("heading", { level: 1 }).waitFor();
    assert.ok((await page.locator("body").innerText()).includes("us-part-97"));
    await look(page, "report", { document: true });
  });

  await step("markup in a name makes no element", async () => {
    const firmware = "<img src=x onerror=alert(1)>";
    await ask(page, "quick", "short", firmware);
    await newest(page).getByRole("link", { name: /complies|exceeds/ }).waitFor();
    assert.ok((await newest(page).innerText()).includes(firmware));
    await newest(page).getByRole("link").click();
    await page.getByRole("link", { name: "Report", exact: true }).click();
    assert.equal(await page.locator("img[src='x']").count(), 0);
    assert.ok((await page.locator("body").innerText()).includes(firmware));
  });

  await step("a run in real time shows its key and its sweep, and is stopped with key up", async () => {
    await ask(page, "slow", "long");
    await page.goto(new URL("/benches/slow", address).href);
    await page.getByText("▼ KEY DOWN").waitFor();
    await look(page, "bench-keyed");
    await page.locator("#plot canvas").waitFor();
    assert.match(await page.locator("#plot-words").innerText(), /Reading \d+, .*: highest -?[\d.]+ dBm/);
    await page.getByText("The same as a table").click();
    await page.locator("#plot-table tbody tr").nth(100).waitFor();
    await page.getByText("The same as a table").click();
    await look(page, "bench-live");
    // Another tab stops it; this one sees it.
    const other = await visitor.newPage();
    await other.goto(address);
    await other.getByRole("button", { name: "■ Stop slow" }).click();
    await other.locator("#queue tbody tr").first().getByText("stopped", { exact: true }).waitFor();
    await card(page, "slow").getByText("△ key up").waitFor();
    await card(page, "slow").getByText("waits for work").waitFor();
    await look(other, "benches-stopped");
    await ask(other, "slow", "long", "3.0");
    await ask(other, "slow", "short");
    await other.getByText("waits: its bench is paused").first().waitFor();
    await look(other, "benches-paused");
    const [first, withdraw] = await Promise.all(
      ["First", "Withdraw"].map((name) => other.getByRole("button", { name }).first().boundingBox()),
    );
    assert.equal(first.y, withdraw.y, "`First` and `Withdraw` stand side by side");
    for (let left = 2; left > 0; left -= 1) {
      await other.getByRole("button", { name: "Withdraw" }).first().click();
      await other.waitForURL(address);
    }
    await other.close();
    await lift(page, "slow");
  });

  await step("without scripts the state is readable, and `Stop all` works", async () => {
    await ask(page, "slow", "long");
    await page.getByText("▼ KEY DOWN").waitFor();
    const bare = await context({ javaScriptEnabled: false, storageState: await visitor.storageState() });
    const plain = await bare.newPage();
    await plain.goto(address);
    assert.ok((await plain.locator("#bench-slow").innerText()).includes("measures"));
    await plain.getByRole("button", { name: "■ Stop all: key up" }).click();
    await newest(page).getByText("stopped", { exact: true }).waitFor();
    await bare.close();
    await page.goto(address);
    for (const name of ["quick", "slow"]) await lift(page, name);
  });

  await step("two runs are compared, three looked at as a batch", async () => {
    await page.goto(new URL("/runs", address).href);
    await look(page, "runs");
    await leads(page, "tbody tr");
    const boxes = page.getByRole("checkbox");
    // The newest first: the last two are the ones that finished.
    const count = await boxes.count();
    await boxes.nth(count - 1).check();
    await boxes.nth(count - 2).check();
    await page.getByRole("button", { name: "Compare two" }).click();
    await page.getByRole("heading", { name: /^What changed: / }).waitFor();
    await look(page, "compare", { document: true });
    await page.getByRole("link", { name: "Back to the runs" }).click();
    await page.getByRole("heading", { name: "Runs" }).waitFor();
    await page.getByRole("button", { name: "Compare two" }).click();
    await page.getByRole("heading", { name: "That was not done" }).waitFor();
    await look(page, "not-marked");
    await page.getByRole("link", { name: "Back to the runs" }).click();
    for (const place of [1, 2]) await boxes.nth(count - place).check();
    await page.getByRole("button", { name: "Look at them as a batch" }).click();
    await page.getByRole("heading", { level: 1 }).waitFor();
    await look(page, "batch", { document: true });
  });

  await step("the sweep of a reading that was finished before is drawn", async () => {
    await page.goto(new URL("/benches/quick", address).href);
    await page.getByText(/^Reading \d+, .* highest/).waitFor();
    await page.locator("#plot canvas").waitFor();
    await look(page, "bench-rests");
  });

  await step("a stopped run goes on on its own bench, and is stopped again", async () => {
    await page.goto(address);
    await page.locator("#queue tbody tr").filter({ hasText: "stopped" }).first().getByRole("link").click();
    const fitting = page.getByRole("combobox", { name: /Go on with it on/ });
    assert.deepEqual(await fitting.locator("option").allInnerTexts(), ["slow"]);
    await look(page, "run-stopped");
    await page.goto(address);
    const row = page.locator("#queue tbody tr").filter({ hasText: "stopped" }).first();
    await row.getByRole("button", { name: "Go on" }).click();
    await page.getByText("▼ KEY DOWN").waitFor();
    await newest(page).getByText("goes on now").waitFor();
    await page.getByRole("button", { name: "■ Stop slow" }).click();
    await newest(page).getByText("stopped", { exact: true }).waitFor();
  });

  await step("a service that dies is told within 3 s, and what was missed is caught up", async () => {
    await page.goto(address);
    service.child.kill("SIGKILL");
    await service.ended;
    await page.getByText("No connection to the service").waitFor({ timeout: 3_000 });
    await look(page, "cut");
    service = await serve(new URL(address).host);
    await page.getByText("No connection to the service").waitFor({ state: "hidden", timeout: 15_000 });
    const queued = await fetch(new URL("/api/queue", address), {
      method: "POST",
      headers: { Authorization: `Bearer ${token}`, "Content-Type": "application/json" },
      body: JSON.stringify({ bench: "quick", plan: "short" }),
    });
    assert.equal(queued.status, 201);
    await newest(page).getByRole("link", { name: /complies|exceeds/ }).waitFor();
  });

  await step("whoever leaves is asked for the token again", async () => {
    await page.goto(address);
    await page.getByRole("button", { name: "Leave" }).click();
    await page.goto(address);
    assert.equal(new URL(page.url()).pathname, "/enter");
  });

  await step("told to end, the service ends by itself", async () => {
    service.child.kill("SIGTERM");
    assert.equal(await service.ended, 0);
    assert.ok(!service.log().includes(token), "the token is in the log");
  });

  assert.deepEqual(elsewhere, [], "something was asked for elsewhere");
  assert.deepEqual(complaints, [], "the browser complained");
  console.log(`${steps.length} of ${steps.length} steps; pictures in ${pictures}`);
} catch (error) {
  const queue = await fetch(new URL("/api/queue", address), { headers: { Authorization: `Bearer ${token}` } });
  console.error(await queue.text());
  console.error(service.log().split("\n").slice(-15).join("\n"));
  throw error;
} finally {
  await browser.close();
  service.child.kill("SIGKILL");
  if (existsSync(folder)) rmSync(folder, { recursive: true, maxRetries: 5 });
}
