// What stands in the job and lies on the tool: marks, lines and names over the picture, and where they can be taken.
// Lists of the job whose entries have a place. `word` begins the name of a new entry.
const placedLists = () => [
  { list: ["laminate", "zone"], kind: "zone", word: say("zones.zone") + " " },
  { list: ["cavity", "zone"], kind: "thickness", word: say("pointing.thickness-zone") + " " },
  { list: ["cavity", "island"], kind: "island", word: say("pointing.island") + " " },
  { list: ["cavity", "mask"], kind: "mask", word: say("pointing.mask") + " " },
  { list: ["closing", "support"], kind: "support", word: "" },
  { list: ["align", "flange"], kind: "land", word: "" },
  { list: ["flow", "inlet"], kind: "inlet", word: say("gap.inlet") + " " },
  { list: ["flow", "vent"], kind: "vent", word: say("gap.vent") + " " },
  { list: ["cavity", "spot"], kind: "spot", word: say("proof.reading") + " " },
  { list: ["correct", "station"], kind: "station", word: "S" },
  { list: ["correct", "reference"], kind: "corner", word: say("pointing.corner") + " " }
];
const shapeKeys = ["at", "path", "polygon", "box"];

// All things of the job in the tool frame, mm.
function thingsOf(job) {
  const out = [], seal = places.list(job.get(["cavity", "seal"]) || []);
  if (seal && seal.length > 2) out.push({ kind: "seal", path: ["cavity", "seal"], key: "seal", points: seal, closed: true, name: "", radius: 0 });
  for (const { list, kind } of placedLists())
    (job.get(list) || []).forEach((entry, i) => {
      const key = shapeKeys.find(k => entry[k] !== undefined), radius = places.length(entry.radius) || 0, at = [...list, i];
      if (!key || entry.perimeter) {
        if (entry.perimeter && seal) out.push({ kind, path: at, key: "perimeter", points: seal, closed: true, fixed: true, name: entry.name || "", radius: 0 });
        return;
      }
      let points = places.list(entry[key]);
      if (!points) return;
      if (key === "box" && points.length === 2) { const [a, b] = points; points = [a, [b[0], a[1], a[2]], b, [a[0], b[1], a[2]]]; }
      out.push({ kind, path: at, key, points, closed: key === "polygon" || key === "box", fixed: key === "box", name: entry.name || "", radius });
    });
  return out;
}
const samePath = (a, b) => !!a && !!b && a.length === b.length && a.every((k, i) => k === b[i]);

