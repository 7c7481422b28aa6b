// The hand of somebody on a setup page: it clicks on what can be seen and on places of the tool, types, and counts both.
// PAUSE=1500 in the environment: so many milliseconds after each, as a person takes.
import { readFileSync, writeFileSync } from "node:fs";

const pause = +process.env.PAUSE || 0;

export async function handOn(page) {
  const hand = { page, clicks: 0, keys: 0 };
  const settled = hand.settled = () => page.evaluate(ms => new Promise(done => setTimeout(() => requestAnimationFrame(() => requestAnimationFrame(done)), ms)), pause);
  const on = hand.on = name => page.locator(`[data-path="${name}"]`);
  const job = hand.job = path => page.evaluate(p => setup.job.get(p), path);
  hand.click = async name => { hand.clicks++; await on(name).click(); await settled(); };
  hand.type = async (name, text) => { hand.clicks++, hand.keys += text.length; await on(name).fill(text); await on(name).press("Tab"); await settled(); };
  hand.choose = async (name, word) => { hand.clicks++; await on(name).selectOption(word); await settled(); };
  hand.pixel = (p, half = "lower") => page.evaluate(([p, half]) => {
    const { camera } = setup.panes.find(s => s.halves.includes(half)), s = setup.canvas.getBoundingClientRect(), [x, y] = camera.onScreen(p);
    return [s.left + x, s.top + y];
  }, [p, half]);
  hand.point = async (p, half) => { hand.clicks++; await page.mouse.click(...await hand.pixel(p, half)); await settled(); };
  hand.place = async path => (await job(path)).replace(" mm", "").split(", ").map(Number);
  return hand;
}

// One point in `each` of a binary PLY, so that a page is made and drawn in less time.
export function thinned(from, to, each) {
  const bytes = readFileSync(from), begin = bytes.indexOf("end_header\n") + 11, head = bytes.subarray(0, begin).toString("latin1"), count = +/element vertex (\d+)/.exec(head)[1], size = (bytes.length - begin) / count, kept = [];
  for (let i = 0; i < count; i += each) kept.push(bytes.subarray(begin + i * size, begin + (i + 1) * size));
  writeFileSync(to, Buffer.concat([Buffer.from(head.replace(/element vertex \d+/, "element vertex " + kept.length), "latin1"), ...kept]));
}

// From the two scans of a demo pair to the committed job, the shortest way that a page offers. `like` is that job's text.
export async function setUp(hand, like) {
  const { click, type, on, job, point } = hand, value = key => new RegExp(`^${key} = "?([^"\n]*)`, "m").exec(like)[1];
  // The page's frame may lie half a turn about Z from the committed one: both are right.
  const [x, y] = /^tool = "(-?[\d.]+), (-?[\d.]+)/m.exec(like).slice(1).map(Number);
  const balls = await ballsOn(hand), turn = balls.some(b => Math.hypot(b[0] - x, b[1] - y) < 3) ? 1 : -1, here = p => [turn * p[0], turn * p[1], p[2]];
  const confirm = name => click("confirm." + name);
  await type("job.tool", value("tool"));
  for (const half of ["lower", "upper"]) await confirm(half + ".unit");
  await click("step.line");
  await type("seal.by", "12 mm");
  await click("seal.out");
  await click("step.gap");
  if (parseFloat(await job(["cavity", "nominal"])) === 3) await confirm("cavity.nominal"); else await type("cavity.nominal", "3 mm");
  await confirm("cavity.tolerance");
  await confirm("cavity.u_instrument");
  await click("step.glass");
  for (const key of ["laminate.ply.0.count", "laminate.ply.0.glass", "laminate.resin_density"]) await confirm(key);
  await click("add.laminate.ply");
  await hand.choose("laminate.ply.1.glass", "stitched core mat 300");
  await click("step.resin");
  const vent = value("at").split(/, | mm/).slice(0, 3).map(Number);
  if (/^perimeter = true/m.test(like)) await confirm("flow.inlet");
  else {
    await click("card.flow.inlet.0");
    if (!(await on("remove.flow.inlet.0").isVisible())) await click("card.flow.inlet.0");
    await click("remove.flow.inlet.0");
    await click("add.flow.inlet.along");
    const edge = Math.max(...(await job(["cavity", "seal"])).map(t => Math.abs(parseFloat(t))));
    for (const side of [-60, 60]) await point(here([-edge, side, 0]));
  }
  if (!(await on("again.flow.vent.0").isVisible())) await click("card.flow.vent.0");
  await click("again.flow.vent.0");
  await point(here(vent));
  await type("flow.viscosity", "0.3 Pa.s");
  await type("flow.rate", "1 L/min");
  for (const key of ["pressure_limit", "vacuum"]) await confirm("flow." + key);
  await click("step.work");
  for (const p of [[-184, -134, 0], [184, -134, 0], [184, 134, 0], [-184, 134, 0]]) { await click("add.correct.station.at"); await point(p); }
  await click("step.save");
}
const ballsOn = hand => hand.page.evaluate(() => setup.targets().filter(r => r.lower && r.index >= 0).map(r => rigid.move(setup.closed.lower, r.lower)));
