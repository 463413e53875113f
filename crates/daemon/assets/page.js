// Keeps a page up to date with what happens on the benches. Everything it shows comes as finished HTML from the service,
// or is set as text; without it the page shows what was when it was loaded, and every button works.

const cut = document.getElementById("cut");
const spoken = document.getElementById("spoken");
const due = new Map();
const AGAIN = 250;

// At most so often, and what came last is done last.
function soon(what, does) {
  if (due.has(what)) { due.set(what, does); return; }
  due.set(what, null);
  does();
  setTimeout(() => {
    const last = due.get(what);
    due.delete(what);
    if (last) soon(what, last);
  }, AGAIN);
}

async function fragment(place, address) {
  if (!place) return;
  // That the service cannot be reached is told where its events are missed.
  const answer = await fetch(address, { headers: { Accept: "text/html" } }).catch(() => null);
  if (!answer) return;
  if (answer.redirected || answer.status === 401) { location.assign("/enter"); return; }
  if (!answer.ok) return;
  const made = new DOMParser().parseFromString(await answer.text(), "text/html").body;
  const focused = document.activeElement?.closest("form")?.getAttribute("action");
  place.replaceChildren(...made.childNodes);
  if (focused) place.querySelector(`form[action="${CSS.escape(focused)}"] button`)?.focus();
}

function bench(name) {
  const place = document.getElementById(`bench-${name}`);
  if (!place) return;
  soon(`bench ${name}`, async () => {
    const before = place.classList.contains("keyed");
    const holder = document.createElement("div");
    await fragment(holder, `/fragments/benches/${encodeURIComponent(name)}`);
    const made = holder.firstElementChild;
    if (!made) return;
    const now = document.getElementById(`bench-${name}`);
    const focused = now.contains(document.activeElement) ? document.activeElement.closest("form")?.getAttribute("action") : null;
    now.replaceWith(made);
    if (focused) made.querySelector(`form[action="${CSS.escape(focused)}"] button`)?.focus();
    const keyed = made.classList.contains("keyed");
    if (spoken && keyed !== before) spoken.textContent = keyed ? `${name}: key down` : `${name}: key up`;
    tick();
  });
}

// The sweep of the reading that was finished last: whoever comes after it sees it too.
async function sweep() {
  const name = document.getElementById("plot")?.dataset.bench;
  if (name === undefined) return;
  const before = drawn;
  const answer = await fetch(`/fragments/benches/${encodeURIComponent(name)}/trace`).catch(() => null);
  if (answer?.status !== 200 || answer.redirected) return;
  const trace = await answer.json();
  // What was told meanwhile is newer.
  if (drawn === before) draw(trace);
}

function queue() {
  const place = document.getElementById("queue");
  if (place) soon("queue", () => fragment(place, "/fragments/queue"));
}

// A short tone: whoever holds a radio looks at that, and hears.
// Browsers let a page sound once somebody has touched it.
let sounds = null;
function wake() {
  try { sounds ??= new AudioContext(); } catch { return; }
  if (sounds.state === "suspended") sounds.resume().catch(() => {});
}
for (const gesture of ["pointerdown", "keydown", "submit"]) addEventListener(gesture, wake, { capture: true });
function sound(hertz, times) {
  wake();
  const asked = Date.now();
  // One that sleeps wakes a moment later, or only when it is touched: what was to be heard long before is not.
  sounds?.resume().then(() => { if (Date.now() - asked < 900) play(hertz, times); }).catch(() => {});
}
function play(hertz, times) {
  for (let place = 0; place < times; place += 1) {
    const tone = sounds.createOscillator();
    const level = sounds.createGain();
    const from = sounds.currentTime + place * 0.3;
    tone.frequency.value = hertz;
    level.gain.value = 0.25;
    tone.connect(level).connect(sounds.destination);
    tone.start(from);
    tone.stop(from + 0.2);
  }
}
if (document.getElementById("door")) wake();

// What whoever holds the radio is told, and the verdict.
function door(name) {
  const place = document.getElementById("door");
  if (!place || place.dataset.day !== name) return;
  soon(`door ${name}`, async () => {
    const holder = document.createElement("div");
    await fragment(holder, `/fragments/walk-in/${encodeURIComponent(name)}`);
    const made = holder.firstElementChild;
    const before = document.getElementById("door");
    if (!made || !before) return;
    const { tells, verdict } = made.dataset;
    if (tells && tells !== before.dataset.tells) {
      if (tells === "LET GO") letGo();
      else sound(587, 1);
      if (spoken) spoken.textContent = tells;
    } else if (verdict && verdict !== before.dataset.verdict && spoken) {
      spoken.textContent = made.querySelector(".large")?.textContent ?? "";
    }
    before.replaceWith(made);
  });
}

