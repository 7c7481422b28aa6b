// The steps of the panel, in the order in which a tool is set up.
const micrometres = mm => mm === undefined || mm === null ? "–" : `${spell(1000 * mm, mm < 0.01 ? 1 : 0)}\u00a0µm`;

// Targets of the job, and balls that were found and are none of them.
function targetRows(app) {
  const { job, data } = app, rows = (job.get(["align", "target"]) || []).map((t, index) => {
    const found = app.closed.found.get(t.name) || {};
    return { index, name: t.name, ball: t.ball ? places.length(t.ball) : 0, dowel: t.dowel ? places.length(t.dowel) : 0, lower: found.lower && found.lower.centre, upper: found.upper && found.upper.centre,
      form: [found.lower && found.lower.form, found.upper && found.upper.form], residual: app.closed.residual.get(t.name) };
  });
  const near = (a, b, d) => a && b && Math.hypot(...a.map((v, k) => v - b[k])) < d;
  const used = (which, b) => rows.some(r => near(r[which], b.at, b.diameter / 2));
  const free = rows.length;
  for (const pair of data.pairs) if (!rows.some(r => near(r.lower, pair.lower, pair.diameter / 2))) rows.push({ index: -1, pair, name: pair.name, ball: pair.dowel ? 0 : pair.diameter, dowel: pair.dowel ? pair.diameter : 0, lower: pair.lower, upper: pair.upper, form: [] });
  for (const which of ["lower", "upper"])
    for (const b of data[which].balls) if (!used(which, b)) rows.push({ index: -1, name: "", ball: b.diameter, [which]: b.at, form: which === "lower" ? [b.form] : [undefined, b.form] });
  rows.free = free;
  return rows;
}
// The targets that the job has, found again in the scans when the half is looked at.
function useBall(app, pair) {
  const write = (p, fine) => places.write(p, { unit: app.job.unit(), fine }), taken = (app.job.get(["align", "target"]) || []).some(t => t.name === pair.name);
  const entry = { name: taken ? app.job.freeName(["align", "target"], "B") : pair.name, [pair.dowel ? "dowel" : "ball"]: lengthIn(app, pair.diameter, (pair.diameter / 25.4).toFixed(4)), lower: write(pair.lower), upper: write(pair.upper) };
  if (pair.tool && (app.job.get(["align", "target"]) || []).every(t => t.tool)) entry.tool = write(pair.tool, true);
  app.job.add(["align", "target"], entry);
}
// A target is pointed at in one half, then in the other.
function addTarget(app, ball) {
  const entry = { name: app.job.freeName(["align", "target"], ball ? "B" : "P") };
  if (ball) entry.ball = ball;
  else { const u = app.data.lower.shown_spacing / 2; entry.u = lengthIn(app, +u.toFixed(2), (u / 25.4).toFixed(3)); }  // a click finds a scan point, not the mark
  app.show("both");
  const ask = which => app.start({
    half: which, points: [], hint: which === "lower" ? say("pointing.click-lower") : say("pointing.click-upper"), take: found => {
      const centre = ball ? (rigid.ball(app.data[which].at, found.own, places.length(ball) / 2) || {}).centre : found.own;
      if (!centre) return app.tell(say("pointing.no-ball-there", ball));
      entry[which] = places.write(centre, { unit: app.job.unit() });
      if (which === "lower") return ask("upper");
      app.stop();
      app.job.add(["align", "target"], entry);
      app.chooseNew(["align", "target"]);
    }
  });
  ask("lower");
}

