// The setup page's reading and writing of job files, without a browser: node setup_text.mjs SOURCE. What it writes is
// read by Python's tomllib, and must hold what the original held: the demo jobs, and 100 drawn at random from the schema.
import { execFileSync } from "node:child_process";
import { mkdtempSync, readFileSync, readdirSync, rmSync, writeFileSync } from "node:fs";
import { tmpdir } from "node:os";
import { isDeepStrictEqual } from "node:util";
import { join } from "node:path";
import vm from "node:vm";

const [source] = process.argv.slice(2);
const scripts = ["viewer/packed", "setup/toml", "setup/schema", "setup/places", "setup/rigid", "setup/job"].map(f => readFileSync(join(source, `src/report/${f}.js`), "utf8")).join("");
const page = vm.runInThisContext(`(() => {${scripts}
  words = new Proxy({}, { get: (_, id) => id + " {1}" });
  unitsOfLength = { mm: 1, cm: 10, m: 1000, in: 25.4, thou: 0.0254, ft: 304.8 };
  return { readToml, writeToml, faultsOf, helpOf, places, rigid, makeJob, use: s => { schema = s; } };
})()`);
const schema = JSON.parse(readFileSync(join(source, "src/report/schema/job.schema.json"), "utf8"));
page.use(schema);
const folder = mkdtempSync(join(tmpdir(), "gapfront-setup-text-")), fails = [];
const expect = (good, what) => { if (!good) fails.push(what); };

// mulberry32 (public domain), seeded: the same jobs every time.
let seed = 19;
const random = () => {
  seed = (seed + 0x6d2b79f5) | 0;
  let t = Math.imul(seed ^ (seed >>> 15), 1 | seed);
  t = (t + Math.imul(t ^ (t >>> 7), 61 | t)) ^ t;
  return ((t ^ (t >>> 14)) >>> 0) / 4294967296;
};
const pick = list => list[Math.floor(random() * list.length)], upTo = n => Math.floor(random() * (n + 1));
const resolve = node => node.$ref ? resolve({ ...schema.$defs[node.$ref.split("/").pop()], ...node, $ref: undefined }) : node;
const strange = ['plain', 'a "quoted" name', "back\\slash", "Ecke Nordost – Türseite", "#no comment", "a = b", "[x]", "'", "ends with\\", "日本", "tab\there", "\u0001", "a\nb"];
function drawn(node) {
  node = resolve(node);
  if (node.oneOf && !node.type) return drawn(pick(node.oneOf));
  if (node.enum) return pick(node.enum);
  if (node.type === "object") {
    const out = {};
    for (const [k, v] of Object.entries(node.properties)) if (random() < 0.5 || (node.required || []).includes(k)) out[k] = drawn(v);
    return out;
  }
  if (node.type === "array") return Array.from({ length: Math.max(node.minItems || 1, upTo(node.maxItems || 4)) }, () => node.items ? drawn(node.items) : pick([0.5, "1 bar", 3]));
  if (node.type === "boolean") return random() < 0.5;
  if (node.type === "integer") return upTo(100);
  if (node.type === "number") return pick([0, 2.5, 1e-12, -3, 1e22, 0.1, 123456789]);
  return node.examples ? pick(node.examples) : pick(strange);
}

// Each as JSON by tomllib; null where it is no TOML. Dates as their text, which the page and the program take as well.
function byTomllib(texts) {
  texts.forEach((t, i) => writeFileSync(join(folder, `${i}.toml`), t));
  const code = `import json, sys, tomllib
for i in range(${texts.length}):
    try: print(json.dumps(tomllib.loads(open(sys.argv[1] + f"/{i}.toml", encoding="utf-8", newline="").read()), default=str))
    except tomllib.TOMLDecodeError: print("null")`;
  return execFileSync("python3", ["-c", code, folder], { encoding: "utf8", maxBuffer: 1 << 28, stdio: ["ignore", "pipe", "ignore"] }).trim().split("\n").map(l => JSON.parse(l));
}
const order = Object.keys(schema.properties), write = doc => page.writeToml(doc, page.helpOf, order);

