// The job on the page: one tree, changed in steps that can be taken back.
function makeJob(file, text) {
  const job = { file, doc: readToml(text), past: [], future: [], onChange: () => {}, saved: true };
  const copy = v => JSON.parse(JSON.stringify(v));
  const walk = (path, make) => {
    let at = job.doc;
    path.forEach((k, i) => {
      if (at === undefined) return;
      if (make && at[k] === undefined) at[k] = typeof path[i + 1] === "number" ? [] : {};
      at = at[k];
    });
    return at;
  };
  job.get = path => walk(path);
  job.unit = () => { const u = job.get(["job", "units"]); return u === "inch" ? "in" : "mm"; };
  // One step: `change` edits the tree in place. What a person sets is no guess any more.
  job.edit = (change, confirms = []) => {
    job.past.push(copy(job.doc));
    if (job.past.length > 200) job.past.shift();
    job.future = [], job.saved = false;
    const before = values(job.doc);
    change(job.doc);
    dropStale(job.doc, before);
    for (const path of confirms) settle(path);
    job.onChange();
  };
  // What each table holds, by the table itself: entries of a list change their places.
  const ofTable = t => t.$ && t.$[""], tablesIn = t => keysOf(t).flatMap(k => isTables(t[k]) ? t[k] : isTable(t[k]) ? [t[k]] : []);
  const values = (table, out = new Map()) => {
    out.set(table, new Map(keysOf(table).map(k => [k, JSON.stringify(table[k])])));
    for (const t of tablesIn(table)) values(t, out);
    return out;
  };
  // What was said of a value does not hold of another: what the key means takes its place. Above, it ends at a blank line.
  const dropStale = (table, before) => {
    const was = before.get(table);
    if (was) for (const [k, note] of Object.entries(table.$ || {})) {
      if (!was.has(k) || k === "unconfirmed" || JSON.stringify(table[k]) === was.get(k) || isTables(table[k]) || (isTable(table[k]) && ofTable(table[k]))) continue;
      table.$[k] = { ...note, above: note.above.slice(0, note.above.lastIndexOf("") + 1), beside: null };
    }
    for (const t of tablesIn(table)) dropStale(t, before);
  };
  const name = path => path.filter(k => typeof k === "string").join(".");
  const settle = path => {
    const open = job.get(["job", "unconfirmed"]), key = name(path);
    if (!Array.isArray(open)) return;
    // With a list that is replaced, all that was guessed in it goes.
    const left = open.filter(k => k !== key && !(Array.isArray(job.get(path)) && k.startsWith(key + ".")));
    if (left.length === open.length) return;
    if (left.length) job.doc.job.unconfirmed = left;
    else delete job.doc.job.unconfirmed;
    // A note that calls the value a guess would lie from now on; what the key means takes its place.
    const table = job.get(path.slice(0, -1)), last = path[path.length - 1], note = table && table.$ && table.$[last];
    if (note && /your (number|place)|guess|right\?|to start with/.test(note.beside)) table.$[last] = { ...note, beside: null };
  };
  job.set = (path, value) => job.edit(() => {
    const table = walk(path.slice(0, -1), true), last = path[path.length - 1];
    if (value === undefined) { delete table[last]; dropGone(); }
    else table[last] = value;
  }, [path]);
  job.confirm = path => job.edit(() => {}, [path]);
  job.unconfirmed = path => {
    const open = job.get(["job", "unconfirmed"]), key = name(path);
    return Array.isArray(open) && open.includes(key);
  };
  job.open = () => job.get(["job", "unconfirmed"]) || [];
  // The program refuses a guess that names no entry.
  const dropGone = () => {
    const open = job.get(["job", "unconfirmed"]);
    if (!Array.isArray(open)) return;
    const there = key => key.split(".").reduce((list, k) => list.flatMap(t => isTable(t) && Object.hasOwn(t, k) ? (isTables(t[k]) ? t[k] : [t[k]]) : []), [job.doc]).length > 0;
    const left = open.filter(there);
    if (left.length === open.length) return;
    if (left.length) job.doc.job.unconfirmed = left;
    else delete job.doc.job.unconfirmed;
  };
  job.add = (path, entry) => job.edit(() => {
    const table = walk(path.slice(0, -1), true), last = path[path.length - 1];
    (table[last] = table[last] || []).push(entry);
  });
  job.remove = path => job.edit(() => {
    const list = job.get(path.slice(0, -1)), last = path[path.length - 1];
    if (Array.isArray(list)) list.splice(last, 1);
    else delete list[last];
    if (Array.isArray(list) && !list.length) delete job.get(path.slice(0, -2))[path[path.length - 2]];
    dropGone();
  });
  const swap = (from, to) => {
    if (!from.length) return;
    to.push(copy(job.doc));
    job.doc = from.pop(), job.saved = false;
    job.onChange();
  };
  job.undo = () => swap(job.past, job.future);
  job.redo = () => swap(job.future, job.past);
  job.load = text => job.edit(() => { job.doc = readToml(text); });
  job.text = () => writeToml(job.doc, helpOf, Object.keys(schema.properties));
  // A name for a new entry of a list that no other there has.
  job.freeName = (path, word) => {
    const taken = new Set((job.get(path) || []).map(e => e.name));
    let n = 1;
    while (taken.has(word + n)) n++;
    return word + n;
  };
  return job;
}
