// From two raw scans to the committed job's verdict, by pointing: node setup.mjs GAPFRONT SCANS CHROMIUM PICTURES.
// Whatever fails is printed, and the exit code is 1. Pictures of the page are left in PICTURES, to be looked at.
// WHOLE=1 takes every point of the scans, PAUSE=1500 waits after each click: what a person sees, and how long it takes.
import { execFile } from "node:child_process";
import { mkdirSync, mkdtempSync, readFileSync, rmSync, statSync, writeFileSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { promisify } from "node:util";
import { chromium } from "playwright-core";
import { faintParts, faintText, smallTargets } from "./contrast.mjs";
import { handOn, setUp, thinned } from "./hand.mjs";

const [program, scans, browser, pictures] = process.argv.slice(2);
const folder = mkdtempSync(join(tmpdir(), "gapfront-setup-")), fails = [];
const expect = (good, what) => { if (!good) fails.push(what); };
const run = async (...words) => (await promisify(execFile)(program, words, { cwd: folder, encoding: "utf8", maxBuffer: 1 << 28 })).stdout;
// A coarser sheet and no drawn fillings: a fraction of the time, the same way through the program.
const quick = text => text.replace(/^edge = .*\n/m, "").replace(/^\[cavity\].*$/m, '$&\nedge = "16 mm"\nmin_edge = "8 mm"').replace(/^\[flow\].*$/m, "$&\nensemble = 0");
const inspect = async (name, text) => { writeFileSync(join(folder, name), quick(text)); return JSON.parse(await run("inspect", name, "--json", "--output", "out-" + name)); };
// A scan of a demo pair in the folder, under its own name.
const scan = name => { thinned(join(scans, name), join(folder, name), process.env.WHOLE ? 1 : 3); return name; };
const pairOf = async (pair, file) => run("new", scan(`${pair}-lower.ply`), scan(`${pair}-upper.ply`), "-o", file);
const committed = pair => readFileSync(join(scans, pair + ".toml"), "utf8");
const share = r => [r.verdict.overall, r.verdict.share_of_area.nonconforming];
const same = (pair, mine, theirs) => {
  console.log(`${pair}: ${share(mine)}; the committed job: ${share(theirs)}`);
  // The line by pointing lies a millimetre off, where the face falls away: a node on it, on a scan thinned so far, may
  // be undecided by itself.
  const decided = r => r.verdict.overall === "undecided" && r.verdict.share_of_area.undecided < 0.001 ? "conforming" : r.verdict.overall;
  expect(decided(mine) === decided(theirs), `${pair}: the verdict is ${share(mine)}, that of the committed job ${share(theirs)}`);
  expect(Math.abs(share(mine)[1] - share(theirs)[1]) < 0.02, `${pair}: nonconforming ${share(mine)[1]}, of the committed job ${share(theirs)[1]}`);
};

// A photo as from a camera held upright: 2000 by 1000 pixels, to be turned (Exif 2.32: orientation 6), with a place.
async function camera(page) {
  const bare = Buffer.from((await page.evaluate(() => {
    const c = document.createElement("canvas"), pen = c.getContext("2d");
    c.width = 2000, c.height = 1000;
    pen.fillStyle = "#9db6c6", pen.fillRect(0, 0, 2000, 1000), pen.fillStyle = "#345", pen.fillRect(300, 200, 1400, 600);
    return c.toDataURL("image/jpeg");
  })).split(",")[1], "base64");
  const exif = Buffer.concat([Buffer.from("Exif\0\0MM\0*\0\0\0\x08\0\x01\x01\x12\0\x03\0\0\0\x01\0\x06\0\0\0\0\0\0", "latin1"), Buffer.from("at 51 N, 7 E")]);
  return Buffer.concat([bare.subarray(0, 2), Buffer.from([0xff, 0xe1, 0, exif.length + 2]), exif, bare.subarray(2)]);
}

// Another pair in the same browser, the shortest way; then both jobs are inspected while the hand goes on.
async function another(chrome, pair, made) {
  await made;
  const file = join(folder, pair + ".setup.html"), page = await chrome.newPage({ viewport: { width: 1400, height: 860 } });
  page.on("pageerror", e => fails.push(`${pair}: ${e.stack}`));
  await page.goto("file://" + file);
  await page.waitForFunction(() => performance.getEntriesByName("drawn").length > 0);
  const drawn = Math.round(await page.evaluate(() => performance.getEntriesByName("drawn")[0].startTime)), start = Date.now(), hand = await handOn(page);
  await setUp(hand, committed(pair));
  for (const id of ["gap", "verdict", "front", "corrections"]) expect(/ready/.test(await page.textContent(`[data-path='answer.${id}']`)), `${pair}, ${id}: ${await page.evaluate(() => JSON.stringify([setup.faults, setup.job.open()]))}`);
  const [download] = await Promise.all([page.waitForEvent("download"), hand.click("save.file")]);
  await download.saveAs(join(folder, pair + ".toml"));
  console.log(`${pair}: ${statSync(file).size / 1e6} MB, drawn after ${drawn} ms; ${hand.clicks} clicks and ${hand.keys} keys in ${(Date.now() - start) / 1000} s`);
  await page.close();
  return Promise.all([inspect(pair + ".mine.toml", readFileSync(join(folder, pair + ".toml"), "utf8")), inspect(pair + ".theirs.toml", committed(pair))]).then(both => same(pair, ...both));
}

let chrome;
try {
  const pair = "new-tool";
  await pairOf(pair, "my.toml");
  const others = ["worn-tool-1", "dry-spot"].concat(process.env.WHOLE ? ["new-tool"] : []).map(p => [p, pairOf(p, p + ".toml")]), verdicts = [];
  for (const [, made] of others) made.catch(() => {});  // said where it is waited for
  const file = join(folder, "my.setup.html");
  expect(statSync(file).size < 12e6, `the page has ${statSync(file).size} bytes`);
  chrome = await chromium.launch({ executablePath: browser, timeout: 60000, args: ["--use-angle=swiftshader", "--enable-unsafe-swiftshader", "--disable-background-networking"] });
  const page = await chrome.newPage({ viewport: { width: 1400, height: 860 } });
  page.setDefaultTimeout(+process.env.WAIT || 60000);
  page.on("console", m => { if (m.type() === "error") fails.push("console: " + m.text()); });
  page.on("pageerror", e => fails.push("script: " + e.stack));
  page.on("request", r => { if (!/^(file|data|blob):/.test(r.url())) fails.push("request: " + r.url()); });
  const ready = () => page.waitForFunction(() => performance.getEntriesByName("drawn").length > 0);
  await page.goto("file://" + file);
  await ready();
  console.log(`drawn after ${Math.round(await page.evaluate(() => performance.getEntriesByName("drawn")[0].startTime))} ms, ${Math.round(statSync(file).size / 1e5) / 10} MB`);
  mkdirSync(pictures, { recursive: true });
  const shot = name => page.screenshot({ path: join(pictures, `setup-${name}.png`) });

  const hand = await handOn(page), { settled, on, click, type, pixel, point, job, place } = hand;
  const near = (a, b, d, what) => expect(a.length >= 2 && a.slice(0, b.length).every((v, k) => Math.abs(v - b[k]) < d), `${what} is at ${a}, not ${b}`);
  const confirm = async name => { await click("confirm." + name); expect(!(await page.evaluate(n => setup.job.open().includes(n), name.replace(/\.\d+/g, ""))), `${name} is still a guess`); };

  // Halves: seven balls, their form and partners. One is rejected, taken again, renamed; the halves stay closed.
  expect(await page.locator("[data-list='align.target'] tbody tr").count() === 7, "not seven balls");
  expect(/7 targets; they differ by [1-5] µm/.test(await page.textContent("#body .good")), "closed: " + await page.textContent("#body .good"));
  await shot("halves");
  for (const half of ["lower", "upper"]) await confirm(half + ".unit");
  await click("reject.2");
  expect(/6 targets/.test(await page.textContent("#body .good")), "a rejected ball counts");
  await click("use.B3");
  expect((await job(["align", "target"])).length === 7, "the ball is not taken again");
  // A ball that the job does not have, pointed at in both halves: a click beside its top finds its centre.
  const balls = await page.evaluate(() => setup.targets().find(r => r.name === "B5"));
  await click("reject." + balls.index);
  await click("add.align.target");
  const tool = await page.evaluate(b => ({ lower: rigid.move(setup.closed.lower, b.lower), upper: rigid.move(setup.closed.upper, b.upper) }), balls);
  await point(tool.lower.map((v, k) => v + [1, 2, 9][k]), "lower");
  await point(tool.upper.map((v, k) => v + [2, -1, -9][k]), "upper");
  const added = (await job(["align", "target"])).at(-1);
  for (const half of ["lower", "upper"]) near(added[half].replace(" mm", "").split(", ").map(Number), balls[half], 0.2, `the added ball in the ${half} half`);
  await type(`align.target.${(await job(["align", "target"])).length - 1}.name`, "door side");
  expect(/7 targets; they differ by [1-5] µm/.test(await page.textContent("#body .good")), "closed by the added ball: " + await page.textContent("#body .good"));

  // A photo: its name is in the job, its picture on the page, smaller and without what the camera wrote.
  writeFileSync(join(folder, "camera.jpg"), await camera(page));
  await page.locator("[data-path='photo.file']").setInputFiles(join(folder, "camera.jpg"));
  await page.waitForFunction(() => { const i = document.querySelector("img.photo"); return i && i.naturalWidth; });
  expect((await page.evaluate(() => [document.querySelector("img.photo").naturalWidth, document.querySelector("img.photo").naturalHeight])).join() === "800,1600", "the photo is not upright, or not smaller");
  expect(await job(["job", "photo"]) === "my.photo.jpg", "the photo is called " + await job(["job", "photo"]));
  await on("photo.add").scrollIntoViewIfNeeded();
  await page.locator("[data-path='photo.file']").setInputFiles(join(folder, "my.toml"));
  await page.waitForFunction(() => /my\.toml/.test((document.querySelector("[data-list='job.photo'] .fault") || {}).textContent));
  await shot("photo");

  // The seal line: outwards, a corner dragged and put back, one added and taken away.
  await click("step.line");
  await click("seal.corners");
  const corner = await page.evaluate(() => { const h = setup.hits.find(h => h.does === "corner" && h.corner === 3), s = setup.canvas.getBoundingClientRect(); return [s.left + h.x, s.top + h.y]; });
  const was = await job(["cavity", "seal"]);
  await page.mouse.move(...corner);
  await page.mouse.down();
  for (let k = 1; k <= 5; k++) await page.mouse.move(corner[0] - 5 * k, corner[1] + 4 * k);
  await page.mouse.up();
  await settled();
  hand.clicks++;
  const moved = await job(["cavity", "seal"]);
  expect(moved.length === was.length && moved[3] !== was[3] && moved.every((t, i) => i === 3 || t === was[i]), "a corner that is dragged does not move alone");
  const plus = await page.evaluate(() => { const h = setup.hits.find(h => h.does === "insert"), s = setup.canvas.getBoundingClientRect(); return [s.left + h.x, s.top + h.y]; });
  await page.mouse.click(...plus);
  await settled();
  expect((await job(["cavity", "seal"])).length === was.length + 1, "no corner is added");
  await page.keyboard.press("Delete");
  await settled();
  expect((await job(["cavity", "seal"])).join() === moved.join(), "the corner is not taken away");
  await click("seal.take");
  await type("seal.by", "12 mm");
  await click("seal.out");
  const xs = (await job(["cavity", "seal"])).map(t => +t.split(",")[0]);
  near([Math.min(...xs), Math.max(...xs)], [-192, 192], 2, "the seal line, 12 mm outside the rim");
  await shot("line");
  await click("add.correct.reference.at");
  await point([-190, 140, 0]);
  await type("correct.reference.0.name", "north-west");

  await click("step.gap");
  await type("cavity.nominal", "3 mm");
  await type("cavity.tolerance", "0.3 mm");
  await confirm("cavity.u_instrument");
  await click("step.glass");
  await type("laminate.ply.0.count", "2");
  await confirm("laminate.ply.0.glass");
  await click("add.laminate.ply");
  hand.clicks++;
  await on("laminate.ply.1.glass").selectOption("stitched core mat 300");
  await settled();
  await confirm("laminate.resin_density");
  await click("step.resin");
  await confirm("flow.inlet");
  await click("card.flow.vent.0");
  if (!(await on("again.flow.vent.0").isVisible())) await click("card.flow.vent.0");
  await click("again.flow.vent.0");
  await point([0, 0, -45]);
  near(await place(["flow", "vent", 0, "at"]), [0, 0, -45], 2, "the vent");
  await type("flow.viscosity", "0.3 Pa.s");
  for (const key of ["pressure_limit", "vacuum"]) await confirm("flow." + key);
  await type("flow.rate", "1 L/min");
  // An inlet along a part of the rim, and one along a line, taken back.
  await click("add.flow.inlet.along");
  const line = (await job(["cavity", "seal"])).map(t => t.replace(" mm", "").split(", ").map(Number)), left = line.filter(p => p[0] < -185);
  for (const y of [-60, 60]) await point([Math.min(...left.map(p => p[0])), y, 0]);
  const along = (await job(["flow", "inlet", 1, "path"])).map(t => +t.split(",")[1]);
  near([along[0], along.at(-1)].sort((a, b) => a - b), [-60, 60], 3, "the inlet along the rim");
  hand.clicks++;
  await page.getByRole("button", { name: "Undo" }).click();
  await click("add.flow.inlet.path");
  for (const p of [[-60, 0, -45], [0, 30, -45], [60, 0, -45]]) await point(p);
  await click("mode.finish");
  expect((await job(["flow", "inlet", 1, "path"])).length === 3, "a line has not its three places");
  await shot("resin");
  await click("remove.flow.inlet.1");
  await click("step.work");
  for (const p of [[-184, -134, 0], [184, -134, 0], [184, 134, 0], [-184, 134, 0]]) { await click("add.correct.station.at"); await point(p); }
  near(await place(["correct", "station", 2, "at"]), [184, 134, 0], 4, "station S3");

  // By keys alone: a reading where the cross is.
  await click("step.gap");
  await on("add.cavity.spot.at").focus();
  await page.keyboard.press("Enter");
  await page.keyboard.press("ArrowRight");
  await page.keyboard.press("Enter");
  await settled();
  expect((await job(["cavity", "spot"]) || []).length === 1, "the keyboard places no reading");
  expect(await page.evaluate(() => document.activeElement.getAttribute("data-path")) === "card.cavity.spot.0", "the keyboard is not in the new entry");
  expect(/missing or wrong: 2/.test(await page.textContent("[data-path='answer.verdict']")), "a reading without thickness and U is not missed: " + await page.textContent("[data-path='answer.verdict']"));
  await click("remove.cavity.spot.0");

  // Nothing is left; the file that is saved is right for the program, and comes to the committed job's verdict.
  await click("step.save");
  for (const id of ["gap", "verdict", "front", "corrections"]) expect(/ready/.test(await page.textContent(`[data-path='answer.${id}']`)), `${id}: ${await page.textContent(`[data-path='answer.${id}']`)} ${await page.evaluate(() => JSON.stringify([setup.faults, setup.job.open()]))}`);
  await shot("save");
  const files = [];
  page.on("download", d => files.push(d));
  await click("save.file");
  while (files.length < 2) await page.waitForEvent("download");
  const [download, photo] = files;
  await download.saveAs(join(folder, "my.toml"));
  await photo.saveAs(join(folder, photo.suggestedFilename()));
  const drawn = readFileSync(join(folder, "my.photo.jpg"));
  expect(drawn.readUInt16BE(0) === 0xffd8 && drawn.length < 1e6 && !drawn.includes("Exif"), `the photo that is saved has ${drawn.length} bytes, or what the camera wrote`);
  const saved = readFileSync(join(folder, "my.toml"), "utf8");
  expect(download.suggestedFilename() === "my.toml", "saved as " + download.suggestedFilename());
  expect(/nothing wrong/.test(await run("inspect", "my.toml", "--check")), "the program finds fault");
  verdicts.push(Promise.all([inspect("mine.toml", saved), inspect("theirs.toml", committed(pair))]).then(both => same(pair, ...both)));

  // The same page again, by the file and by the program.
  await page.locator("input[accept='.toml']").setInputFiles(join(folder, "my.toml"));
  await settled();
  expect(await page.evaluate(() => setup.job.text()) === saved, "loaded again, the job is another one");

  for (const colorScheme of ["light", "dark"]) {
    await page.emulateMedia({ colorScheme });
    for (const step of ["halves", "line", "gap", "glass", "resin", "work", "save"]) {
      await click("step." + step);
      await page.evaluate(() => document.querySelectorAll("#body details").forEach(d => { d.open = true; }));
      await settled();
      const { faint, seen } = await page.evaluate(faintText), parts = await page.evaluate(faintParts);
      expect(seen > 20 && (step === "save" || parts.seen > 0), `only ${seen} texts and ${parts.seen} fields looked at on ${step}`);
      for (const text of [...faint, ...parts.faint]) fails.push(`${colorScheme} ${step} contrast ${text}`);
    }
    await shot(colorScheme);
  }
  await page.emulateMedia({ colorScheme: "light" });

  // A phone: nothing is wider than the screen; a finger points; Tab comes to everything and can be seen.
  await page.setViewportSize({ width: 390, height: 800 });
  for (const step of ["halves", "line", "gap", "glass", "work", "save", "resin"]) {
    await click("step." + step);
    for (const small of await page.evaluate(smallTargets)) fails.push(`${step}, too small for a finger: ${small}`);
  }
  const wide = await page.evaluate(() => [...document.querySelectorAll("body *")].filter(e => e.getBoundingClientRect().right > 391 && !e.closest(".wide, #steps, .turns, pre, #over")).map(e => e.outerHTML.slice(0, 80)));
  expect(wide.length === 0, "wider than the screen: " + wide.slice(0, 3));
  const touched = await page.context().newCDPSession(page);
  await touched.send("Emulation.setTouchEmulationEnabled", { enabled: true, maxTouchPoints: 2 });
  const before = (await job(["flow", "vent"])).length;
  await on("add.flow.vent.at").scrollIntoViewIfNeeded();
  await click("add.flow.vent.at");
  const [x, y] = await pixel([60, 40, -45]);
  await touched.send("Input.dispatchTouchEvent", { type: "touchStart", touchPoints: [{ x, y }] });
  await touched.send("Input.dispatchTouchEvent", { type: "touchEnd", touchPoints: [] });
  await settled();
  expect((await job(["flow", "vent"])).length === before + 1, "a finger places no vent");
  near(await place(["flow", "vent", before, "at"]), [60, 40], 6, "the vent under the finger");
  await shot("narrow");
  await page.evaluate(() => { const top = document.querySelector("h1"); top.tabIndex = -1, top.focus(); });
  const stops = [];
  for (let k = 0; k < 120; k++) {
    await page.keyboard.press("Tab");
    const stop = await page.evaluate(() => {
      const e = document.activeElement, r = e.getBoundingClientRect();
      return { name: e.getAttribute("data-path") || e.textContent || e.tagName, order: [...document.querySelectorAll("*")].indexOf(e), seen: r.width > 0 && r.bottom > 0 && r.top < innerHeight && (e.type === "radio" || getComputedStyle(e).outlineStyle !== "none") };
    });
    if (stops.length && stop.order <= stops.at(-1).order) break;
    expect(stop.seen, `Tab comes to ${stop.name}, where nothing shows it`);
    stops.push(stop);
  }
  for (const name of ["Undo", "CANVAS", "step.resin", "add.flow.vent.at", "flow.viscosity", "next", "answer.front"]) expect(stops.some(s => s.name === name) || (name === "CANVAS" && stops.some(s => s.name === "")), `Tab does not come to ${name}: ${stops.map(s => s.name)}`);

  // Written again by the program for the job that there is, the page holds the same.
  await run("new", "--edit", "my.toml");
  const again = await chrome.newPage({ viewport: { width: 1400, height: 860 } });
  again.on("pageerror", e => fails.push("script: " + e.stack));
  await again.goto("file://" + file);
  await again.waitForFunction(() => performance.getEntriesByName("drawn").length > 0);
  expect(await again.evaluate(() => setup.job.text()) === saved, "new --edit shows another job");
  expect(await again.evaluate(() => setup.closed.lower !== null && setup.things.length) > 6, "new --edit does not show what the job has");
  await again.close();
  for (const [name, made] of others) verdicts.push(another(chrome, name, made)), await verdicts.at(-1);
  await Promise.all(verdicts);
} catch (e) {
  fails.push(String(e.stack || e).slice(0, 1200));
} finally {
  if (chrome) await chrome.close();
  rmSync(folder, { recursive: true, force: true });
}
for (const f of fails) console.log("FAIL " + f);
console.log(fails.length ? `${fails.length} faults` : "the setup page works");
process.exit(fails.length ? 1 : 0);
