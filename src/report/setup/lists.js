// Lists of the job: what is pointed at (inlets, stations…), and what is not (plies). Each entry is a card.
const lengthIn = (app, mm, inch) => app.job.unit() === "in" ? `${inch} in` : `${mm} mm`;

// What a new entry has besides its place.
function freshEntry(app, list, key) {
  const last = list[list.length - 1], spec = placedLists().find(s => samePath(s.list, list)), out = {};
  if (schemaAt([...list, "name"]) && spec && spec.word) out.name = app.job.freeName(list, spec.word);
  const radius = { inlet: [10, 0.4], vent: [10, 0.4], mask: [15, 0.6], support: [20, 0.8], flange: [10, 0.4] }[last];
  if (radius && (key === "at" || key === "path")) out.radius = lengthIn(app, ...radius);
  if (samePath(list, ["laminate", "zone"])) Object.assign(out, { adds: true, ply: [{ glass: app.data.glasses[0].name, count: 1 }] });
  if (last === "ply") Object.assign(out, { glass: app.data.glasses[0].name, count: 1 });
  return out;
}

// Asks for a place, a line or an outline, and puts it into the entry at `path`, or into a new one of `list`.
function pointAt(app, { list, path, key }) {
  const many = key === "path" || key === "polygon" || key === "seal", closed = key === "polygon" || key === "seal", fresh = !path;
  const write = (p, like) => places.write(p, { like, flat: closed, unit: app.job.unit() });
  app.start({
    key, many, closed, least: closed ? 3 : 1, half: "lower", rims: many, points: [],
    hint: closed ? say("pointing.click-outline") : many ? say("pointing.click-path") : say("pointing.click-place"),
    done: points => {
      const texts = points.map(p => write(p)), value = many ? texts : texts[0];
      if (key === "seal") app.job.set(["cavity", "seal"], value);
      else if (fresh) {
        app.job.add(list, { ...freshEntry(app, list, key), [key]: value });
        app.chooseNew(list);
      } else app.job.set([...path, key], value);
      if (key === "seal") app.choose(["cavity", "seal"]);
    }
  });
}

// Along the seal line from one click to another, the shorter way.
function pointAlong(app, list) {
  const line = app.things.find(t => t.kind === "seal").points, n = line.length;
  const lengths = line.map((p, i) => Math.hypot(line[(i + 1) % n][0] - p[0], line[(i + 1) % n][1] - p[1])), whole = lengths.reduce((a, b) => a + b, 0);
  const onLine = (x, y, camera) => {
    let best = null, at = 0;
    line.forEach((a, i) => {
      const b = line[(i + 1) % n], [ax, ay] = camera.onScreen(a), [bx, by] = camera.onScreen(b), long = (bx - ax) ** 2 + (by - ay) ** 2 || 1;
      const t = Math.max(0, Math.min(1, ((x - ax) * (bx - ax) + (y - ay) * (by - ay)) / long)), d = Math.hypot(ax + t * (bx - ax) - x, ay + t * (by - ay) - y);
      if (!best || d < best.d) best = { d, s: at + t * lengths[i], at: a.map((v, k) => v + t * (b[k] - v)), i };
      at += lengths[i];
    });
    return best.d < 40 ? best : null;
  };
  const ends = [];
  app.start({
    key: "path", many: true, closed: false, least: 2, most: 2, half: "lower", points: [], hint: say("pointing.click-rim"),
    onLine: (x, y, camera) => { const found = onLine(x, y, camera); if (found) ends.push(found); return found; },
    done: () => {
      let [a, b] = ends.slice(-2);
      if (((b.s - a.s) % whole + whole) % whole > whole / 2) [a, b] = [b, a];
      const path = [a.at];
      for (let i = (a.i + 1) % n, left = n; a.i !== b.i && left--; i = (i + 1) % n) { path.push(line[i]); if (i === b.i) break; }
      path.push(b.at);
      app.job.add(list, { ...freshEntry(app, list, "path"), path: path.map(p => places.write(p, { unit: app.job.unit() })) });
      app.chooseNew(list);
    }
  });
}

function titleOf(entry, list, i) {
  if (entry.name) return el("span", { translate: "no" }, entry.name);
  if (entry.glass) return el("span", { translate: "no" }, `${entry.count === undefined ? 1 : entry.count} × ${entry.glass}`);
  return el("span", {}, `${labelOf(list)} ${i + 1}`);
}