// Three places on the flange give the tool frame: Z leaves it towards whoever looks at it, X runs along the half's longer
// side. Everything that has a place already keeps it on the tool.
function layFrame(app) {
  app.start({
    half: "lower", many: true, least: 3, most: 3, points: [], hint: say("pointing.click-frame"), done: places3 => {
      const { job, data } = app, camera = app.panes.find(p => p.halves.includes("lower")).camera, [a, b, c] = places3;
      const cross = (u, v) => [u[1] * v[2] - u[2] * v[1], u[2] * v[0] - u[0] * v[2], u[0] * v[1] - u[1] * v[0]], minus = (u, v) => u.map((x, k) => x - v[k]), dot = (u, v) => u.reduce((s, x, k) => s + x * v[k], 0), unit = u => { const l = Math.hypot(...u); return u.map(x => x / l); };
      const z0 = unit(cross(minus(b, a), minus(c, a)));
      if (!z0.every(Number.isFinite)) return app.tell(say("pointing.in-a-row"));
      const z = dot(z0, camera.toward) < 0 ? z0.map(x => -x) : z0, long = rigid.turn(app.closed.lower, data.lower.flat.slice(0, 3)), x = unit(minus(long, z.map(v => v * dot(long, z)))), y = cross(z, x);
      const middle = rigid.move(app.closed.lower, rigid.back(data.lower.flat, [0, 0, 0])), origin = middle.map((v, k) => v - z[k] * dot(minus(middle, a), z));
      const turn = [...x, -dot(x, origin), ...y, -dot(y, origin), ...z, -dot(z, origin)], to = rigid.after(turn, app.closed.lower), write = (p, fine) => places.write(p, { unit: job.unit(), fine });
      job.edit(doc => {
        for (const t of doc.align.target) { const at = targetIn(data.lower, t.lower, t.ball ? places.length(t.ball) : 0); if (at) t.tool = write(rigid.move(to, at.centre), true); }
        for (const thing of thingsOf(job)) {
          if (thing.kind === "seal") doc.cavity.seal = thing.points.map(p => places.write(rigid.move(turn, p), { unit: job.unit(), flat: true }));
          else if (!thing.fixed) { const moved = thing.points.map(p => places.write(rigid.move(turn, p), { unit: job.unit(), flat: thing.closed })); job.get(thing.path)[thing.key] = thing.key === "at" ? moved[0] : moved; }
        }
      });
      app.show("lower");
    }
  });
}
// Lines and outlines are given in plan, so Z must leave the flange.
function frameBox(app) {
  const targets = app.job.get(["align", "target"]) || [], m = app.closed.lower, flat = app.data.lower.flat;
  if (!m || !targets.length) return null;
  const tilted = Math.abs(rigid.turn(m, flat.slice(8, 11))[2]) < 0.97;
  return [tilted && el("p", { class: "fault" }, say("pointing.frame-tilted")),
    (tilted || !targets.some(t => t.tool)) && el("p", { class: "row" }, button(say("pointing.lay-frame"), () => layFrame(app), { class: tilted ? "main" : "", "data-path": "frame.lay" }))];
}

function halfBox(app, which) {
  const h = app.data[which], size = h.size.join(" × ");
  return el("section", { class: "half " + which }, el("h3", {}, which === "lower" ? say("pointing.lower-half") : say("pointing.upper-half")),
    el("p", { class: "facts" }, say("pointing.scan-facts", h.points.toLocaleString(app.data.language), size, spell(h.spacing, 2)), " ", h.declared ? "" : h.unit_reason),
    field(app, [which, "unit"]),
    app.fold("half." + which, say("pointing.more-settings", 6), () => [["file", "columns", "separator", "decimal_comma", "tip_radius"].map(k => field(app, [which, k])), listOf(app, [which, "patch"])]));
}

