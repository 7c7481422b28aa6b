// "Try it on this mold" in a real browser: the same figures as the program's, of the mold as it is, after the corrections,
// and of a job that has the lines in it which the page gives out.
import { execFileSync } from "node:child_process";
import { mkdirSync, readFileSync, writeFileSync } from "node:fs";
import { join } from "node:path";

const open = async (page, report) => {
  await page.goto("file://" + report);
  await page.evaluate(() => document.getElementById("try-section").scrollIntoView());
  await page.waitForFunction(() => performance.getEntriesByName("try-ready").length);
};
const attempt = (page, change) => page.evaluate(async text => {
  const o = await tryOnce(new Function("s", text));
  return { error: o.error, ms: o.ms, fields: o.fields && o.fields.map(f => [...f]), summary: o.summary };
}, change);

// Greatest difference in units of the largest value; result.json rounds to 1e-6 s and to 1 Pa, half of which is left out.
// What result.json calls null ("never") must be infinite.
function apart(values, list, step) {
  let worst = 0;
  const most = Math.max(...list.filter(v => v !== null).map(Math.abs));
  list.forEach((v, i) => {
    const d = v === null ? (values[i] === Infinity ? 0 : Infinity) : Math.max(0, Math.abs(values[i] - v) - 0.50001 * step);
    worst = Math.max(worst, d / most);
  });
  return worst;
}
function compare(o, result, filling, fields, what, expect) {
  if (o.error) { expect(false, `${what}: ${o.error}`); return; }
  const off = [apart(o.fields[0], result.sheet.fields[fields[0]], 1e-6)];
  if (fields[1]) off.push(apart(o.fields[1], result.sheet.fields[fields[1]], 1), apart(o.fields[2], result.sheet.fields[fields[2]], 1));
  off.push(apart([o.summary.fill_time], [filling.fill_time_s], 1e-6));
  expect(o.summary.pockets.length === filling.pockets.length, `${what}: ${o.summary.pockets.length} pockets, the program found ${filling.pockets.length}`);
  o.summary.pockets.forEach((p, k) => filling.pockets[k] && off.push(apart([p.area], [filling.pockets[k].dry_area_mm2], 1e-6)));
  console.log(`${what}: ${o.fields[0].length} nodes in ${o.ms.toFixed(0)} ms, off by ${Math.max(...off).toExponential(1)} beyond the rounding of result.json`);
  expect(off.every(v => v <= 1e-9), `${what}: off by ${off}`);
}