function card(app, list, i) {
  const path = [...list, i], entry = app.job.get(path), table = schemaAt(list.concat(i)), chosen = samePath(app.chosen, path);
  const shape = shapeKeys.find(k => entry[k] !== undefined), wrong = app.faults.some(f => samePath(f.path.slice(0, path.length), path));
  const name = list.filter(k => typeof k === "string").join("."), guessed = app.job.open().some(k => k.startsWith(name + ".") && entry[k.slice(name.length + 1).split(".")[0]] !== undefined);
  const details = el("details", { class: "card" + (chosen ? " chosen" : "") + (wrong ? " wrong" : ""), open: chosen || wrong || guessed, "data-card": path.join("."),
    ontoggle: e => { if (e.target.open && !samePath(app.chosen, path) && e.target.contains(document.activeElement)) app.choose(path); } },
    el("summary", { "data-path": "card." + path.join(".") }, titleOf(entry, list, i), shape === "at" && places.read(entry.at) ? el("small", { translate: "no" }, " ", places.spoken(places.read(entry.at), app.job.unit())) : null));
  const have = Object.keys(table.properties).filter(k => entry[k] !== undefined), need = table.required || [];
  const inner = Object.keys(table.properties).filter(k => { const n = resolve(table.properties[k]); return n.items && resolve(n.items).properties; });
  const likely = { inlet: ["name", "radius"], vent: ["name", "radius", "bleed"], spot: ["thickness", "U"], station: ["name", "present"], reference: ["name"], ply: ["glass", "count"], zone: ["name"], mask: ["name", "radius"] }[list[list.length - 1]] || [];
  details.append(el("div", { class: "inside" },
    fields(app, path, { first: [...new Set([...likely, ...need.filter(k => !shapeKeys.includes(k)), ...have.filter(k => !shapeKeys.includes(k) && !inner.includes(k)), ...(shape ? [shape] : [])])].filter(k => !inner.includes(k) && table.properties[k]) }),
    el("p", { class: "row" },
      shape && shape !== "box" && button(say("pointing.point-again"), () => pointAt(app, { path, key: shape }), { "data-path": "again." + path.join(".") }),
      button(say("try.remove"), () => { app.choose(null); app.job.remove(path); }, { class: "quiet", "data-path": "remove." + path.join(".") })),
    // Only a runner all around has sections.
    inner.filter(k => k !== "section" || entry.perimeter).map(k => listOf(app, [...path, k]))));
  return details;
}

function listOf(app, list, { title = labelOf(list), intro, along } = {}) {
  const table = schemaAt([...list, 0]), entries = app.job.get(list) || [], can = k => table.properties[k] !== undefined, name = list.join(".");
  const add = [];
  const point = (key, words) => add.push(button(words, () => pointAt(app, { list, key }), { "data-path": `add.${name}.${key}`, disabled: !app.closed.lower }));
  if (can("perimeter")) add.push(button(say("pointing.add-whole-rim"), () => { app.job.add(list, { ...freshEntry(app, list, "perimeter"), perimeter: true }); app.chooseNew(list); }, { "data-path": `add.${name}.perimeter` }));
  if (can("at")) point("at", say("pointing.add-point"));
  if (along) add.push(button(say("pointing.add-along"), () => pointAlong(app, list), { "data-path": `add.${name}.along`, disabled: !app.things.some(t => t.kind === "seal") }));
  if (can("path")) point("path", say("pointing.add-path"));
  if (can("polygon")) point("polygon", say("pointing.add-outline"));
  if (!shapeKeys.some(can)) add.push(button(say("pointing.add"), () => { app.job.add(list, freshEntry(app, list)); app.chooseNew(list); }, { "data-path": `add.${name}` }));
  const guessed = app.job.open().filter(k => k === name || k.startsWith(name + "."));
  const words = intro || resolve(schemaAt(list)).description;
  const missing = app.faults.filter(f => samePath(f.path, list));
  return el("section", { class: "list", "data-list": name },
    el("h3", {}, labelled(list, title)), words && words.replace(/\W+$/, "") !== title && el("p", { class: "help" }, words),
    missing.map(f => el("p", { class: "fault" }, f.text)),
    guessed.includes(name) && entries.length > 0 && el("div", { class: "guess" }, el("span", {}, say("pointing.guess")), button(say("pointing.confirm"), () => app.job.confirm(list), { "data-path": "confirm." + name })),
    entries.map((_, i) => card(app, list, i)), el("p", { class: "row" }, add));
}
