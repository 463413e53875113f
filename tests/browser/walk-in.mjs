// The page of a test day in a real browser: `node walk-in.mjs PROGRAM FOLDER`; pictures are left in FOLDER.
//
// Whoever holds the day has a keyboard and nothing else. The radios are simulated, on the wall's clock.

import assert from "node:assert/strict";
import { existsSync, mkdirSync, readFileSync, rmSync, writeFileSync } from "node:fs";
import { join } from "node:path";
import { browser, complaints, config, context, elsewhere, folder, look as lookAt, pictures, serve, step, steps } from "./shared.mjs";

// The shipped bench, with one more radio whose owner does not let go; the reference radio is not asked for.
const read = (name) => readFileSync(join(config, name), "utf8");
const replaced = (text, from, to) => {
  assert.ok(text.includes(from), from);
  return text.replace(from, to);
};
const JAMS = `    - serial: JAM-1
      model: FH-2
      firmware: 1.0.0
      range: 118 MHz..174 MHz
      tuned_to: 147.0 MHz
      powers: { high: 4.0 W }
      hand: { lets_go: false }
`;
let bench = replaced(read("benches/walk-in.yaml"), "clock: fast ", "clock: real ");
bench = replaced(bench, "    # Left on a distress frequency.", `${JAMS}    # Left on a distress frequency.`);
writeFileSync(join(folder, "door.yaml"), bench);
const day = replaced(read("days/demo.yaml"), "../benches/walk-in.yaml", "door.yaml");
writeFileSync(join(folder, "day.yaml"), day.replace(/^reference: .*$/m, ""));
mkdirSync(join(folder, "plans"));
writeFileSync(join(folder, "plans/short.yaml"), read("plans/demo.yaml").replace("../benches/", join(config, "benches/")));
writeFileSync(
  join(folder, "service.yaml"),
  `service: Test day in a browser
listen: 127.0.0.1:0
data: data
plans: plans
benches:
  - { name: door, file: door.yaml, day: day.yaml }
`,
);

let service = await serve();
const address = service.address;
const door = new URL("/walk-in/door", address).href;
const token = readFileSync(join(folder, "data/token"), "utf8").trim();
const LONG = { timeout: 40_000 };
// On these pages the checker of accessibility finds nothing at all.
const look = (page, name) => lookAt(page, name, { anything: true });