export async function checkTrials(page, folder, result, program, job, pictures, expect) {
  await page.setViewportSize({ width: 1400, height: 900 });
  const report = join(folder, "report.html");
  await open(page, report);
  const front = result.front, names = result.corrections.candidates.map(c => c.name), chosen = result.corrections.chosen;
  compare(await attempt(page, ""), result, front.measured, ["arrival_s", "peak_pressure_Pa", "opening_margin_Pa"], "tried as measured", expect);
  if (chosen.length)
    compare(await attempt(page, `for (const k of [${chosen.map(c => names.indexOf(c))}]) s.on[k] = true;`), result, front.after_corrections, ["arrival_after_s"], "tried with the corrections", expect);

  // The table says what result.json says.
  const cell = (key, k) => page.textContent(`#try-table [data-key=${key}] td:nth-of-type(${k})`);
  expect(Math.abs(parseFloat(await cell("fill_time", 1)) - front.measured.fill_time_s) <= 0.6, "the table's fill time: " + await cell("fill_time", 1));

  // By hand: the vent is dragged, another is added, the resin thickened, a patch laid.
  const tried = () => page.evaluate(() => performance.getEntriesByName("tried").length);
  const after = async act => {
    const before = await tried();
    await act();
    await page.waitForFunction(n => performance.getEntriesByName("tried").length > n && document.getElementById("try-section").getAttribute("aria-busy") === "false", before);
  };
  const map = await page.locator("#try-map svg").boundingBox();
  const vent = await page.locator("#try-map .try-vent .body").first().boundingBox();
  await after(async () => {
    await page.mouse.move(vent.x + vent.width / 2, vent.y + vent.height / 2);
    await page.mouse.down();
    await page.mouse.move(vent.x + vent.width / 2, vent.y + vent.height / 2 - 40, { steps: 4 });
    await page.mouse.up();
  });
  expect(await cell("fill_time", 3) !== "–", "the vent was dragged and the fill time stays");
  const moved = await page.locator("#try-map .try-vent .body").first().boundingBox();
  expect(Math.abs(moved.y - vent.y + 40) < 3, `the vent was dragged by 40 px and stands ${vent.y - moved.y} px off`);
  await page.click("#try-add-vent");
  await after(() => page.mouse.click(map.x + 0.5 * map.width, map.y + 0.2 * map.height));
  await page.click("#try-add-patch");
  await after(() => page.mouse.click(map.x + 0.4 * map.width, map.y + 0.6 * map.height));
  const slide = async (k, value) => after(() => page.locator("#try-controls fieldset").filter({ hasText: "viscosity" }).locator("input").nth(k).fill(String(value)));
  await slide(0, 3);
  await slide(1, -4);
  await slide(3, 60);
  await after(async () => { await page.locator("#try-map .try-inlet").first().focus(); await page.keyboard.press("ArrowUp"); });
  await page.click("#try-keep");
  const lines = await page.inputValue("#try-lines textarea");
  mkdirSync(pictures, { recursive: true });
  await page.evaluate(() => document.getElementById("try-section").scrollIntoView());
  await page.screenshot({ path: join(pictures, "try-wide.png") });

  // A job with these lines, inspected anew, fills as the page said.
  const said = await page.evaluate(() => tryNow().then(o => ({ ms: o.ms, fields: o.fields.map(f => [...f]), summary: o.summary })));
  writeFileSync(join(folder, "kept.toml"), withLines(job, lines));
  mkdirSync(join(folder, "kept"), { recursive: true });
  execFileSync(program, ["inspect", join(folder, "kept.toml"), "--quiet", "--output", join(folder, "kept")]);
  const kept = JSON.parse(readFileSync(join(folder, "kept", "result.json"), "utf8"));
  compare(said, kept, kept.front.measured, ["arrival_s", "peak_pressure_Pa", "opening_margin_Pa"], "kept and inspected", expect);

  // So does one with the lines of corrections: a port that is changed, one that is added, a setting with another by hand.
  const kinds = await page.evaluate(() => JSON.parse(document.getElementById("trial").textContent).corrections.map(c => c.sets ? "sets" : c.lays ? "lays" : c.port ? c.port.adds ? "adds" : "moves" : ""));
  expect(kinds.some(k => k), "the trials' job has no correction at a port or of a setting");
  console.log("kinds of corrections kept: " + kinds.filter(Boolean).join(", "));
  await after(() => page.click("#try-reset"));
  for (const kind of ["moves", "adds", "sets", "lays"]) {
    const k = kinds.indexOf(kind);
    if (k >= 0) await after(() => page.locator("#try-controls fieldset").first().locator("input[type=checkbox]").nth(k).check());
  }
  await slide(0, 2);
  const own = await page.evaluate(() => tryNow().then(o => ({ ms: o.ms, fields: o.fields.map(f => [...f]), summary: o.summary })));
  writeFileSync(join(folder, "port.toml"), withLines(job, await page.inputValue("#try-lines textarea")));
  mkdirSync(join(folder, "port"), { recursive: true });
  execFileSync(program, ["inspect", join(folder, "port.toml"), "--quiet", "--output", join(folder, "port")]);
  const there = JSON.parse(readFileSync(join(folder, "port", "result.json"), "utf8"));
  compare(own, there, there.front.measured, ["arrival_s", "peak_pressure_Pa", "opening_margin_Pa"], "ports and settings kept and inspected", expect);

  await page.click("#try-reset");
  await page.setViewportSize({ width: 390, height: 844 });
  await page.evaluate(() => new Promise(done => requestAnimationFrame(() => requestAnimationFrame(done))));
  expect(await page.evaluate(() => document.documentElement.scrollWidth) <= 390, "with the trials the page is wider than the screen");
  await page.evaluate(() => document.getElementById("try-section").scrollIntoView());
  await page.screenshot({ path: join(pictures, "try-narrow.png"), clip: { x: 0, y: await page.evaluate(() => scrollY), width: 390, height: 1700 }, fullPage: true });

  // Without WebAssembly the page is as before.
  const plain = await page.context().browser().newPage();
  await plain.addInitScript(() => { delete globalThis.WebAssembly; });
  await plain.goto("file://" + report);
  await plain.waitForSelector("#gap-along", { state: "attached" });
  expect(!await plain.isVisible("#try-section") && !await plain.isVisible("nav a[href='#try']"), "without WebAssembly the section shows");
  await plain.close();
}

// As the comments say: in [flow] in place of the lines of the same name, ports by their name, the rest at the end.
function withLines(job, lines) {
  const blocks = lines.split(/\n\n/), end = [];
  for (const block of blocks) {
    const heads = block.split("\n").filter(l => l.startsWith("# ")), keys = block.split("\n").filter(l => !l.startsWith("#"));
    const named = heads.map(h => h.match(/^# in the (\[\[.*\]\]) of the name (.*)$/)).find(Boolean), section = heads.map(h => h.match(/^# in (\[.*\])$/)).find(Boolean);
    if (keys[0] && keys[0].startsWith("[[")) { end.push(block); continue; }
    const parts = job.split(/^(?=\[)/m), at = parts.findIndex(p => named ? p.startsWith(named[1]) && p.includes(`"${named[2]}"`) : section && p.startsWith(section[1] + "\n"));
    if (at < 0) { if (keys.some(k => k.trim())) throw new Error("no place for: " + block); continue; }
    for (const line of keys) {
      const key = line.split(" = ")[0], gone = key === "vacuum" ? "cavity_pressure" : key === "rate" ? "rate" : key;
      parts[at] = parts[at].replace(new RegExp(`^(${gone}|${key}) = .*\\n`, "m"), "").trimEnd() + "\n" + line + "\n\n";
    }
    job = parts.join("");
  }
  return job + "\n" + end.join("\n\n") + "\n";
}