// Again each second for as long as it stands: a thumb has no lease, and who keys may not look.
let sounded = 0;
function letGo() {
  if (Date.now() - sounded < 900) return;
  sounded = Date.now();
  sound(880, 3);
}
setInterval(() => {
  if (document.getElementById("door")?.dataset.tells === "LET GO") letGo();
}, 1000);

function everything() {
  const held = document.getElementById("door");
  if (held) door(held.dataset.day);
  document.querySelectorAll("article[data-bench]").forEach((card) => bench(card.dataset.bench));
  queue();
  sweep();
}

// How long a key has been down, by this machine's clock.
function tick() {
  for (const key of document.querySelectorAll(".key.down[data-since]")) {
    const held = Math.max(0, (Date.now() - Number(key.dataset.since)) / 1000);
    const place = key.querySelector(".held");
    if (place) place.textContent = `for ${held.toFixed(1)} s`;
  }
}
setInterval(tick, 100);

function local(root) {
  for (const time of root.querySelectorAll("time[datetime]")) {
    const at = new Date(time.dateTime);
    if (!Number.isNaN(at.getTime())) time.title = `${at.toLocaleString()} here`;
  }
}
local(document);

let plot = null;
let drawn = null;
function draw(trace) {
  const place = document.getElementById("plot");
  if (!place || trace.bench !== place.dataset.bench || !trace.trace || typeof uPlot === "undefined") return;
  drawn = trace;
  const style = getComputedStyle(document.documentElement);
  const colour = (name) => style.getPropertyValue(name).trim();
  const x = trace.trace.frequencies_hz.map((hertz) => hertz / 1e6);
  const y = trace.trace.levels_dbm;
  const limit = trace.limit_dbm === null ? null : x.map(() => trace.limit_dbm);
  const data = limit ? [x, y, limit] : [x, y];
  const axis = { stroke: colour("--ink"), grid: { stroke: colour("--rule") }, ticks: { stroke: colour("--rule") } };
  const series = [{ label: "MHz" }, { label: "dBm at the connector", stroke: colour("--mark"), width: 1 }];
  if (limit) series.push({ label: "limit", stroke: colour("--bad"), width: 2, dash: [8, 4] });
  const size = { width: place.clientWidth, height: 320 };
  plot?.destroy();
  plot = new uPlot({ ...size, scales: { x: { time: false } }, axes: [{ ...axis, label: "MHz" }, { ...axis, label: "dBm" }], series }, data, place);
  const peak = y.indexOf(Math.max(...y));
  const words = [`Reading ${trace.ordinal}, ${trace.title}: highest ${y[peak].toFixed(1)} dBm at ${x[peak].toFixed(4)} MHz`];
  if (trace.limit_dbm !== null) words.push(`limit ${trace.limit_dbm.toFixed(1)} dBm`);
  words.push(trace.outcome);
  document.getElementById("plot-words").textContent = words.join(", ");
  const rows = x.map((at, place) => {
    const row = document.createElement("tr");
    for (const text of [at.toFixed(4), y[place].toFixed(1)]) {
      const cell = document.createElement("td");
      cell.className = "n";
      cell.textContent = text;
      row.append(cell);
    }
    return row;
  });
  const table = document.querySelector("#plot-table tbody");
  if (table.closest("details").open) table.replaceChildren(...rows);
  else table.closest("details").ontoggle = () => table.replaceChildren(...rows);
}
// The colours are those of the moment at which it is drawn.
for (const media of ["(prefers-color-scheme: dark)", "print"])
  matchMedia(media).addEventListener("change", () => { if (drawn) draw(drawn); });
addEventListener("resize", () => {
  const place = document.getElementById("plot");
  if (plot && place) plot.setSize({ width: place.clientWidth, height: 320 });
});

function listen() {
  const source = new EventSource("/api/events");
  let was = false;
  source.onopen = () => {
    cut.hidden = true;
    // What happened between the making of the page and now, or while there was no connection.
    if (!was) everything();
    was = true;
  };
  source.onerror = () => {
    cut.hidden = false;
    was = false;
    if (source.readyState === EventSource.CLOSED) setTimeout(listen, 2000);
  };
  source.addEventListener("bench", (event) => bench(JSON.parse(event.data).name));
  source.addEventListener("queue", queue);
  source.addEventListener("walk-in", (event) => door(JSON.parse(event.data).name));
  source.addEventListener("trace", (event) => soon("trace", () => draw(JSON.parse(event.data))));
  source.addEventListener("anew", everything);
  source.addEventListener("ends", () => { cut.hidden = false; });
}
if (document.querySelector("article[data-bench], #door")) listen();
