// The job file: TOML to a tree and back, with its comments. A table keeps them under "$", which is no key of TOML: per
// key (and "" for the table's own header) the lines above, what stands beside it, and the keys that are offered after it;
// under "$tables" and "$tail" the tables that are offered in it and after its lists. They go where the table goes.
const notesOf = table => table.$ || (table.$ = {});
const keysOf = table => Object.keys(table).filter(k => k !== "$");
const isTable = v => v !== null && typeof v === "object" && !Array.isArray(v);
const isTables = v => Array.isArray(v) && v.length > 0 && v.every(isTable);

// A line that offers a table, or a key, to be taken up by taking the # away, as a draft has them.
const offersTable = /^#\s*\[\[?[A-Za-z_][A-Za-z0-9_.]*\]\]?(\s|$)/, offersKey = /^#\s*(or[a-z ]*: )?([A-Za-z_][A-Za-z0-9_]*)\s*= ?\S/;
const escapes = { b: "\b", t: "\t", n: "\n", f: "\f", r: "\r", '"': '"', "\\": "\\" };

function readToml(text) {
  // `since` is what a comment right below, without a blank line between, may belong to.
  let at = 0, above = [], here, section, since = null;
  const root = {}, end = text.length;
  const fail = () => { throw new Error(say("pointing.no-toml", text.slice(0, at).split("\n").length)); };
  const blank = () => { while (text[at] === " " || text[at] === "\t") at++; };
  const restOfLine = () => { const from = at; while (at < end && text[at] !== "\n") at++; return text.slice(from, at).replace(/\s+$/, ""); };
  const between = () => {  // within a list: lines and comments do not count
    for (;;) {
      blank();
      if (text[at] === "#") above.push(restOfLine());
      else if (text[at] === "\n" || text[at] === "\r") at++;
      else return;
    }
  };
  const bare = () => {
    const m = /^[A-Za-z0-9_-]+/.exec(text.slice(at, at + 200));
    if (!m) fail();
    at += m[0].length;
    return m[0];
  };
  function quoted() {
    const q = text[at], long = text.startsWith(q.repeat(3), at), close = long ? q.repeat(3) : q;
    at += close.length;
    if (long && text[at] === "\r") at++;
    if (long && text[at] === "\n") at++;
    let out = "";
    while (!text.startsWith(close, at)) {
      if (at >= end || (!long && text[at] === "\n")) fail();
      if (text[at] !== "\\" || q === "'") { out += text[at++]; continue; }
      at++;
      const c = text[at++];
      if (c === "u" || c === "U") {
        const n = c === "u" ? 4 : 8, hex = text.slice(at, at + n);
        if (!/^[0-9A-Fa-f]+$/.test(hex) || hex.length < n || parseInt(hex, 16) > 0x10ffff) fail();
        out += String.fromCodePoint(parseInt(hex, 16));
        at += n;
      } else if (c in escapes) out += escapes[c];
      else if (long && /\s/.test(c)) while (/\s/.test(text[at] || "")) at++;
      else fail();
    }
    at += close.length;
    while (long && text[at] === q && at < end) out += q, at++;  // up to two quotes may stand before the closing ones
    return out;
  }
  const key = () => { blank(); return text[at] === '"' || text[at] === "'" ? quoted() : bare(); };
  const dotted = () => {
    const path = [key()];
    for (blank(); text[at] === "."; blank()) at++, path.push(key());
    return path;
  };
  function put(table, path, value) {
    for (const k of path.slice(0, -1)) { if (!Object.hasOwn(table, k)) table[k] = {}; table = table[k]; if (!isTable(table)) fail(); }
    const last = path[path.length - 1];
    if (Object.hasOwn(table, last) || last === "$" || last === "__proto__") fail();
    table[last] = value;
    return [table, last];
  }
  function list() {
    const out = [];
    at++;
    for (between(); text[at] !== "]"; between()) {
      out.push(value());
      between();
      if (text[at] === ",") at++;
      else if (text[at] !== "]") fail();
    }
    at++;
    return out;
  }
  function inline() {
    const out = {};
    at++;
    for (blank(); text[at] !== "}"; blank()) {
      const path = dotted();
      if (text[at++] !== "=") fail();
      put(out, path, value());
      blank();
      if (text[at] === ",") at++;
      else if (text[at] !== "}") fail();
    }
    at++;
    return out;
  }
  function value() {
    blank();
    const c = text[at];
    if (c === '"' || c === "'") return quoted();
    if (c === "[") return list();
    if (c === "{") return inline();
    const m = /^[^\s,\]}#]+/.exec(text.slice(at, at + 200)), word = m ? m[0] : fail();
    at += word.length;
    if (word === "true" || word === "false") return word === "true";
    if (/^\d{4}-\d\d-\d\d/.test(word)) return word;  // a date is kept as text, which the program reads as well
    const plain = word.replace(/_/g, "");
    if (/^0[xob][0-9A-Fa-f]+$/.test(plain) || /^[-+]?(\d+)(\.\d+)?([eE][-+]?\d+)?$/.test(plain)) return Number(plain);
    return fail();
  }
  function header() {
    const many = text[at + 1] === "[";
    at += many ? 2 : 1;
    const path = dotted();
    if (!text.startsWith(many ? "]]" : "]", at)) fail();
    at += many ? 2 : 1;
    let table = root;
    const last = path.length - 1;
    path.forEach((k, i) => {
      if (k === "$" || k === "__proto__") fail();
      if (!Object.hasOwn(table, k)) table[k] = many && i === last ? [] : {};
      else if (i === last && (many ? !Array.isArray(table[k]) : Array.isArray(table[k]) || (table[k].$ && table[k].$[""]))) fail();
      if (many && i === last) table[k].push({});
      table = table[k];
      if (Array.isArray(table)) table = table[table.length - 1];
      if (!isTable(table)) fail();
    });
    here = table, section = root[path[0]];
    if (Array.isArray(section)) section = section[section.length - 1];
    return [table, ""];
  }
  // An offered key stays after what it follows. An offered table goes after the keys of the table that it is offered in:
  // taken up before them, it would take them in.
  function comment(line) {
    above.push(line);
    if (!since) return;
    if (since.offered) since.offered.push(...above);
    else if (offersTable.test(line)) {
      const home = notesOf(section || here), where = here === section ? "$tables" : "$tail";
      since.offered = home[where] = home[where] || [];
      since.offered.push(...above);
    } else if (offersKey.test(line)) since.note.after.push(...above);
    else return;
    above = [];
  }
  here = root;
  for (;;) {
    blank();
    if (at >= end) break;
    const c = text[at];
    if (c === "\r") { at++; continue; }
    if (c === "\n") { above.push(""); since = null; at++; continue; }
    if (c === "#") { comment(restOfLine()); at++; continue; }
    let table, name;
    if (c === "[") [table, name] = header();
    else {
      const path = dotted();
      if (text[at++] !== "=") fail();
      [table, name] = put(here, path, value());
    }
    const from = at;
    blank();
    if (at < end && text[at] !== "#" && text[at] !== "\n" && text[at] !== "\r") fail();
    const gap = text.slice(from, at), beside = restOfLine();
    since = { note: notesOf(table)[name] = { above, beside: beside ? gap + beside : "", after: [] } };
    above = [];
    at++;
  }
  root.$end = above;
  return root;
}