function targetsTable(app) {
  const rows = app.targets(), used = rows.filter(r => r.index >= 0), head = [say("pointing.name"), say("pointing.ball"), say("pointing.form"), say("pointing.partner"), say("pointing.residual"), ""];
  const row = r => el("tr", { class: (r.index < 0 ? "idle" : "") + (samePath(app.chosen, ["align", "target", r.index]) ? " chosen" : "") },
    el("th", { scope: "row" }, r.index >= 0 ? button(r.name, () => app.choose(["align", "target", r.index]), { class: "plain", translate: "no", "data-path": "target." + r.index }) : r.name || "–"),
    el("td", {}, r.ball ? places.spokenLength(r.ball, app.job.unit(), 1) : r.dowel ? say("pointing.dowel-of", places.spokenLength(r.dowel, app.job.unit(), 1)) : say("pointing.plain-point")),
    el("td", {}, r.form.some(f => f !== undefined) ? r.form.filter(f => f !== undefined).map(micrometres).join(" / ") : "–"),
    el("td", {}, r.lower && r.upper ? say("pointing.both-halves") : r.lower ? say("pointing.lower-only") : r.upper ? say("pointing.upper-only") : "–"),
    el("td", {}, micrometres(r.residual)),
    el("td", {}, r.index >= 0 ? button(say("pointing.reject"), () => { app.choose(null); app.job.remove(["align", "target", r.index]); }, { class: "quiet", "aria-label": `${say("pointing.reject")} ${r.name}`, "data-path": "reject." + r.index })
      : r.pair ? button(say("pointing.use"), () => useBall(app, r.pair), { "aria-label": `${say("pointing.use")} ${r.name}`, "data-path": "use." + r.name }) : ""));
  const sizes = [...new Set(rows.filter(r => r.ball).map(r => lengthIn(app, +r.ball.toFixed(3), (r.ball / 25.4).toFixed(4))))], pick = el("select", { "aria-label": say("pointing.target-kind"), "data-path": "target.kind" },
    [...sizes.map(s => el("option", { value: s }, say("pointing.ball-of", s))), el("option", { value: "" }, say("pointing.plain-point"))]);
  const worst = Math.max(0, ...app.closed.residual.values()), play = app.job.get(["align", "seat_play"]) ? places.length(app.job.get(["align", "seat_play"])) : 0.05;  // the program's own limit
  const chosen = app.chosen && samePath(app.chosen.slice(0, 2), ["align", "target"]) && app.job.get(app.chosen) ? app.chosen : null;
  return el("section", { class: "list", "data-list": "align.target" }, el("h3", {}, say("pointing.targets")), el("p", { class: "help" }, say("pointing.targets-help")),
    rows.length > 0 && el("div", { class: "wide" }, el("table", {}, el("thead", {}, el("tr", {}, head.map(h => el("th", { scope: "col" }, h)))), el("tbody", {}, rows.map(row)))),
    el("p", { class: app.closed.lower ? worst > play ? "" : "good" : "fault" }, app.closed.lower ? used.length && app.closed.residual.size ? say("pointing.closed-by", app.closed.residual.size, spell(1000 * Math.sqrt([...app.closed.residual.values()].reduce((s, v) => s + v * v, 0) / app.closed.residual.size), 0)) : say("pointing.closed-else") : say("pointing.not-closed") + " " + app.closed.why),
    worst > play && el("p", { class: "fault" }, say("pointing.more-than-play", micrometres(play))),
    el("p", { class: "row" }, pick, button(say("pointing.add-target"), () => addTarget(app, pick.value), { "data-path": "add.align.target" })),
    frameBox(app), chosen && card(app, ["align", "target"], chosen[2]));
}