// The demo jobs as they are, and after an edit that is taken back.
const files = readdirSync(join(source, "scans")).filter(f => f.endsWith(".toml")), originals = files.map(f => readFileSync(join(source, "scans", f), "utf8"));
const again = originals.map(t => write(page.readToml(t)));
const [before, after] = [byTomllib(originals), byTomllib(again)];
files.forEach((f, i) => {
  expect(before[i] && isDeepStrictEqual(before[i], after[i]), `${f} holds something else after it was saved`);
  expect(write(page.readToml(again[i])) === again[i], `${f} changes when it is saved again`);
  for (const line of originals[i].split("\n").filter(l => l.startsWith("#"))) expect(again[i].includes(line), `${f} has lost "${line}"`);
  expect(page.faultsOf(page.readToml(originals[i].replace(/^#.*\n/gm, "")), schema).filter(x => x.path[0] !== "$end").length === 0, `${f}: the schema finds fault`);
  const job = page.makeJob(f, originals[i]);
  job.set(["cavity", "nominal"], "4 mm");
  job.add(["cavity", "spot"], { at: "0, 0, 0 mm" });
  expect(job.get(["cavity", "nominal"]) === "4 mm" && /\[\[cavity.spot\]\]/.test(job.text()), `${f}: an edit is not in the text`);
  job.undo(), job.undo();
  expect(job.text() === again[i], `${f}: an edit cannot be taken back`);
});

// Comments are kept: all that nothing was changed of, with the keys and tables that are offered; what was said of a value
// goes with it, a key that is set takes the place where it was offered, and an entry takes with it what it was offered.
const commented = `[job]
# tool = "…"
units = "mm"

# Drawing 12.
[cavity]
nominal = "4 mm"     # as far as the halves are apart (your number)
# proposed where the gap leaves the land; known to about 1.5 mm
seal = ["0, 0 mm", "1, 0 mm", "0, 1 mm"]
u_instrument = "0.01 mm"       # from its certificate
# [[cavity.mask]]              # what else stands on the halves
# radius = "15 mm"

[flow]                         # a line "# or:" takes the place of the one above it
vacuum = "50 %"
# or: cavity_pressure = "0.5 bar absolute"
# rate = "1.5 L/min"           # of the pump
# or: schedule = [{ rate = "1.5 L/min" }]
# [flow.supply]                # what lies before the inlet
# hose_length = "4 m"
[flow.ageing]
pot_life = "12 min"            # read from the drum
[[flow.inlet]]
perimeter = true
# or for both: section = []
[[flow.vent]]
at = "0, 0, 0 mm"    # in the middle (your place)
# bleed = "5 s"
# [[flow.vent]]                # a second one
# at = "1, 1, 1 mm"

# [closing]
# force = "4 kN"
`;
{
  const lines = text => text.split("\n"), job = page.makeJob("commented", commented);
  expect(job.text() === commented, "a job with comments changes by being read: " + job.text());
  job.set(["cavity", "seal"], ["5, 5 mm", "1, 0 mm", "0, 1 mm"]);
  job.set(["flow", "rate"], "0.5 L/min");
  job.set(["flow", "vent", 0, "at"], "9, 9, 9 mm");
  job.add(["flow", "vent"], { at: "2, 2, 2 mm" });
  job.remove(["flow", "inlet", 0]);
  job.add(["flow", "inlet"], { at: "3, 3, 3 mm" });
  const gone = lines(commented).filter(l => !lines(job.text()).includes(l)), at = text => lines(job.text()).findIndex(l => l.startsWith(text));
  expect(isDeepStrictEqual(gone, ["# proposed where the gap leaves the land; known to about 1.5 mm", 'seal = ["0, 0 mm", "1, 0 mm", "0, 1 mm"]', '# rate = "1.5 L/min"           # of the pump',
    "perimeter = true", "# or for both: section = []", 'at = "0, 0, 0 mm"    # in the middle (your place)']), "other lines are gone than those of what was changed: " + JSON.stringify(gone));
  expect(at('rate = "0.5 L/min"           # of the pump') + 1 === at("# or: schedule"), "a key that was offered is set elsewhere");
  expect(at('at = "9, 9, 9 mm"') + 1 === at("# bleed"), "what an entry was offered is no longer under it");
  const [plain] = byTomllib([job.text()]);
  expect(plain && plain.flow.rate === "0.5 L/min" && plain.flow.vent.length === 2 && plain.flow.ageing.pot_life === "12 min", "the job with comments holds something else");
}

const jobs = Array.from({ length: 100 }, () => drawn(schema)), texts = jobs.map(write), read = byTomllib(texts);
const bare = v => Array.isArray(v) ? v.map(bare) : v && typeof v === "object" ? Object.fromEntries(Object.entries(v).filter(([k]) => k[0] !== "$").map(([k, x]) => [k, bare(x)])) : v;
// An empty section need not be written.
const full = v => Object.fromEntries(Object.entries(v).filter(([, x]) => Object.keys(x).length));
jobs.forEach((job, i) => {
  expect(read[i] && isDeepStrictEqual(full(JSON.parse(JSON.stringify(job))), full(read[i])), `random job ${i} holds something else for tomllib`);
  expect(isDeepStrictEqual(full(JSON.parse(JSON.stringify(job))), full(bare(page.readToml(texts[i])))), `random job ${i} holds something else for the page`);
});

// What is no TOML is refused with its line, by both.
const bad = ["a = ", "[x\n", "a = \"x\nb = 1", "a = 1\na = 2", "a = 1 2", "[[x]]\n[x]\n", "= 1", "a = tru", "a = {b = 1", "a = [1", "\"a\" \"b\" = 1", "a = \"\\q\"", "[$]\na = 1\n\u0000"];
byTomllib(bad).forEach((r, i) => {
  let refused = false;
  try { page.readToml(bad[i]); } catch (e) { refused = /pointing.no-toml \d+/.test(e.message); }
  expect(r === null && refused, `"${bad[i]}" is read`);
});

// A motion is found again from places that it has carried; places in a row are refused.
const turn = page.rigid.fit([[0, 0, 0], [1, 0, 0], [0, 1, 0]], [[5, 5, 5], [5, 6, 5], [4, 5, 5]]);
expect(page.rigid.move(turn, [1, 1, 2]).every((v, k) => Math.abs(v - [4, 6, 7][k]) < 1e-9), "the rigid fit is off");
expect(page.rigid.fit([[0, 0, 0], [1, 0, 0], [2, 0, 0]], [[0, 0, 0], [1, 0, 0], [2, 0, 0]]) === null, "places in a row are fitted");
// A ball of 10 mm, its upper half in steps of some degrees, and the plate that it stands on.
const points = [];
for (let i = 0; i <= 20; i++) for (let k = 0; k < 60; k++) points.push(3 + 5 * Math.cos(i / 20 * 1.6) * Math.cos(k / 60 * 6.2832), -4 + 5 * Math.cos(i / 20 * 1.6) * Math.sin(k / 60 * 6.2832), 5 + 5 * Math.sin(i / 20 * 1.6));
for (let x = -20; x <= 26; x++) for (let y = -24; y <= 16; y++) points.push(x, y, 0);
const ball = page.rigid.ball(Float64Array.from(points), [5, -3, 9], 5);
expect(ball && Math.hypot(ball.centre[0] - 3, ball.centre[1] + 4, ball.centre[2] - 5) < 0.02, `the ball is at ${ball && ball.centre}`);
for (const text of ["120, 45.5, 12 mm", "-1, 2 in", "0.5, 0.25, -3 ft"]) {
  const p = page.places.read(text), flat = page.places.isFlat(text), written = page.places.read(page.places.write(p, { like: text, flat, unit: "mm" }));
  expect(written.every((v, k) => Math.abs(v - p[k]) < 0.06), `${text} becomes ${written}`);
}

rmSync(folder, { recursive: true });
for (const f of fails) console.log("FAIL " + f);
console.log(fails.length ? `${fails.length} faults` : `${files.length} demo jobs and ${jobs.length} random ones are the same after saving`);
process.exit(fails.length ? 1 : 0);