const tomlKey = k => /^[A-Za-z0-9_-]+$/.test(k) ? k : JSON.stringify(k);
const tomlText = s => '"' + s.replace(/[\\"]/g, c => "\\" + c).replace(/[\x00-\x1f\x7f]/g, c =>
  ({ "\n": "\\n", "\t": "\\t", "\r": "\\r" })[c] || "\\u" + c.charCodeAt(0).toString(16).padStart(4, "0")) + '"';
// On one line if that is short enough to be read.
function tomlValue(v, indent = "") {
  if (typeof v === "string") return tomlText(v);
  if (Array.isArray(v)) {
    const items = v.map(x => tomlValue(x, indent + "  ")), short = "[" + items.join(", ") + "]";
    return short.length <= 100 ? short : "[\n" + items.map(s => `${indent}  ${s},\n`).join("") + indent + "]";
  }
  if (isTable(v)) return "{ " + keysOf(v).map(k => `${tomlKey(k)} = ${tomlValue(v[k])}`).join(", ") + " }";
  return String(v);
}

// `help(path)` says what a key means; it stands beside keys that came without a comment of their own. `order` has the
// sections in the order in which new ones are put.
function writeToml(root, help, order) {
  const out = [];
  const comment = (table, name, path) => {
    const own = table.$ && table.$[name];
    if (own && own.beside !== null) return own;
    const words = help(path), blank = { above: [], after: [], ...own };
    return name === "" ? { ...blank, above: ["", ...(words ? wrapped(words) : [])], beside: "" } : { ...blank, beside: words && words.length < 70 ? "  # " + words : "" };
  };
  function body(table, path) {
    const notes = table.$ || {}, keys = keysOf(table), headed = k => isTable(table[k]) && table[k].$ && table[k].$[""];
    const plain = new Set(keys.filter(k => !isTables(table[k]) && !headed(k) && !(Array.isArray(table[k]) && !table[k].length && path.length)));
    const put = (k, beside) => {
      plain.delete(k);
      const note = comment(table, k, [...path, k]), value = tomlValue(table[k]);
      out.push(...note.above, `${tomlKey(k)} = ${value}${value.includes("\n") ? "" : beside || note.beside}`);
      offers(note.after);
    };
    // A key that was set on the page takes the place where it was offered, and of what led up to the offer.
    const offers = lines => {
      let lead = [];
      for (const line of lines) {
        const [, , k] = offersKey.exec(line) || [];
        if (k === undefined) { lead.push(line); continue; }
        if (plain.has(k) && !notes[k]) put(k, (/\s+#[^"]*$/.exec(line) || [""])[0]); else out.push(...lead, line);
        lead = [];
      }
      out.push(...lead);
    };
    // What was offered after a key that is gone is still offered.
    for (const [k, note] of Object.entries(notes)) if (plain.has(k)) put(k); else if (note.after && !Object.hasOwn(table, k)) offers(note.after);
    for (const k of keys) if (plain.has(k)) put(k);
    out.push(...(notes.$tables || []));
    const inner = (entry, name, brackets) => {
      const note = entry.$ && entry.$[""] ? entry.$[""] : { above: [], beside: "" };
      out.push(...note.above, brackets[0] + name.map(tomlKey).join(".") + brackets[1] + note.beside);
      body(entry, name);
    };
    for (const k of keys) if (headed(k)) inner(table[k], [...path, k], ["[", "]"]);
    for (const k of keys) if (isTables(table[k])) table[k].forEach(entry => inner(entry, [...path, k], ["[[", "]]"]));
    out.push(...(notes.$tail || []));
  }
  const rank = k => { const i = order.indexOf(k); return i < 0 ? order.length : i; };
  const sections = keysOf(root).filter(k => k !== "$end" && isTable(root[k]));
  // What was loaded stays as it lies; a new section goes before the first that comes after it.
  const known = sections.filter(k => root[k].$ && root[k].$[""]);
  for (const k of sections.filter(k => !known.includes(k))) {
    const before = known.findIndex(other => rank(other) > rank(k));
    known.splice(before < 0 ? known.length : before, 0, k);
  }
  for (const k of known) {
    if (!keysOf(root[k]).length && !(root[k].$ && root[k].$[""])) continue;
    const note = comment(root[k], "", [k]);
    out.push(...note.above, `[${tomlKey(k)}]${note.beside}`);
    body(root[k], [k]);
  }
  out.push(...(root.$end || []));
  while (out.length && out[0] === "") out.shift();
  while (out.length && out[out.length - 1] === "") out.pop();
  return out.join("\n") + "\n";
}
function wrapped(text, width = 116) {
  const lines = [];
  let line = "#";
  for (const word of text.split(" ")) {
    if (line.length + 1 + word.length > width && line !== "#") lines.push(line), line = "#";
    line += " " + word;
  }
  return [...lines, line];
}