// Each corner to the outside by so much, along the mean of its two sides' normals.
function grown(points, by) {
  const n = points.length, turn = Math.sign(points.reduce((s, p, i) => { const q = points[(i + 1) % n]; return s + p[0] * q[1] - q[0] * p[1]; }, 0)) || 1;
  const side = (a, b) => { const d = [b[0] - a[0], b[1] - a[1]], l = Math.hypot(...d) || 1; return [turn * d[1] / l, -turn * d[0] / l]; };
  return points.map((p, i) => {
    const a = side(points[(i + n - 1) % n], p), b = side(p, points[(i + 1) % n]), m = [a[0] + b[0], a[1] + b[1]], k = Math.max(0.5, (1 + a[0] * b[0] + a[1] * b[1]));
    return [p[0] + by * m[0] / k, p[1] + by * m[1] / k, p[2]];
  });
}
function sealBox(app) {
  const { data, job } = app, seal = app.things.find(t => t.kind === "seal");
  let by = app.sealBy || lengthIn(app, 1, "0.04");
  const write = points => points.map(p => places.write(p, { unit: job.unit(), flat: true })), grow = sense => { const d = places.length(by); if (d > 0) job.set(["cavity", "seal"], write(grown(seal.points, sense * d))); else app.tell(say("pointing.write-like", lengthIn(app, 1, "0.04"))); };
  const proposal = data.seal && data.seal.line.length ? data.seal : null, guess = job.unconfirmed(["cavity", "seal"]) && seal;
  return el("section", { class: "list", "data-list": "cavity.seal" }, el("p", { class: "help" }, say("pointing.seal-help")),
    data.seal && el("p", { class: "sentence" }, data.seal.how, ". ", proposal ? say("pointing.proposal-known", spell(proposal.u, 1), spell(proposal.width, 0), Math.round(100 * proposal.land)) : ""),
    !seal && el("p", { class: "fault" }, say("pointing.no-seal")),
    guess && el("div", { class: "guess" }, el("span", {}, say("pointing.guess")), button(say("pointing.confirm"), () => job.confirm(["cavity", "seal"]), { "data-path": "confirm.cavity.seal" })),
    el("p", { class: "row" },
      proposal && button(say("pointing.take-proposal"), () => { job.set(["cavity", "seal"], write(proposal.line)); app.choose(["cavity", "seal"]); }, { "data-path": "seal.take" }),
      seal && button(say("pointing.edit-corners"), () => app.choose(["cavity", "seal"]), { "data-path": "seal.corners" }),
      button(say("pointing.redraw"), () => pointAt(app, { key: "seal" }), { disabled: !app.closed.lower, "data-path": "seal.redraw" })),
    seal && el("p", { class: "row" }, el("label", { for: "seal-by" }, say("pointing.how-far")), el("input", { type: "text", id: "seal-by", size: "7", value: by, autocomplete: "off", "data-path": "seal.by", onchange: e => { app.sealBy = e.target.value; by = app.sealBy; } }),
      button(say("pointing.outwards"), () => grow(1), { "data-path": "seal.out" }), button(say("pointing.inwards"), () => grow(-1), { "data-path": "seal.in" })),
    seal && app.fold("seal.text", say("pointing.corners-as-text", seal.points.length), () => field(app, ["cavity", "seal"], { help: false })));
}

function saveBox(app) {
  const text = app.job.text(), item = x => el("li", {}, button([el("code", {}, x.path.filter(k => k !== "").map(k => typeof k === "number" ? k + 1 : k).join(" › ")), " ", x.text], () => app.goTo(x.path), { class: "plain" }));
  return [el("h3", {}, say("pointing.what-is-missing")),
    answersOf(app).map(a => el("section", { class: "answer " + answerStyle(a) }, el("h4", {}, a.title, ": ", answerWord(a, true)),
      a.own.length > 0 && el("ul", {}, a.own.map(item)),
      a.ownGuesses.length > 0 && el("ul", { class: "open" }, a.ownGuesses.map(item)))),
    !app.things.some(t => t.kind === "seal") && el("p", { class: "help" }, say("pointing.no-seal")),
    !(app.job.get(["correct", "station"]) || []).length && el("p", { class: "help" }, say("pointing.no-stations")),
    el("p", { class: "row" }, button(say("pointing.save"), app.save, { class: "main", "data-path": "save.file" }), button(say("pointing.copy"), async e => { const b = e.target; try { await navigator.clipboard.writeText(text); b.textContent = say("pointing.copied"); } catch (x) { getSelection().selectAllChildren(document.querySelector(".preview")); } }, { "data-path": "save.copy" })),
    el("p", {}, say("pointing.where-to", app.job.file)),
    el("p", {}, say("pointing.last-word")), el("pre", { translate: "no" }, `gapfront inspect ${app.job.file} --check\ngapfront inspect ${app.job.file}\ngapfront new --edit ${app.job.file}`),
    app.fold("save.text", say("pointing.job-text"), () => el("pre", { class: "preview", translate: "no" }, text), true)];
}

