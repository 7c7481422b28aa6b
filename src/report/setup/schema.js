// The job file's schema: what a key means, and whether a value may stand there. The schema is the program's own; its
// rules that link several keys are only in words, and the program checks them all.
let schema = null;
const resolve = node => {
  if (!node || !node.$ref) return node;
  const { $ref, ...own } = node;
  return resolve({ ...schema.$defs[$ref.slice("#/$defs/".length)], ...own });
};
// What the schema says of a path such as ["cavity", "zone", 2, "at"], with its reference as it is written there; numbers
// may be left out.
function nodeAt(path) {
  let node = schema;
  for (const k of path) {
    if (!node) return null;
    node = resolve(node);
    if (typeof k === "number") { node = node.items; continue; }
    if (node.items) node = resolve(node.items);
    node = node.properties && node.properties[k];
  }
  return node || null;
}
function schemaAt(path) {
  const node = nodeAt(path);
  return node && resolve(node);
}
const helpOf = path => { const node = schemaAt(path); return (node && node.description) || ""; };
// The name by which the schema refers to a value: "length", "place", "polygon"…
function kindAt(path) {
  const node = nodeAt(path);
  return node && node.$ref ? node.$ref.slice("#/$defs/".length) : "";
}
const exampleOf = node => {
  if (!node) return "";
  if (node.default !== undefined) return typeof node.default === "string" ? node.default : tomlValue(node.default);
  const e = node.examples || (node.oneOf && node.oneOf.map(o => resolve(o).examples).find(Boolean));
  return e ? String(e[0]) : "";
};

const typeOf = v => Array.isArray(v) ? "array" : v === null ? "null" : typeof v;
const fits = (v, type) => type === "integer" ? Number.isInteger(v) : typeOf(v) === type;

// Faults as { path, text }; the first few words of the rule are what a person can act on.
function faultsOf(value, node, path = [], out = []) {
  node = resolve(node);
  const fault = (text, at = path) => out.push({ path: at, text });
  const passes = other => faultsOf(value, other, path, []).length === 0;
  if (node.type && !fits(value, node.type)) { fault(node.type === "number" || node.type === "integer" ? say("pointing.plain-number") : say("pointing.other-form", exampleOf(node))); return out; }
  if (node.enum && !node.enum.includes(value)) fault(say("pointing.one-of", node.enum.join(", ")));
  if (node.pattern && typeof value === "string" && !new RegExp(node.pattern).test(value)) fault(say("pointing.write-like", exampleOf(node) || node.pattern));
  if (node.minLength && typeof value === "string" && value.length < node.minLength) fault(say("pointing.empty"));
  if (typeof value === "number") {
    if (node.minimum !== undefined && value < node.minimum) fault(say("pointing.at-least", node.minimum));
    if (node.exclusiveMinimum !== undefined && value <= node.exclusiveMinimum) fault(say("pointing.more-than", node.exclusiveMinimum));
    if (node.maximum !== undefined && value > node.maximum) fault(say("pointing.at-most", node.maximum));
    if (node.exclusiveMaximum !== undefined && value >= node.exclusiveMaximum) fault(say("pointing.less-than", node.exclusiveMaximum));
  }
  if (Array.isArray(value)) {
    if (node.minItems && value.length < node.minItems) fault(say("pointing.so-many", node.minItems));
    if (node.maxItems !== undefined && value.length > node.maxItems) fault(say("pointing.no-more-than", node.maxItems));
    if (node.uniqueItems && new Set(value).size < value.length) fault(say("pointing.twice"));
    if (node.items) value.forEach((v, i) => faultsOf(v, node.items, [...path, i], out));
  }
  if (isTable(value)) {
    const has = k => Object.hasOwn(value, k) && !(Array.isArray(value[k]) && !value[k].length);
    for (const k of node.required || []) if (!has(k)) fault(say("pointing.needed"), [...path, k]);
    for (const k of keysOf(value)) {
      if (k === "$end") continue;
      if (node.properties && node.properties[k]) { if (has(k)) faultsOf(value[k], node.properties[k], [...path, k], out); }
      else if (node.additionalProperties === false) fault(say("pointing.unknown-key"), [...path, k]);
    }
    for (const [k, others] of Object.entries(node.dependentRequired || {}))
      if (has(k)) for (const o of others) if (!has(o)) fault(say("pointing.needed-with", k), [...path, o]);
  }
  // Of several forms: what would do, by the keys that they ask for.
  const asked = list => list.map(o => (resolve(o).required || []).join(" + ")).filter(Boolean).join(" / ");
  if (node.anyOf && !node.anyOf.some(passes)) fault(say("pointing.give-one", asked(node.anyOf)));
  if (node.oneOf) {
    const n = node.oneOf.filter(passes).length;
    const words = asked(node.oneOf);
    if (n === 0) fault(words ? say("pointing.give-one", words) : say("pointing.write-like", exampleOf(node) || exampleOf(resolve(node.oneOf[0]))));
    else if (n > 1) fault(say("pointing.only-one", words));
  }
  if (node.not && node.not.anyOf) for (const o of node.not.anyOf) if (passes(o)) fault(say("pointing.not-both", (o.required || []).join(", ")));
  else if (node.not && !node.not.anyOf && passes(node.not)) fault(say("pointing.not-both", (node.not.required || []).join(", ")));
  return out;
}

// A tolerance that takes in a closed mold: the one rule across keys that a slip of the pen breaks.
const perLength = { mm: 1, cm: 10, m: 1000, um: 0.001, "µm": 0.001, "μm": 0.001, in: 25.4, inch: 25.4, "\"": 25.4, thou: 0.0254, ft: 304.8 };
function millimetres(text) {
  const found = typeof text === "string" && text.match(/^\s*\+?([0-9.]+(?:[eE][-+]?[0-9]+)?)\s*(\S+)\s*$/);
  return found && perLength[found[2]] ? Number(found[1]) * perLength[found[2]] : NaN;
}
function wideTolerances(job) {
  const out = [], cavity = job.get(["cavity"]) || {};
  const look = (table, path, nominal) => {
    for (const key of ["tolerance", "minus"])
      if (millimetres(table[key]) >= millimetres(nominal)) out.push({ path: [...path, key], text: say("pointing.below-nominal", nominal) });
    // A zone that is only thinner has the tolerance of the whole.
    if (!table.tolerance && !table.minus && millimetres(cavity.tolerance || cavity.minus) >= millimetres(nominal)) out.push({ path: [...path, "nominal"], text: say("pointing.above-tolerance", cavity.tolerance || cavity.minus) });
  };
  look(cavity, ["cavity"], cavity.nominal);
  (Array.isArray(cavity.zone) ? cavity.zone : []).forEach((zone, k) => look(zone, ["cavity", "zone", k], zone.nominal || cavity.nominal));
  return out;
}