function makeOver(app, svg) {
  let on = svg, camera = null, kept = () => true;  // what the cut leaves
  const put = (name, attributes, text) => { const e = svgNode(name, attributes, text); on.append(e); return e; };
  const word = (text, x, y, style = "") => {
    if (!text) return;
    const e = put("text", { class: "name " + style, x, y: y < camera.pane.y + 14 && y > camera.pane.y - 20 ? y + 38 : y, "text-anchor": "middle" }, text), half = e.getComputedTextLength() / 2 + 3, { pane } = camera;
    if (x > pane.x && x < pane.x + pane.w) e.setAttribute("x", Math.max(pane.x + half, Math.min(pane.x + pane.w - half, x)));
  };
  const line = (points, style, closed) => {
    const whole = points.every(kept);
    const d = points.map((p, i) => kept(p) ? (i && kept(points[i - 1]) ? "L" : "M") + camera.onScreen(p).slice(0, 2).map(v => v.toFixed(1)).join(" ") : "").join("") + (closed && whole ? "Z" : "");
    put("path", { class: "under", d });
    put("path", { class: "line " + style, d });
  };
  const ring = (p, radius, style) => {
    const round = Array.from({ length: 25 }, (_, i) => [p[0] + radius * Math.cos(i * Math.PI / 12), p[1] + radius * Math.sin(i * Math.PI / 12), p[2]]);
    line(round, style, true);
  };
  const marks = {
    inlet: (x, y) => put("path", { class: "mark full", d: `M${x - 7} ${y - 6}H${x + 7}L${x} ${y + 7}Z` }),
    vent: (x, y) => put("circle", { class: "mark", cx: x, cy: y, r: 6 }),
    station: (x, y) => put("rect", { class: "mark", x: x - 6, y: y - 6, width: 12, height: 12 }),
    spot: (x, y) => put("path", { class: "mark", d: `M${x} ${y - 8}L${x + 7} ${y}L${x} ${y + 8}L${x - 7} ${y}Z` }),
    corner: (x, y) => put("path", { class: "mark bare", d: `M${x - 8} ${y}H${x + 8}M${x} ${y - 8}V${y + 8}` }),
    other: (x, y) => put("circle", { class: "mark full", cx: x, cy: y, r: 4 })
  };
  // A closed line follows the lower face, as what it bounds does.
  const onFace = (thing, step) => drapedLine(thing.points, app.plan, thing.closed, step);
  function drawThing(thing, hits) {
    const chosen = samePath(thing.path, app.chosen), points = chosen && app.held ? app.held.points : thing.points, style = thing.kind + (chosen ? " chosen" : "");
    const shape = { ...thing, points };
    if (thing.key !== "at") line(thing.kind === "seal" || thing.closed ? onFace(shape, 12 * Math.max(1, camera.perPixel)) : points, style, thing.closed);
    if (thing.radius && thing.key === "at") ring(points[0], thing.radius, style + " reach");
    const middle = thing.closed ? [0, 1, 2].map(k => points.reduce((s, p) => s + p[k], 0) / points.length) : points[Math.floor((points.length - 1) / 2)];
    const from = thing.key === "perimeter" ? points[Math.floor(points.length / 8)] : middle, [x, y] = camera.onScreen(from);
    if (thing.kind !== "seal" && thing.kind !== "land" && kept(from)) {
      if (!thing.closed || thing.key === "perimeter") (marks[thing.kind] || marks.other)(x, y);
      word(thing.name, x, y - 12, chosen ? "chosen" : "");
      hits.push({ x, y, pane: camera.pane, does: "choose", thing, rank: 1 });
    }
    if (!chosen || thing.fixed) return;
    const flat = thing.closed ? p => { const z = app.plan(p[0], p[1]); return z === null ? p : [p[0], p[1], z]; } : p => p;
    const n = points.length, many = thing.key !== "at";
    if (many) for (let i = 0; i < (thing.closed ? n : n - 1); i++) {
      const a = flat(points[i]), b = flat(points[(i + 1) % n]), [ax, ay] = camera.onScreen(a), [bx, by] = camera.onScreen(b);
      if (Math.hypot(ax - bx, ay - by) < 46) continue;
      const [mx, my] = [(ax + bx) / 2, (ay + by) / 2];
      put("path", { class: "more", d: `M${mx - 4} ${my}h8M${mx} ${my - 4}v8` });
      hits.push({ x: mx, y: my, pane: camera.pane, does: "insert", thing, corner: i + 1, rank: 2 });
    }
    points.forEach((p, i) => {
      const [cx, cy] = camera.onScreen(flat(p));
      put("circle", { class: "handle" + (app.corner === i ? " now" : ""), cx, cy, r: app.corner === i ? 7 : 5 });
      hits.push({ x: cx, y: cy, pane: camera.pane, does: "corner", thing, corner: i, rank: 3 });
    });
  }
  function drawTargets(half, hits) {
    for (const row of app.targets()) {
      const at = row[half.which];
      if (!at) continue;
      if (!kept(rigid.move(half.shownBy, at))) continue;
      const [x, y] = camera.onScreen(rigid.move(half.shownBy, at)), r = Math.max(5, (row.ball || 0) / 2 / camera.perPixel), used = row.index >= 0;
      put("circle", { class: "under", cx: x, cy: y, r });
      put("circle", { class: "ball" + (used ? "" : " idle") + (samePath(app.chosen, ["align", "target", row.index]) ? " chosen" : ""), cx: x, cy: y, r });
      if (!row.ball) put("path", { class: "line ball", d: `M${x - 4} ${y}h8M${x} ${y - 4}v8` });
      word(row.name || "?", x, y - r - 5, used ? "" : "idle");
      hits.push({ x, y, pane: camera.pane, does: "target", row, rank: 1 });
    }
  }
  function drawMode() {
    const m = app.mode;
    if (!m || !m.points || !m.points.length) return;
    if (m.points.length > 1) line(m.points, "drawn", false);
    for (const p of m.points) { const [x, y] = camera.onScreen(p); put("circle", { class: "handle", cx: x, cy: y, r: 5 }); }
  }
  return panes => {
    const w = app.canvas.clientWidth, h = app.canvas.clientHeight, hits = [];
    svg.setAttribute("viewBox", `0 0 ${w} ${h}`);
    svg.replaceChildren();
    for (const shown of panes) {
      camera = shown.camera, kept = shown.cut === undefined ? () => true : p => p[0] <= shown.cut;
      const { pane } = camera;
      on = svgNode("svg", { viewBox: `${pane.x} ${pane.y} ${pane.w} ${pane.h}`, x: pane.x, y: pane.y, width: pane.w, height: pane.h });
      svg.append(on);
      const lower = shown.halves.includes("lower");
      if (app.closed.lower) for (const thing of app.things) if (lower || thing.kind === "seal") {
        const only = app.step && app.step.shows;
        if (!only || only.includes(thing.kind) || samePath(thing.path, app.chosen)) drawThing(thing, hits);
      }
      if (!app.step || app.step.targets) for (const which of shown.halves) if (which === "lower" || shown.halves.length === 1) drawTargets(app.data[which], hits);
      if (lower || (app.mode && app.mode.half === "upper")) drawMode();
      if (panes.length > 1 || shown.title) put("text", { class: "title", x: pane.x + 10, y: pane.y + 20 }, shown.title);
      if (pane.x > 0) put("path", { class: "split", d: `M${pane.x} 0V${h}` });
      if (pane.y > 0) put("path", { class: "split", d: `M0 ${pane.y}H${w}` });
    }
    on = svg;
    if (app.cursor) {
      const [x, y] = app.cursor;
      put("path", { class: "under", d: `M${x - 14} ${y}h28M${x} ${y - 14}v28` });
      put("path", { class: "line cursor", d: `M${x - 14} ${y}h28M${x} ${y - 14}v28` });
    }
    app.hits = hits;
  };
}