try {
  const visitor = await context();
  const page = await visitor.newPage();
  const large = (word) => page.locator("#door .large", { hasText: word });
  const row = (number) => page.locator("#door tbody tr").filter({ has: page.locator(`td:first-child:text-is("${number}")`) });
  // A keyboard alone: the line is where the cursor is, whatever the page has shown meanwhile.
  const type = async (line) => {
    assert.equal(await page.evaluate(() => document.activeElement?.getAttribute("name")), "line", "the cursor is in the line");
    await page.keyboard.type(line);
    await page.keyboard.press("Enter");
  };

  await step("a wrong token is refused, and nothing is typed without one", async () => {
    await page.goto(door);
    assert.equal(new URL(page.url()).pathname, "/enter");
    await page.keyboard.type("wrong");
    await page.keyboard.press("Enter");
    await page.getByRole("alert").waitFor();
    const answer = await fetch(new URL("/act/walk-in", address), {
      method: "POST",
      redirect: "manual",
      headers: { Authorization: "Bearer wrong", "Content-Type": "application/x-www-form-urlencoded" },
      body: "bench=door&line=W-0001",
    });
    assert.equal(answer.status, 401);
  });

  await step("the link leads to the day, and no run is offered on its bench", async () => {
    await page.goto(`${address}#${token}`);
    await page.getByRole("heading", { name: "Benches" }).waitFor();
    assert.equal(await page.getByRole("button", { name: "Put into the queue" }).count(), 0);
    await look(page, "door-benches");
    await page.getByRole("link", { name: "Test day" }).first().click();
    await page.getByRole("heading", { name: "Demonstration day, Club house, main hall" }).waitFor();
    await page.getByText("next radio: connect it").waitFor();
    await look(page, "door-waits");
  });

  await step("a label is typed: KEY NOW, and LET GO in time although nobody was seen to key", async () => {
    await type("X3GHI W-0003");
    await large("KEY NOW").waitFor();
    await look(page, "door-key-now");
    await large("LET GO").waitFor(LONG);
    await large("NOT KEYED").waitFor(LONG);
    assert.ok((await row(1).innerText()).includes("X3GHI, W-0003"));
  });

  await step("a radio that complies: keyed twice, let go twice, a verdict and a slip", async () => {
    const told = [];
    await page.exposeFunction("told", (word) => told.push(word));
    await page.evaluate(() => {
      let last = "";
      new MutationObserver(() => {
        const word = document.querySelector("#door .large")?.textContent ?? "";
        if (word !== last) globalThis.told(word);
        last = word;
      }).observe(document.querySelector("main"), { childList: true, subtree: true });
    });
    // A form would load the page anew, and the observer would be gone with the page that it stands on.
    await page.evaluate(() =>
      fetch("/act/walk-in", { method: "POST", body: new URLSearchParams({ bench: "door", line: "X1ABC W-0001" }) }),
    );
    await large("COMPLIES").waitFor(LONG);
    const keyed = told.filter((word) => ["KEY NOW", "LET GO"].includes(word));
    assert.deepEqual(keyed, ["KEY NOW", "LET GO", "KEY NOW", "LET GO"], told.join(", "));
    assert.ok((await page.getByLabel("slip", { exact: true }).innerText()).includes("INDICATIVE, NOT A CERTIFICATION"));
    // To be read at three metres: by common practice a letter is a two-hundredth of that high.
    const high = await large("COMPLIES").evaluate((word) => Number.parseFloat(getComputedStyle(word).fontSize));
    assert.ok(high >= 100, `${high} pixels`);
    await look(page, "door-complies");
  });

  await step("a wrong call sign is corrected, and both stay", async () => {
    await page.goto(door);
    await type("c X1ABD");
    await page.getByText("`X1ABC, W-0001` was noted, `X1ABD, W-0001` holds").waitFor();
    assert.ok((await row(2).innerText()).includes("X1ABD, W-0001"));
    await page.locator("#door p", { hasText: "no. 2 X1ABD, W-0001" }).waitFor();
    assert.ok((await page.getByLabel("slip", { exact: true }).innerText()).includes("X1ABD, W-0001"), "on the slip as well");
    await type("c 2");
    await page.getByText("expected what is right about visit 2").waitFor();
    await look(page, "door-corrected");
  });

  await step("the same label in another spelling is noticed", async () => {
    await type("x1 abd");
    await page.getByText("visit 2 was `X1ABD, W-0001`: complies").waitFor();
    await look(page, "door-came-before");
    await type("r");
    await page.getByText("next radio: connect it").waitFor();
  });

  await step("a radio that exceeds", async () => {
    await type("serial:W-0002");
    await large("EXCEEDS").waitFor(LONG);
    await look(page, "door-exceeds");
  });

  await step("`d`, `?` and `q` do something sensible", async () => {
    await type("d");
    const so_far = page.getByLabel("the day so far");
    await so_far.waitFor();
    assert.ok((await so_far.innerText()).includes("3 visits: 1 complies, 1 exceeds, 1 not keyed"));
    await look(page, "door-day");
    await type("help");
    await page.getByText("measure the last one again").waitFor();
    await look(page, "door-help");
    await type("quit");
    await page.getByText("the page does not end the day").waitFor();
  });

  await step("a carrier that stays stands there, also once the service has begun anew", async () => {
    await type("JAM-1");
    await page.getByText("A CARRIER IS STILL THERE").waitFor(LONG);
    await large("LET GO").waitFor();
    await look(page, "door-stays");
    service.child.kill("SIGTERM");
    assert.equal(await service.ended, 0);
    service = await serve(new URL(address).host);
    await page.goto(door);
    if (new URL(page.url()).pathname === "/enter") await page.goto(`${address}#${token}`);
    await page.goto(door);
    await page.getByText("A CARRIER IS STILL THERE").waitFor(LONG);
    await type("W-0001");
    await page.getByText("nobody is told to key while a carrier is still there").waitFor();
    await type("off");
    await page.getByText("next radio: connect it").waitFor();
  });

  await step("without scripts the day is read, and a line is taken", async () => {
    const bare = await context({ javaScriptEnabled: false, storageState: await visitor.storageState() });
    const plain = await bare.newPage();
    await plain.goto(door);
    assert.ok((await plain.locator("#door").innerText()).includes("4 visits: 1 complies, 1 exceeds, 1 not keyed, 1 failed"));
    await plain.getByLabel(/^Call sign/).fill("r 2");
    await plain.getByRole("button", { name: "Enter" }).click();
    await plain.waitForURL(door);
    await plain.goto(door);
    assert.ok((await plain.locator(".slip").first().innerText()).includes("no. 2"));
    await bare.close();
  });

  await step("told to end, the service ends by itself", async () => {
    service.child.kill("SIGTERM");
    assert.equal(await service.ended, 0);
  });

  assert.deepEqual(elsewhere, [], "something was asked for elsewhere");
  assert.deepEqual(complaints, [], "the browser complained");
  console.log(`${steps.length} of ${steps.length} steps; pictures in ${pictures}`);
} catch (error) {
  console.error(service.log().split("\n").slice(-15).join("\n"));
  throw error;
} finally {
  await browser.close();
  service.child.kill("SIGKILL");
  if (existsSync(folder)) rmSync(folder, { recursive: true, maxRetries: 5 });
}