const lines = kinds => ["seal", ...kinds];
const steps = () => [
  { id: "halves", title: say("pointing.step-halves"), view: "both", targets: true, shows: ["seal", "land"], has: ["job", "report", "lower", "upper", "clean", "align", "history"],
    draw: app => [fields(app, ["job"], { first: ["name", "tool", "date", "units"], skip: ["unconfirmed", "photo"] }), photoBox(app), halfBox(app, "lower"), app.data.by_readings ? el("p", { class: "sentence" }, say("pointing.no-upper-scan")) : halfBox(app, "upper"), targetsTable(app),
      app.fold("align", say("pointing.other-ways"), () => [fields(app, ["align"], { first: ["method"] }), listOf(app, ["align", "feature"]), listOf(app, ["align", "flange"], { title: say("pointing.lands") }), listOf(app, ["align", "datum"])]),
      app.fold("rest", say("pointing.rest"), () => [fields(app, ["report"], { first: ["language"] }), fields(app, ["clean"], { first: ["outliers"] }), fields(app, ["history"], { first: ["file", "instrument", "limit"] })])] },
  { id: "line", title: say("pointing.step-line"), view: "lower", shows: lines(["island", "mask", "corner"]), has: ["cavity.seal", "cavity.island", "cavity.mask", "correct.reference"],
    draw: app => [sealBox(app), listOf(app, ["correct", "reference"], { title: say("pointing.corners"), intro: say("pointing.corners-help") }), listOf(app, ["cavity", "island"], { title: say("pointing.islands") }), listOf(app, ["cavity", "mask"], { title: say("pointing.masks") })] },
  { id: "gap", title: say("pointing.step-gap"), view: "lower", shows: lines(["spot", "thickness"]), has: ["cavity", "instrument"],
    draw: app => [app.data.gap > 0 && el("p", {}, say("pointing.halves-apart", places.spokenLength(app.data.gap, app.job.unit(), 1))), fields(app, ["cavity"], { first: ["nominal", "tolerance", "u_instrument"], skip: ["seal"] }),
      app.fold("instrument", say("pointing.what-scanner"), () => fields(app, ["instrument"], { first: ["constant", "per_metre"] })),
      listOf(app, ["cavity", "spot"], { title: say("pointing.readings") }), listOf(app, ["cavity", "zone"], { title: say("pointing.thickness-zones") })] },
  { id: "glass", title: say("pointing.step-glass"), view: "lower", shows: lines(["zone"]), has: ["laminate"],
    draw: app => [listOf(app, ["laminate", "ply"], { title: say("pointing.plies") }), fields(app, ["laminate"], { first: ["resin_density", "weight_fraction"] }), listOf(app, ["laminate", "zone"], { title: say("pointing.zones"), intro: say("pointing.zones-help") })] },
  { id: "resin", title: say("pointing.step-resin"), view: "lower", shows: lines(["inlet", "vent", "support"]), has: ["flow", "closing"],
    draw: app => [listOf(app, ["flow", "inlet"], { title: say("pointing.inlets"), along: true }), listOf(app, ["flow", "vent"], { title: say("pointing.vents") }), el("h3", {}, say("try.process")),
      fields(app, ["flow"], { first: ["viscosity", "pressure_limit", "vacuum", "rate", "gel_time"].filter(k => k !== "vacuum" || app.job.get(["flow", "cavity_pressure"]) === undefined) }), app.fold("schedule", labelOf(["flow", "schedule"]), () => listOf(app, ["flow", "schedule"])),
      app.fold("closing", say("pointing.what-closes"), () => [fields(app, ["closing"]), listOf(app, ["closing", "half"]), listOf(app, ["closing", "support"])])] },
  { id: "work", title: say("pointing.step-work"), view: "lower", shows: lines(["station", "corner"]), has: ["correct"],
    draw: app => [listOf(app, ["correct", "station"], { title: say("pointing.stations"), intro: say("pointing.stations-help") }), fields(app, ["correct"], { first: ["stock", "shop_step"] }), app.fold("effort", labelOf(["correct", "effort"]), () => listOf(app, ["correct", "effort"]))] },
  { id: "save", title: say("pointing.step-save"), view: "closed", targets: true, shows: null, has: [], draw: saveBox }
];
