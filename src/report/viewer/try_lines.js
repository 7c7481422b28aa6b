// What was tried, as lines of the job file. Numbers stand as they were computed with; `first`: what comes without trying.
function jobLines(mold, tried, outcome, first) {
  const out = [], text = s => JSON.stringify(s), fine = v => String(Math.round(v * 1e4) / 1e4);
  const comment = s => out.push("# " + s.replace(/\s+/g, " "));
  const place = p => text(p.map(fine).join(", ") + " mm");
  const path = points => points.length === 1 ? `at = ${place(points[0])}` : `path = [${points.map(place).join(", ")}]`;
  const done = mold.corrections.filter((_, k) => tried.on[k]), sets = Object.assign({}, ...done.map(c => c.sets || {}));
  for (const c of done) comment(c.port || c.sets || c.lays ? say("try.line-below", c.name, c.says) : say("try.line-work", c.name, c.says));

  // What was set by hand goes before what a correction sets.
  const or = (own, key, unit) => own !== null || sets[key] === undefined ? own : unit(sets[key]);
  const state = { ...tried, viscosity: or(tried.viscosity, "viscosity", v => v), limit: or(tried.limit, "limit", v => v / 1e5), vacuum: or(tried.vacuum, "cavity", v => 100 * (1 - v / mold.atmosphere)) };
  const schedule = tried.rate === null ? sets.schedule || [] : [], flow = [];
  if (state.viscosity !== null) flow.push(`viscosity = "${state.viscosity} Pa.s"`);
  if (state.limit !== null) flow.push(`pressure_limit = "${state.limit} bar above atmosphere"`);
  if (state.vacuum !== null) flow.push(`vacuum = "${state.vacuum} % of atmosphere"`);
  if (sets.gel !== undefined) flow.push(`gel_time = "${sets.gel} s"`);
  if (state.rate !== null && state.rate > 0) flow.push(`rate = "${state.rate} L/min"`);
  if (state.vacuum !== null && mold.said.clamping) {
    comment(say("try.line-in", "[laminate]"));
    out.push(`clamping = "${(mold.clamping + vacuumOf(mold, state.vacuum) - Math.max(0, mold.atmosphere - mold.cavity_pressure)).toPrecision(12)} Pa"`, "");
  }
  if (flow.length) {
    comment(say("try.line-in", "[flow]"));
    if (state.vacuum !== null && mold.said.cavity_pressure) comment(say("try.line-in-place", "vacuum", "cavity_pressure"));
    if (state.viscosity !== null && mold.said.viscosity_table) comment(say("try.line-in-place", "viscosity", "viscosity_table, temperature"));
    if (state.rate > 0 && mold.rate_steps > 1) comment(say("try.line-in-place", "rate", "[[flow.schedule]]"));
    out.push(...flow);
  }
  if (state.rate === 0) comment(say("try.line-no-rate"));
  if (schedule.length) comment(say("try.line-in-place", "schedule", "rate, [[flow.schedule]]"));
  if (flow.length || state.rate === 0 || schedule.length) out.push("");
  for (const [from, rate] of schedule) out.push("[[flow.schedule]]", `from = "${from / 1000} mL"`, `rate = "${rate * 60 / 1e6} L/min"`, "");

  const same = (a, b) => JSON.stringify([a.radius, a.path]) === JSON.stringify([b.radius, b.path]), radius = p => `radius = "${fine(p.radius)} mm"`;
  const ports = [["inlet", mold.inlets, outcome.inlets, first.inlets], ["vent", mold.vents, outcome.vents, first.vents]];
  // Alternatives may bear the same name.
  const free = (name, taken) => {
    let out = name;
    for (let n = 2; taken.has(out); ++n) out = `${name} (${n})`;
    taken.add(out);
    return out;
  };
  for (const [kind, names, there, before] of ports) {
    const taken = new Set(names);
    names.forEach((name, k) => {
      if (same(there[k], before[k])) return;
      comment(say("try.line-of", `[[flow.${kind}]]`, name));
      out.push(path(there[k].path), ...(there[k].radius === before[k].radius ? [] : [radius(there[k])]), "");
    });
    done.filter(c => c.port && c.port.adds && c.port.kind === kind).forEach((c, k) => {
      const p = there[names.length + k];
      out.push(`[[flow.${kind}]]`, `name = ${text(free(c.port.name, taken))}`, path(p.path), radius(p), "");
    });
  }
  for (const c of done) if (c.sets && c.sets.open !== undefined) comment(say("try.line-of", "[[flow.vent]]", c.sets.open)), comment(say("try.line-without", "closed_at")), out.push("");
  const kept = outcome.vents.length - state.vents.length;
  state.vents.forEach((_, k) => {
    const v = outcome.vents[kept + k];
    out.push("[[flow.vent]]", `name = "${say("try.added-vent", k + 1)}"`, path(v.path), radius(v), "");
  });
  const lays = done.map(c => c.lays).filter(Boolean), stack = lays.map(l => l.stack).filter(s => s.length).pop();
  if (stack) {
    comment(say("try.line-in-place", "[[laminate.ply]]", "[[laminate.ply]]"));
    for (const ply of stack) if (ply.count > 0) out.push("[[laminate.ply]]", ...plyLines(ply), "");
  }
  for (const name of lays.flatMap(l => l.packed)) comment(say("try.line-of", "[[laminate.radius]]", name)), out.push('packing = "roving"', "");
  for (const name of lays.flatMap(l => l.cut)) comment(say("try.line-of", "[[laminate.zone]]", name)), comment(say("try.line-cut")), out.push("");
  for (const zone of lays.flatMap(l => l.zones)) {
    const { polygon, box, path: along, radius: wide } = zone.where, list = points => `[${points.map(place).join(", ")}]`;
    const where = polygon.length ? [`polygon = ${list(polygon)}`] : box.length ? [`box = ${list(box)}`] : along.length ? [path(along), `radius = "${fine(wide)} mm"`] : null;
    // What lies everywhere is a ply of the stack.
    if (!where) for (const ply of zone.plies) out.push("[[laminate.ply]]", ...plyLines(ply), "");
    else out.push("[[laminate.zone]]", `name = ${text(zone.name)}`, `adds = ${zone.adds}`, ...where, `ply = [${zone.plies.map(ply => `{ ${plyLines(ply).join(", ")} }`).join(", ")}]`, "");
  }
  if (!stack) mold.plies.forEach((ply, k) => {
    if (state.plies[k] === undefined || state.plies[k] === ply.count) return;
    comment(say("try.line-of", "[[laminate.ply]]", ply.name));
    if (state.plies[k] > 0) out.push(`count = ${state.plies[k]}`, ""); else comment(say("try.line-left-out")), out.push("");
  });
  state.zones.forEach((z, k) => {
    out.push("[[laminate.zone]]", `name = "${say("try.added-glass", k + 1)}"`, "adds = true", path(outcome.added[k].path), `radius = "${fine(z.radius)} mm"`,
      `ply = [{ ${plyLines(z.packed ? packed(mold.plies[z.ply], z.amount) : { ...mold.plies[z.ply], count: z.amount }).join(", ")} }]`, "");
  });
  return out.join("\n").trim() + "\n";
}
const vacuumOf = (mold, percent) => mold.atmosphere * percent / 100;

