// The report of the demo dry spot, in a real browser: node check.mjs GAPFRONT SCANS CHROMIUM PICTURES. Whatever fails is
// printed, and the exit code is 1. Pictures of the pages are left in PICTURES, to be looked at.
import { execFileSync } from "node:child_process";
import { mkdirSync, mkdtempSync, readFileSync, rmSync, writeFileSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import readCode from "jsqr";
import { chromium } from "playwright-core";
import { faintText } from "./contrast.mjs";
import { checkTrials } from "./trials.mjs";

const [program, scans, browser, pictures] = process.argv.slice(2);
const folder = mkdtempSync(join(tmpdir(), "gapfront-browser-"));
const fails = [];
const expect = (good, what) => { if (!good) fails.push(what); };

// mulberry32 (public domain), seeded: the same "random" nodes every time.
let seed = 7;
const random = () => {
  seed = (seed + 0x6d2b79f5) | 0;
  let t = Math.imul(seed ^ (seed >>> 15), 1 | seed);
  t = (t + Math.imul(t ^ (t >>> 7), 61 | t)) ^ t;
  return ((t ^ (t >>> 14)) >>> 0) / 4294967296;
};
const number = text => text.startsWith("–") ? NaN : Number(text.replace("−", "-").replace(/\s.*/u, ""));

// Each number that the readout speaks is that of result.json, rounded to the decimals shown.
function checkSentence(result, fields, node, text) {
  const values = result.sheet.fields, at = result.sheet.nodes_mm[node];
  const match = text.match(/^x (\S+), y (\S+), z (\S+) mm: ([a-z ]+) · (.*)$/u);
  if (!match) return `no such sentence: ${text}`;
  // Places are kept to 0.01 mm and spoken to 1 mm.
  for (let k = 0; k < 3; k++) if (Math.abs(number(match[k + 1]) - at[k]) > 0.506) return `place ${k} of node ${node}: ${text}`;
  const words = ["conforming", "undecided", "nonconforming", "not measured"];
  if (match[4] !== words[values.conformity[node]]) return `conformity of node ${node}: ${text}`;
  const parts = match[5].split(" · ");
  if (parts.length < 6) return `only ${parts.length} values: ${text}`;
  for (const part of parts) {
    const field = fields.filter(f => part.startsWith(f.title + " ")).sort((a, b) => b.title.length - a.title.length)[0];
    if (!field) return `unknown field: ${part}`;
    const spoken = number(part.slice(field.title.length + 1)), there = values[field.id][node];
    if (there === null ? !Number.isNaN(spoken)
      : !(Math.abs(spoken - there / ({ bar: 1e5, "%": 0.01 }[field.unit] || 1)) <= 0.5 / 10 ** field.decimals + 1e-6))
      return `node ${node}: "${part}", result.json has ${there}`;
  }
  return "";
}

// The gap along the cut x = level from result.json: triangle edges crossed, in order of y.
function reference(sheet, level) {
  const points = new Map();
  for (const t of sheet.triangles)
    for (let k = 0; k < 3; k++) {
      const [i, j] = [t[k], t[(k + 1) % 3]].sort((a, b) => a - b), a = sheet.nodes_mm[i], b = sheet.nodes_mm[j];
      if (a[0] < level === b[0] < level) continue;
      const w = (level - a[0]) / (b[0] - a[0]), mix = (p, q) => p + w * (q - p);
      points.set(`${i} ${j}`, { y: mix(a[1], b[1]), z: mix(a[2], b[2]), gap: mix(sheet.fields.gap_mm[i], sheet.fields.gap_mm[j]) });
    }
  const line = [...points.values()].sort((a, b) => a.y - b.y);
  line.forEach(p => { p.s = p.y - line[0].y; });  // as seen from above, so that a place stands under itself
  return line;
}
function at(line, s) {
  let k = 1;
  while (k < line.length - 1 && line[k].s < s) k++;
  const [a, b] = [line[k - 1], line[k]];
  return a.gap + (s - a.s) / (b.s - a.s) * (b.gap - a.gap);
}

// When the frames of a WebM file come, ms: EBML (RFC 8794) and Matroska (RFC 9559), read by itself.
function filmTimes(bytes, from = 0, to = bytes.length, cluster = { time: 0 }) {
  const out = [], whole = (at, n) => bytes.slice(at, at + n).reduce((sum, b) => 256 * sum + b, 0);
  for (let at = from; at < to;) {
    const long = Math.clz32(bytes[at]) - 23, id = whole(at, long), size = whole(at + long + 1, 7), body = at + long + 8;
    if (bytes[at + long] !== 1) return ["no size of eight bytes"];
    if (id === 0x18538067 || id === 0x1f43b675) out.push(...filmTimes(bytes, body, body + size, cluster));
    else if (id === 0xe7) cluster.time = whole(body, size);
    else if (id === 0xa3) out.push(cluster.time + whole(body + 1, 2));
    at = body + size;
  }
  return out;
}

// What the square code of a work order says, by a decoder that is not ours (npm jsqr): each module as 4 × 4 dots.
function squareCode(html) {
  const [, size, path] = html.match(/<svg class="square-code".*?viewBox="0 0 (\d+) .*?fill="#000" d="([^"]+)"/su) || [0, 0, ""];
  const across = 4 * size, dots = new Uint8ClampedArray(4 * across * across).fill(255);
  for (const [, x, y] of path.matchAll(/M(\d+) (\d+)h1v1h-1z/gu))
    for (let k = 0; k < 16; k++) {
      const dot = 4 * ((4 * y + (k >> 2)) * across + 4 * x + k % 4);
      dots.fill(0, dot, dot + 3);
    }
  return readCode.default(dots, across, across)?.data;
}

let chrome;
try {
  // The demo's job on a coarser sheet: a quarter of its time, the same page.
  const job = readFileSync(join(scans, "dry-spot.toml"), "utf8").replaceAll('file = "', `file = "${scans}/`).replace(/^edge = .*$/m, 'edge = "16 mm"\nmin_edge = "8 mm"').replace(/^\[flow\]$/m, "[flow]\nensemble = 16");
  writeFileSync(join(folder, "job.toml"), job);
  execFileSync(program, ["inspect", join(folder, "job.toml"), "--quiet", "--output", folder]);
  const result = JSON.parse(readFileSync(join(folder, "result.json"), "utf8"));
  chrome = await chromium.launch({ executablePath: browser, timeout: 60000,
    args: ["--use-angle=swiftshader", "--enable-unsafe-swiftshader", "--disable-background-networking"] });
  const page = await chrome.newPage({ viewport: { width: 390, height: 800 } });
  page.setDefaultTimeout(60000);  // a busy machine: the load of one page took 25 s there
  page.on("console", m => { if (m.type() === "error") fails.push("console: " + m.text()); });
  page.on("pageerror", e => fails.push("script: " + e.message));
  page.on("request", r => { if (!/^(file|data|blob):/.test(r.url())) fails.push("request: " + r.url()); });
  await page.goto("file://" + join(folder, "report.html"));
  await page.waitForSelector("#gap-along", { state: "attached" });
  expect(await page.isVisible("#stage canvas"), "the sheet is not shown");

  const fields = await page.evaluate(() => unpack().then(d => d.fields.map(({ id, title, unit, decimals }) => ({ id, title, unit, decimals }))));
  const nodes = Array.from({ length: 50 }, () => Math.floor(random() * result.sheet.nodes_mm.length));
  const texts = await page.evaluate(list => unpack().then(d => list.map(i => sentence(d, i, "peak_pressure_Pa", false))), nodes);
  nodes.forEach((node, k) => { const fault = checkSentence(result, fields, node, texts[k]); expect(!fault, fault); });

  // The keyboard reads the same sentences, and each step leads to a neighbour.
  await page.selectOption("#field", "peak_pressure_Pa");
  const all = await page.evaluate(n => unpack().then(d => Array.from({ length: n }, (_, i) => sentence(d, i, "peak_pressure_Pa", false))), result.sheet.nodes_mm.length);
  await page.focus("#stage canvas");
  const said = new Set();
  for (let k = 0; k < 6; k++) {
    await page.keyboard.press(k % 2 ? "ArrowUp" : "ArrowRight");
    said.add(await page.textContent("#reading"));
    expect(all.includes(await page.textContent("#reading")), "the keyboard reads: " + await page.textContent("#reading"));
  }
  expect(said.size === 6, `six key strokes read ${said.size} places`);

  // The cut across the planted channel, where the gap is far from level. The page draws x = middle (+ 0.1 µm) for it.
  // At first the section lies through the place that decides, which is on the map and in the profile as A and B.
  const firstCut = await page.evaluate(() => unpack().then(d => {
    const i = worstCut(d).node, a = document.getElementById("angle").value * Math.PI / 180, s = k => -Math.sin(a) * d.at[3 * k] + Math.cos(a) * d.at[3 * k + 1];
    let low = Infinity, high = -Infinity;
    for (let k = 0; k < d.nodes; k++) low = Math.min(low, s(k)), high = Math.max(high, s(k));
    const level = (low + high) / 2 + document.getElementById("place").value / 100 * (high - low) / 2;
    return { off: Math.abs(level - s(i)), step: (high - low) / 400, most: Math.max(value(d.by.gap_mm, i) - value(d.by.limit_high_mm, i), value(d.by.limit_low_mm, i) - value(d.by.gap_mm, i)), out: value(d.by.conformity, i) === 2, ends: [...document.querySelectorAll("#cut-line .end, #profile .end")].map(e => e.textContent).join("") };
  }));
  expect(firstCut.off <= firstCut.step && firstCut.ends === "ABAB", `the first section: ${JSON.stringify(firstCut)}`);
  {
    const f = result.sheet.fields, beyond = f.gap_mm.map((g, i) => f.conformity[i] === 2 ? Math.max(g - f.limit_high_mm[i], f.limit_low_mm[i] - g) : -1);
    expect(firstCut.out && Math.abs(firstCut.most - Math.max(...beyond)) < 0.002, `the first section is not through the place that decides: ${JSON.stringify(firstCut)}`);
  }
  await page.fill("#angle", "90");
  await page.fill("#place", "0");
  const drawn = await page.evaluate(() => {
    const svg = document.querySelector("#profile svg"), labels = [...svg.querySelectorAll("text")];
    // A gap label stands 4 below its grid line.
    const rows = [...svg.querySelectorAll("path.grid")].map(g => {
      const y = Number(g.getAttribute("d").match(/M\S+ ([-\d.]+)H/)[1]);
      const label = labels.find(t => t.getAttribute("text-anchor") === "end" && Math.abs(Number(t.getAttribute("y")) - 4 - y) < 0.01);
      return [y, Number(label.textContent)];
    });
    const points = [...svg.querySelector("#gap-along").getAttribute("d").matchAll(/[ML]([-\d.]+) ([-\d.]+)/g)].map(m => [Number(m[1]), Number(m[2])]);
    const lower = svg.querySelector("path.half:not(.upper)").getAttribute("d");
    return { rows, points, above: [...lower.matchAll(/[ML]([-\d.]+) /g)].map(m => Number(m[1])) };
  });
  const xs = result.sheet.nodes_mm.map(p => p[0]);
  const line = reference(result.sheet, (Math.min(...xs) + Math.max(...xs)) / 2);
  const [[y0, g0], [y1, g1]] = [drawn.rows[0], drawn.rows[drawn.rows.length - 1]];
  const left = drawn.points[0][0], right = drawn.points[drawn.points.length - 1][0], long = line[line.length - 1].s;
  expect(drawn.points.length > 20 && y0 !== y1, "the section has too few points or grid lines");
  expect(Math.max(...line.map(p => p.gap)) > 4, "the reference does not cross the channel");
  // 0.1 px of drawing is 1.5 µm across and, at the channel's walls (0.15 mm per mm), 18 µm along at this width.
  let worst = 0;
  for (const [x, y] of drawn.points) {
    const gap = g0 + (y - y0) / (y1 - y0) * (g1 - g0), s = (x - left) / (right - left) * long;
    worst = Math.max(worst, Math.abs(gap - at(line, s)));
  }
  expect(drawn.above.length === drawn.points.length && drawn.above.every((x, k) => Math.abs(x - drawn.points[k][0]) < 0.11), "the section's places do not stand above the gap there");
  console.log(`section against result.json: ${(1000 * worst).toFixed(1)} µm at worst over ${drawn.points.length} points`);
  expect(worst < 0.02, `the section is off by ${worst} mm`);

  // A row leads to its place in map, sheet and section, and a button back to the row.
  const row = page.locator("#row-R1 a.go").first();
  await row.click();
  const there = (await row.getAttribute("data-at")).split(" ").map(Number);
  const near = result.sheet.nodes_mm.reduce((best, p) => Math.hypot(...p.map((v, k) => v - there[k])) < Math.hypot(...best.map((v, k) => v - there[k])) ? p : best);
  const spoken = (await page.textContent("#reading")).match(/^x (\S+), y (\S+),/u).slice(1).map(number);
  expect(spoken.every((v, k) => Math.abs(v - near[k]) < 0.51), `the row of R1 leads to ${spoken}`);
  expect(await page.locator("#spot circle").count() === 2, "the place of the row is not on the map");
  await page.click("#back");
  expect(await page.evaluate(() => document.activeElement.closest("tr").id) === "row-R1", "no way back to the row");

  await page.check("#fronts");
  await page.fill("#time", "200");
  const clock = await page.textContent("#clock"), told = clock.match(/^([\d.]+) s: (\d+) % filled with the nominal gap, (\d+) % as measured$/);
  const share = (history, t) => {
    const k = history.findIndex(h => h[0] > t), [a, b] = [history[k - 1], history[k]];
    return 100 * (a[3] + (t - a[0]) / (b[0] - a[0]) * (b[3] - a[3]));
  };
  // Whole percents of a history that the page keeps to 0.1 s and 0.1 %, and the slider's own step of 0.1 s.
  for (const [k, state] of [[2, "nominal"], [3, "measured"]])
    expect(told && Math.abs(told[1] - 200) < 3 && Math.abs(told[k] - share(result.front[state].history, +told[1])) < 0.7, "the clock says: " + clock);
  await page.waitForFunction(() => document.querySelectorAll("#over .title").length === 2);
  const outside = () => page.$$eval("#over text", list => list.filter(t => {
    const b = t.getBoundingClientRect(), s = document.getElementById("stage").getBoundingClientRect();
    return b.left < s.left || b.right > s.right || b.top < s.top || b.bottom > s.bottom;
  }).map(t => t.textContent));
  // The names are placed when the picture is drawn next, which on a busy machine may be after this.
  for (let tries = 0; tries < 100 && (await outside()).length; ++tries) await page.evaluate(() => new Promise(requestAnimationFrame));
  expect((await outside()).length === 0, "names outside the picture: " + await outside());
  expect(await page.evaluate(() => document.documentElement.scrollWidth) <= 390, "the page is wider than the screen");

  mkdirSync(pictures, { recursive: true });
  await page.screenshot({ path: join(pictures, "narrow-fronts.png"), clip: { x: 0, y: 500, width: 390, height: 1600 }, fullPage: true });

  // Tab goes through the page as it is read, each stop can be seen, and every control is a stop.
  await page.evaluate(() => { const top = document.querySelector("h1"); top.tabIndex = -1, top.focus(); });
  const stops = [];
  for (let k = 0; k < 160; k++) {
    await page.keyboard.press("Tab");
    const stop = await page.evaluate(() => {
      const e = document.activeElement, r = e.getBoundingClientRect(), style = getComputedStyle(e);
      const order = [...document.querySelectorAll("*")].indexOf(e);
      return { id: e.id || e.dataset.act || e.tagName, order, seen: r.width > 0 && r.height > 0 && style.outlineStyle !== "none" && r.bottom > 0 && r.top < innerHeight };
    });
    if (stop.id === "BODY" || stops.some(s => s.order === stop.order)) break;
    expect(!stops.length || stop.order > stops[stops.length - 1].order, `Tab goes back to ${stop.id}`);
    expect(stop.seen, `Tab comes to ${stop.id}, where nothing shows it`);
    stops.push(stop);
  }
  for (const id of ["field", "show-regions", "CANVAS", "top", "fronts", "play", "time", "plans", "place", "angle", "through", "SUMMARY"])
    expect(stops.some(s => s.id === id), `Tab does not come to ${id}`);

  for (const colorScheme of ["light", "dark"]) {
    await page.emulateMedia({ colorScheme });
    const { faint, seen } = await page.evaluate(faintText);
    expect(seen > 100, `only ${seen} texts looked at`);
    for (const text of faint) fails.push(`${colorScheme} contrast ${text}`);
  }
  await page.uncheck("#fronts");

  // Fingers: a tap reads, a finger across turns, one upwards scrolls the page and leaves the sheet as it is, two move and
  // zoom the sheet and not the page.
  await page.evaluate(() => document.getElementById("stage").scrollIntoView({ block: "center" }));
  const touched = await page.context().newCDPSession(page);
  await touched.send("Emulation.setTouchEmulationEnabled", { enabled: true, maxTouchPoints: 2 });
  const stage = await page.locator("#stage").boundingBox(), mid = [stage.x + stage.width / 2, stage.y + stage.height / 2];
  const fingers = async (...ways) => {  // each from its first place to its second
    const put = (type, k) => touched.send("Input.dispatchTouchEvent", { type, touchPoints: k === null ? [] : ways.map(([a, b], id) => ({ id, x: mid[0] + a[0] + (b[0] - a[0]) * k, y: mid[1] + a[1] + (b[1] - a[1]) * k })) });
    await put("touchStart", 0);
    for (let k = 1; k <= 10; k++) await put("touchMove", k / 10);
    await put("touchEnd", null);
    await page.evaluate(() => new Promise(done => requestAnimationFrame(() => requestAnimationFrame(done))));
    return page.evaluate(() => {
      const s = document.getElementById("stage").getBoundingClientRect();
      const marks = [...document.querySelectorAll("#over .vent")].map(e => { const b = e.getBoundingClientRect(); return [b.x + b.width / 2 - s.x, b.y + b.height / 2 - s.y]; });
      return { marks, long: Math.hypot(marks[0][0] - marks[1][0], marks[0][1] - marks[1][1]), scroll: scrollY, text: document.getElementById("reading").textContent };
    });
  };
  const still = [[0, 0], [0, 0]], tapped = await fingers(still);
  expect(tapped.marks.length >= 2, "fewer than two marks to follow the fingers by");
  expect(await page.evaluate(n => unpack().then(d => Array.from({ length: n }, (_, i) => sentence(d, i, document.getElementById("field").value, false))), result.sheet.nodes_mm.length).then(list => list.includes(tapped.text)), "a tap reads: " + tapped.text);
  const turned = await fingers([[0, 0], [80, 0]]);
  expect(Math.abs(turned.marks[0][1] - tapped.marks[0][1]) > 10 && turned.scroll === tapped.scroll, "a finger across does not turn the sheet");
  expect(turned.text === tapped.text, "turning by a finger reads another place");
  const wide = await fingers([[-30, 0], [-60, 0]], [[30, 0], [60, 0]]);
  expect(Math.abs(wide.long / turned.long - 2) < 0.02, `two fingers twice as far apart show it ${wide.long / turned.long} times as large`);
  const lower = await fingers([[-40, -40], [-40, 20]], [[40, -40], [40, 20]]);
  expect(lower.marks.every((m, k) => Math.abs(m[0] - wide.marks[k][0]) < 2 && Math.abs(m[1] - wide.marks[k][1] - 60) < 2), "two fingers 60 px down do not move it by 60 px");
  expect(lower.scroll === tapped.scroll && lower.text === tapped.text, "two fingers scroll the page or read a place");
  expect(await page.evaluate(() => visualViewport.scale) === 1, "two fingers zoom the page");
  const scrolled = await fingers([[0, 0], [0, -80]]);
  expect(scrolled.scroll > lower.scroll + 40, "a finger upwards does not scroll the page");
  expect(scrolled.marks.every((m, k) => Math.abs(m[0] - lower.marks[k][0]) < 1 && Math.abs(m[1] - lower.marks[k][1]) < 1), "a finger that scrolls moves the sheet");
  await touched.send("Emulation.setTouchEmulationEnabled", { enabled: false });
  await page.click("[data-act=corner]");

  // Both halves, opened (a runner's end is drawn to 0.1 px): the upper one is turned over about x, so that x lies as before and y the other way round.
  const ports = () => page.$$eval("#over > svg", panes => panes.map(p => {
    const of = (e, name) => Number(e.getAttribute(name));
    const ends = [...p.querySelectorAll("path.runner")].map(r => r.getAttribute("d").match(/M([-\d.]+) ([-\d.]+)/).slice(1).map(Number));
    return [...p.querySelectorAll("circle.vent")].map(c => [of(c, "cx"), of(c, "cy")]).concat(ends)
      .map(([x, y]) => [x - of(p, "x") - of(p, "width") / 2, y - of(p, "y") - of(p, "height") / 2]);
  }));
  await page.click("[data-act=top]");
  await page.check("#show-open");
  await page.waitForFunction(() => document.querySelectorAll("#over .title").length === 2);
  const [lying, over] = await ports();
  expect(lying.length >= 3 && lying.every(([x, y], k) => Math.abs(x - over[k][0]) < 0.21 && Math.abs(y + over[k][1]) < 0.21) && lying.some(([, y]) => Math.abs(y) > 10), `the halves do not lie opened: ports at ${lying} and ${over}`);
  await page.uncheck("#show-open");
  await page.click("[data-act=corner]");

  await page.setViewportSize({ width: 1100, height: 1600 });
  await page.evaluate(() => scrollTo(0, 0));
  await page.screenshot({ path: join(pictures, "wide-dark.png") });

  // The report by itself still has its work order.
  const [opened] = await Promise.all([page.context().waitForEvent("page"), page.click('.first a[href="work-order.html"]')]);
  expect(opened.url().startsWith("blob:") && await opened.textContent("h1") === "Work order", "the work order in the page does not open: " + opened.url());
  await opened.close();

  // On paper no column is cut off: A4 less its margins is 718 px wide.
  const paper = await chrome.newPage({ viewport: { width: 718, height: 1000 } });
  await paper.emulateMedia({ media: "print" });
  await paper.goto("file://" + join(folder, "work-order.html"));
  const width = await paper.evaluate(() => document.documentElement.scrollWidth);
  expect(width <= 718, `the work order is ${width} px wide on paper of 718`);
  await paper.close();

  const code = squareCode(readFileSync(join(folder, "work-order.html"), "utf8"));
  expect(code === result.job.tool && code === "DP-3", `the square code of the work order says ${code}`);

  // A short film: every frame is there, at its time.
  if (await page.evaluate(() => typeof VideoEncoder === "function")) {
    await page.evaluate(() => { window.filmSeconds = 0.4, document.getElementById("film-make").click(); });
    await page.waitForFunction(() => window.lastFilm || document.getElementById("film-status").textContent === say("film.fails"));
    const bytes = await page.evaluate(async () => window.lastFilm ? [...new Uint8Array(await window.lastFilm.arrayBuffer())] : []);
    const times = filmTimes(bytes);
    expect(times.length === 12 && times.every((t, k) => Math.abs(t - 1000 * k / 15) <= 1), `a film of 12 frames has frames at ${times} ms`);
  } else console.log("no VideoEncoder in this Chromium: the film was not made");

  // On A4 with the usual margins of 1 cm a page holds 1047 px; what may not be parted must be lower than that.
  await page.emulateMedia({ media: "print", colorScheme: "light" });
  await page.setViewportSize({ width: 718, height: 1047 });
  const tall = await page.$$eval("figure, .verdict, .cautions", list => list.filter(e => e.offsetHeight > 1047).map(e => e.className));
  expect(tall.length === 0, "higher than a page: " + tall);
  const pdf = await page.pdf({ format: "A4", margin: { top: "1cm", right: "1cm", bottom: "1cm", left: "1cm" }, path: join(pictures, "report.pdf") });
  const pages = pdf.toString("latin1").match(/\/Type\s*\/Page\b/g).length;
  console.log(`prints to ${pages} pages`);
  expect(pages >= 4 && pages <= 14, `prints to ${pages} pages`);

  // Another language, with its decimal sign.
  execFileSync(program, ["report", folder, "--lang", "de", "--output", join(folder, "de.html")]);
  await page.emulateMedia({ media: "screen", colorScheme: "light" });
  await page.setViewportSize({ width: 390, height: 800 });
  await page.goto("file://" + join(folder, "de.html"));
  await page.waitForSelector("#gap-along", { state: "attached" });
  expect(await page.getAttribute("html", "lang") === "de", "the German page does not say that it is German");
  await page.focus("#stage canvas");
  await page.keyboard.press("ArrowRight");
  const german = await page.textContent("#reading");
  expect(/^x \S+; y \S+; z \S+ mm: .* · Abweichung −?\d+,\d{3}\u00a0mm · /u.test(german), "the German page reads: " + german);
  expect(/Der Formspalt reicht von \d+,\d{2} mm bis \d+,\d{2} mm/u.test(await page.textContent("#profile-caption")), "the German section says: " + await page.textContent("#profile-caption"));
  expect(await page.evaluate(() => document.documentElement.scrollWidth) <= 390, "the German page is wider than the screen");

  await checkTrials(page, folder, result, program, job, pictures, expect);

  // In inches the section says the same gaps, over the same length, as in mm.
  const caption = () => page.textContent("#profile-caption").then(t => t.replaceAll(",", ".").match(/\d+\.?\d*/g).slice(0, 3).map(Number));
  const millimetres = await caption();
  const inches = JSON.parse(readFileSync(join(folder, "result.json"), "utf8"));
  inches.job.report_units = "inch";
  mkdirSync(join(folder, "inch"));
  writeFileSync(join(folder, "inch", "result.json"), JSON.stringify(inches));
  execFileSync(program, ["report", join(folder, "inch")]);
  await page.goto("file://" + join(folder, "inch", "report.html"));
  await page.waitForSelector("#gap-along", { state: "attached" });
  const inch = await caption();
  // Half of 0.001 in and of 0.01 mm as printed, and a tenth of each for the nodes' fields; along the cut half of 0.01 in
  // and of 1 mm.
  expect(inch.every((v, k) => Math.abs(25.4 * v - millimetres[k]) < (k < 2 ? 0.0195 : 0.7)), `the section runs ${inch} in, and ${millimetres} mm`);
} catch (e) {
  fails.push(String(e.stack || e));
} finally {
  // Once, closing took three minutes on a busy machine: after 5 s it is left to process.exit, which ends the browser.
  if (chrome) await Promise.race([chrome.close(), new Promise(done => setTimeout(done, 5000))]);
  rmSync(folder, { recursive: true, force: true });
}
for (const text of fails) console.log("FAILED " + text);
process.exit(fails.length ? 1 : 0);
