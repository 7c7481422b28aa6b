// Fields for the job's values, made from its schema: the key, what it means, the value, what is wrong with it, and
// whether it is a guess.
function el(tag, attributes = {}, ...inside) {
  const e = document.createElement(tag);
  for (const [k, v] of Object.entries(attributes)) {
    if (k.startsWith("on")) e.addEventListener(k.slice(2), v);
    else if (v === true) e.setAttribute(k, "");
    else if (v !== false && v !== undefined && v !== null) e.setAttribute(k, v);
  }
  e.append(...inside.flat(Infinity).filter(x => x !== null && x !== undefined && x !== false && x !== ""));
  return e;
}
const button = (text, onclick, attributes = {}) => el("button", { type: "button", onclick, ...attributes }, text);
// What the trade calls it, and beside it the key as it stands in the job file, so that page and file can be held together.
const labelOf = path => (nodeAt(path) || {}).title || String(path[path.length - 1]);
const keyAt = path => el("code", { class: "key", lang: "en", translate: "no" }, String(path[path.length - 1]));
const labelled = (path, title) => [el("span", {}, title || labelOf(path)), " ", keyAt(path)];

const shownValue = v => v === undefined ? "" : typeof v === "string" ? v : tomlValue(v);
// What somebody has typed, as the schema wants it. What cannot be read stays text, and the schema says what is wrong.
function typedValue(text, node) {
  const trimmed = text.trim();
  if (trimmed === "") return undefined;
  if (node.type === "string") return trimmed;
  if (node.type === "number" || node.type === "integer") { const n = Number(trimmed.replace(",", ".")); return Number.isFinite(n) ? n : trimmed; }
  if (/^[[{]/.test(trimmed) || node.type === "array" || node.type === "object") { try { return readToml("x = " + trimmed).x; } catch (e) { return trimmed; } }
  return trimmed;
}

let serial = 0;
function control(app, path, node, value, attributes) {
  const set = v => app.job.set(path, v), known = { "data-path": path.join("."), ...attributes };
  if (node.type === "boolean") return el("input", { type: "checkbox", ...known, checked: value === undefined ? node.default === true : value === true, onchange: e => set(e.target.checked) });
  if (node.enum) {
    const options = ["", ...node.enum].map(v => el("option", { value: v, selected: (value === undefined ? "" : value) === v }, v === "" ? (node.default ? `(${node.default})` : "–") : v));
    return el("select", { ...known, onchange: e => set(e.target.value || undefined) }, options);
  }
  if (path[path.length - 1] === "glass") {
    const names = app.data.glasses.map(g => g.name), own = typeof value === "string" && !names.includes(value);
    return el("select", { ...known, onchange: e => set(e.target.value || undefined) }, (own ? [value] : []).concat(names).map(n => el("option", { value: n, selected: n === value }, n)));
  }
  if (Array.isArray(value) && value.length && value.every(v => typeof v === "string") && shapeKeys.concat("seal", "follow", "unconfirmed").includes(path[path.length - 1])) {
    const area = el("textarea", { ...known, rows: Math.min(8, value.length), spellcheck: "false", onchange: e => { const all = e.target.value.split("\n").map(s => s.trim()).filter(Boolean); set(all.length ? all : undefined); } });
    area.value = value.join("\n");
    return area;
  }
  const example = /length$/.test(kindAt(path)) && node.default === undefined ? "… " + app.job.unit() : exampleOf(node), number = node.type === "number" || node.type === "integer";
  return el("input", { type: "text", ...known, value: shownValue(value), placeholder: example || (number ? "" : undefined), inputmode: number ? "decimal" : undefined, autocomplete: "off", spellcheck: "false",
    onchange: e => set(typedValue(e.target.value, node)) });
}

function field(app, path, { title, node = schemaAt(path), help = true } = {}) {
  const value = app.job.get(path), id = "f" + ++serial, name = path.filter(k => typeof k === "string").join(".");
  const wrong = app.faults.filter(f => samePath(f.path.slice(0, path.length), path)).map(f => f.text), guess = app.job.unconfirmed(path) && value !== undefined;
  const said = (title || labelOf(path)) + ".", words = help && node.description !== said && node.description, described = [words && id + "h", wrong.length && id + "w"].filter(Boolean).join(" ");
  const input = control(app, path, node, value, { id, "aria-describedby": described || undefined, "aria-invalid": wrong.length ? "true" : undefined });
  const check = node.type === "boolean";
  const label = el("label", { for: id, title: name }, labelled(path, title));
  return el("div", { class: "field" + (check ? " check" : "") + (guess ? " guessed" : "") + (wrong.length ? " wrong" : "") },
    check ? [input, label] : [label, input],
    guess && el("div", { class: "guess" }, el("span", {}, say("pointing.guess")), button(say("pointing.confirm"), () => app.job.confirm(path), { "data-path": "confirm." + path.join(".") })),
    wrong.length > 0 && el("p", { class: "fault", id: id + "w" }, wrong.join("; ")),
    words && el("p", { class: "help", id: id + "h" }, words));
}

// All keys of a table that hold no lists of tables of their own. `first` stand open, with those that the job has or
// that are wrong; the rest is one click away.
function fields(app, path, { first = [], skip = [] } = {}) {
  const table = schemaAt(path), keys = Object.keys(table.properties).filter(k => !skip.includes(k));
  const inner = k => { const n = resolve(table.properties[k]); return n.properties ? "table" : n.items && resolve(n.items).properties ? "tables" : "value"; };
  const open = k => first.includes(k) || (app.job.get([...path, k]) !== undefined) || app.faults.some(f => samePath(f.path, [...path, k]));
  const draw = k => inner(k) === "table" ? el("fieldset", {}, el("legend", {}, labelled([...path, k])), fields(app, [...path, k])) : inner(k) === "tables" ? null : field(app, [...path, k]);
  const now = [...first.filter(k => keys.includes(k)), ...keys.filter(k => !first.includes(k) && open(k))], later = keys.filter(k => !now.includes(k) && inner(k) !== "tables");
  const own = app.faults.filter(f => samePath(f.path, path) && isTable(app.job.get(path) || {}));
  return [own.map(f => el("p", { class: "fault" }, f.text)), now.map(draw),
    later.length > 0 && app.fold("more." + path.join("."), say("pointing.more-settings", later.length), () => later.map(draw))];
}