// Roving is packed to a thickness, mm, at half glass by volume.
const packed = (ply, thickness) => ({ ...ply, name: "roving, packed", count: 1, areal_weight: thickness * 0.5 * ply.density, loft: thickness });
// A ply with all its numbers, in units that the job knows.
function plyLines(ply) {
  const law = (l, of) => l.law === "table" ? `law = "table", table = [${l.table.map(([vf, v]) => `["${vf}", "${of(v)}"]`).join(", ")}]` : null;
  const k = ply.permeability, c = ply.compaction, m2 = v => `${v / 1e6} m2`, pa = v => `${v} Pa`;
  const permeability = `{ ${law(k, m2) || `law = "${k.law}", a = "${m2(k.a)}"${k.law === "kozeny-carman" ? "" : `, b = ${k.b}`}`}, ratio = ${k.ratio}, spread = "${100 * k.spread} %" }`;
  const compaction = `{ ${law(c, pa) || `law = "power", a = ${c.a}, b = ${c.b}`} }`;
  return [`glass = ${JSON.stringify(ply.name)}`, `count = ${ply.count}`, `areal_weight = "${ply.areal_weight * 1e6} g/m2"`, `loft = "${ply.loft} mm"`,
    `density = "${ply.density * 1000} g/cm3"`, `direction = "${ply.direction} deg"`, `cloth = ${ply.cloth}`, `bending_length = "${ply.bending_length} mm"`,
    `permeability = ${permeability}`, `compaction = ${compaction}`];
}
