// "Try it on this mold": controls, what they change, and what comes of it. Where a browser has no WebAssembly or no worker
// the section stays hidden.
(() => {
  const get = id => document.getElementById(id), section = get("try-section");
  if (!section || typeof WebAssembly !== "object" || typeof Worker !== "function" || typeof DecompressionStream !== "function" || typeof IntersectionObserver !== "function") return;
  const mold = JSON.parse(get("trial").textContent);
  const link = document.querySelector("nav a[href='#try']");
  const make = (name, attributes = {}, ...children) => {
    const e = document.createElement(name);
    for (const k in attributes) k.startsWith("on") ? e[k] = attributes[k] : e.setAttribute(k, attributes[k]);
    e.append(...children);
    return e;
  };
  const nothing = () => ({ on: mold.corrections.map(() => false), viscosity: null, limit: null, vacuum: null, rate: null, plies: [], moves: new Map(), vents: [], zones: [] });
  let state = nothing(), trials = null, data = null, map = null, base = null, now = null, chosen = null, placing = null, shownField = "arrival";
  const bench = get("try-bench"), status = make("p", { class: "read", id: "try-status", "aria-live": "polite" });

  // In the order of read_trial.cpp.
  const numbers = s => {
    const or = (v, f) => v === null ? NaN : f(v), path = p => [p.length, ...p.flatMap(q => [q[0], q[1], 0])];
    return [or(s.viscosity, v => v), or(s.limit, v => v * 1e5), or(s.vacuum, v => mold.atmosphere - vacuumOf(mold, v)), or(s.rate, v => v * 1e6 / 60),
      s.on.length, ...s.on.map(Number), s.plies.length, ...s.plies,
      s.moves.size, ...[...s.moves].flatMap(([key, [dx, dy]]) => { const [kind, k] = key.split(":"); return [kind === "vent" ? 1 : 0, +k, dx, dy]; }),
      s.vents.length, ...s.vents.flatMap(v => [v.radius, ...path([v.at])]),
      s.zones.length, ...s.zones.flatMap(z => [z.packed ? 1 : 0, z.ply, z.amount, z.radius, ...path(z.path)])];
  };

  // ---- the map
  const fieldOf = () => {
    const f = now.fields, find = id => data.by[id];
    const plain = (field, values, per) => ({ title: field.title, unit: field.unit, decimals: field.decimals, values, per, colours: data.scales[field.scale], low: field.low * per, high: field.high * per, ticks: field.ticks.map(t => t * per) });
    if (shownField === "pressure") return plain(find("peak_pressure_Pa"), f[1], mold.pressure.per);
    if (shownField === "margin") return plain(find("opening_margin_Pa"), f[2], mold.pressure.per);
    if (shownField === "earlier") {
      // Whoever stays dry in one of the two is as late as that filling's end.
      const till = (o, i) => Math.min(o.fields[0][i], o.summary.fill_time);
      const values = f[0].map((_, i) => till(base, i) - till(now, i)), most = Math.max(1, ...values.map(Math.abs));
      const step = 10 ** Math.floor(Math.log10(most)) * (most / 10 ** Math.floor(Math.log10(most)) >= 5 ? 2 : most / 10 ** Math.floor(Math.log10(most)) >= 2 ? 1 : 0.5);
      const ticks = [];
      for (let t = -Math.floor(most / step) * step; t <= most; t += step) ticks.push(t);
      return { title: say("try.earlier"), unit: "s", decimals: mold.time_decimals, values, per: 1, colours: data.scales[2], low: -most, high: most, ticks };
    }
    // One scale for both states, so that a colour stays the same time.
    const arrival = find("arrival_s"), last = Math.max(base.summary.fill_time, now.summary.fill_time), stretch = last / (arrival.high || 1);
    const scaled = plain(arrival, f[0], 1);
    return stretch > 1.02 ? { ...scaled, high: last, ticks: Array.from({ length: 9 }, (_, k) => (k + 1) * last / 10) } : scaled;
  };
  const legend = f => {
    const svg = svgNode("svg", { viewBox: "0 0 640 44", role: "img", "aria-label": f.title }), left = 70, right = 520;
    const wide = (right - left) / f.colours.length, x = v => left + (right - left) * (v - f.low) / (f.high - f.low || 1);
    f.colours.forEach((fill, k) => svg.append(svgNode("rect", { x: left + wide * k, y: 4, width: wide + 0.6, height: 14, fill })));
    const decimals = Math.max(0, Math.min(3, 1 - Math.floor(Math.log10((f.high - f.low) / f.per || 1))));
    for (const t of f.ticks) if (x(t) >= left - 1 && x(t) <= right + 1) svg.append(svgNode("path", { class: "bar", d: `M${x(t)} 18v4` }), svgNode("text", { x: x(t), y: 36, "text-anchor": "middle" }, spell(t / f.per, decimals)));
    svg.append(svgNode("text", { x: right + 14, y: 16 }, f.unit));
    get("try-legend").replaceChildren(svg);
  };
  const itemsNow = () => {
    const s = now.summary, out = [], kept = s.vents.length - state.vents.length;
    s.added.forEach((z, k) => out.push({ key: `zone:${k}`, kind: "glass", label: say("try.added-glass", k + 1), radius: z.radius, path: z.path }));
    s.inlets.forEach((p, k) => p.path.length && out.push({ key: `inlet:${k}`, kind: "inlet", label: mold.inlets[k] || say("gap.inlet"), radius: p.radius, path: p.path }));
    s.vents.forEach((p, k) => out.push(k < kept ? { key: `vent:${k}`, kind: "vent", label: mold.vents[k] || say("gap.vent"), radius: p.radius, path: p.path }
      : { key: `new:${k - kept}`, kind: "vent new", label: say("try.added-vent", k - kept + 1), radius: p.radius, path: p.path }));
    return out;
  };
  const draw = () => {
    const s = now.summary, marks = s.pockets.map(p => ({ kind: "air", at: p.at, label: say("gap.air") }));
    if (s.last_node >= 0 && !marks.length) marks.push({ kind: "last", at: [data.at[3 * s.last_node], data.at[3 * s.last_node + 1]], label: say("fronts.last-to-fill") });
    const f = fieldOf();
    map.show(f), legend(f);
    map.put(itemsNow(), marks, chosen);
  };

  // ---- the table
  const shownTime = v => `${spell(v, mold.time_decimals)}\u00a0s`;
  // Of areas as in the report: the larger the fewer.
  const areaDigits = x => mold.length.unit === "in" ? (x < 0.995 ? 2 : x < 99.5 ? 1 : 0) : x < 9.95 ? 1 : 0;
  const digitsOf = (kind, v) => kind === "area" ? areaDigits(Math.abs(v / mold.area.per)) : mold[kind].decimals;
  const shownAs = (kind, digits) => v => `${spell(v / mold[kind].per, digits === undefined ? digitsOf(kind, v) : digits)}\u00a0${mold[kind].unit}`;
  const ratio = v => Number.isFinite(v) ? spell(v, v < 9.995 ? 2 : 0) : "–";
  const rows = () => [[say("page.fill-time"), "fill_time", shownTime], [say("page.last-point-fill-from"), "last_to_vent", shownAs("length", mold.length.unit === "in" ? 2 : 0)],
    [say("front.dry-area"), "dry_area", shownAs("area")], [say("try.peak-pressure"), "peak_pressure", shownAs("pressure")], [say("clamping.closing-force-over-opening"), "balance", ratio],
    [say("order.area-out-tolerance"), "out_area", shownAs("area")], [say("try.over-packed"), "over_packed", shownAs("area")], [say("try.not-filled"), "under_filled", shownAs("area")]];
  const table = () => {
    const head = make("tr", {}, make("th", { scope: "col" }), ...[say("front.measured"), say("try.tried"), say("try.difference")].map(word => make("th", { scope: "col" }, word)));
    const body = rows().map(([name, key, show]) => {
      const a = base.summary[key], b = now.summary[key], d = b - a, text = show(d);
      return make("tr", { "data-key": key }, make("th", { scope: "row" }, name), make("td", {}, show(a)), make("td", {}, show(b)), make("td", {}, d > 0 && text !== show(0) ? "+" + text : text === show(0) || !Number.isFinite(d) ? "–" : text));
    });
    get("try-table").replaceChildren(make("table", {}, make("thead", {}, head), make("tbody", {}, ...body)));
  };

  // ---- trying
  const attempt = () => {
    status.textContent = say("try.computing");
    section.setAttribute("aria-busy", "true");
    const moves = new Map(state.moves);
    trials.ask(numbers(state), (o, more) => {
      section.setAttribute("aria-busy", String(more));
      if (o.error) { status.textContent = say("try.fails", o.error); return; }  // the last picture stays
      now = { ...o, moves, summary: readSummary(o.summary) };
      status.textContent = say("try.computed", spell(o.ms / 1000, 2));
      draw(), table(), lines();
      performance.mark("tried", { detail: o.ms });
    });
  };
  const lines = () => { const out = get("try-lines"); if (!out.hidden) out.querySelector("textarea").value = jobLines(mold, state, now.summary, base.summary); };
  const change = f => { f(), controls(), attempt(); };
  const own = key => { const [kind, k] = (key || "").split(":"); return kind === "new" ? state.vents[+k] : kind === "zone" ? state.zones[+k] : null; };
  const tell = {
    picked(key) { if (key !== chosen) chosen = key, selection(), draw(); },
    moved(key, x, y) {
      const [kind, k] = key.split(":");
      if (kind === "new") state.vents[+k].at = [x, y];
      else if (kind === "zone") { const z = state.zones[+k], [dx, dy] = [x - z.path[0][0], y - z.path[0][1]]; z.path = z.path.map(p => [p[0] + dx, p[1] + dy]); }
      else {
        // From where it stands without being carried: what is shown may lag behind what was asked for last.
        const list = now.summary[kind + "s"][+k].path[0], [dx, dy] = now.moves.get(key) || [0, 0];
        state.moves.set(key, [dx + x - list[0], dy + y - list[1]]);
      }
      attempt();
    },
    placed(x, y) {
      if (!placing) return;
      placing.path.push([x, y]);
      if (placing.path.length < placing.points) { status.textContent = say("try.tap-end"); return; }
      const p = placing;
      placing = null;
      change(() => {
        if (p.kind === "vent") state.vents.push({ at: p.path[0], radius: mold.vent_radius }), chosen = `new:${state.vents.length - 1}`;
        else state.zones.push({ packed: p.kind === "packing", ply: 0, amount: 1, radius: p.kind === "patch" ? 25 : p.kind === "packing" ? 6 : 15, path: p.path }), chosen = `zone:${state.zones.length - 1}`;
      });
    }
  };
  const place = (kind, points) => { placing = { kind, points, path: [] }; status.textContent = points > 1 ? say("try.tap-begin") : say("try.tap-place"); get("try-map").scrollIntoView({ block: "nearest" }); };

  // ---- controls
  const slider = (label, from, to, step, value, text, set) => {
    const output = make("output", {}, text(value)), input = make("input", { type: "range", min: from, max: to, step, value, "aria-label": label });
    input.oninput = () => { output.textContent = text(+input.value); set(+input.value); attempt(); };
    return make("label", { class: "try-slider" }, make("span", {}, label), input, output);
  };
  // 24 steps down and up, each a twelfth of a doubling, to two digits; in the middle the job's own value, as it is.
  const around = (own, k) => k === 0 ? own : Number((own * 2 ** (k / 12)).toPrecision(2));
  const stepOf = (own, v) => v === null ? 0 : Math.round(12 * Math.log2(v / own));
  const process = () => {
    const rate = mold.rate === null ? 1 : mold.rate * 60 / 1e6, limit = mold.pressure_limit / 1e5, vacuum = 100 * (1 - mold.cavity_pressure / mold.atmosphere);
    const bar = v => `${spell(v * 1e5 / mold.pressure.per, mold.pressure.decimals)}\u00a0${mold.pressure.unit}`;
    const rateText = v => v === 0 ? say("try.pressure-alone") : `${spell(v * 1e6 / 60 / mold.flow_rate.per, 2)}\u00a0${mold.flow_rate.unit}`;
    const ownRate = mold.rate === null ? say("try.pressure-alone") : mold.rate_steps > 1 ? say("try.as-job") : rateText(rate);
    return [
      slider(say("pages.viscosity"), -24, 24, 1, stepOf(mold.viscosity, state.viscosity), k => `${spell(around(mold.viscosity, k), 3)}\u00a0Pa·s`, k => { state.viscosity = k ? around(mold.viscosity, k) : null; }),
      slider(say("try.rate"), -25, 24, 1, state.rate === null ? 0 : state.rate === 0 ? -25 : stepOf(rate, state.rate), k => k === -25 ? rateText(0) : k === 0 ? ownRate : rateText(around(rate, k)), k => { state.rate = k === 0 ? null : k === -25 ? 0 : around(rate, k); }),
      slider(say("try.limit"), -24, 24, 1, stepOf(limit, state.limit), k => bar(around(limit, k)), k => { state.limit = k ? around(limit, k) : null; }),
      slider(say("try.vacuum"), 0, 100, 1, state.vacuum === null ? Math.round(vacuum) : state.vacuum, v => `${spell(v, 0)}\u00a0%`, v => { state.vacuum = v === Math.round(vacuum) ? null : v; })];
  };
  const stack = () => mold.plies.map((ply, k) => slider(ply.name, 0, Math.max(6, Math.ceil(ply.count) + 3), 1, state.plies[k] === undefined ? ply.count : state.plies[k], v => `${spell(v, Number.isInteger(v) ? 0 : 1)}\u00a0×`, v => { for (let i = 0; i < mold.plies.length; i++) if (state.plies[i] === undefined) state.plies[i] = mold.plies[i].count; state.plies[k] = v; }));
  const corrections = () => mold.corrections.map((c, k) => {
    const box = make("input", { type: "checkbox" });
    box.checked = state.on[k];
    box.onchange = () => { state.on[k] = box.checked; for (const key of [...state.moves.keys()]) if (+key.split(":")[1] >= mold[key.split(":")[0] + "s"].length) state.moves.delete(key); attempt(); };
    return make("label", { class: "try-correction" }, box, make("span", {}, make("b", { translate: "no" }, c.name), ` ${c.kind}${c.chosen ? ` (${say("try.chosen")})` : ""}`, make("small", {}, c.says)));
  });
  const selection = () => {
    const item = own(chosen), box = get("try-chosen"), out = [];
    if (item) {
      const name = chosen.startsWith("new") ? say("try.added-vent", +chosen.split(":")[1] + 1) : say("try.added-glass", +chosen.split(":")[1] + 1), tenth = v => `${spell(v / mold.length.per, mold.length.unit === "in" ? 2 : 0)}\u00a0${mold.length.unit}`;
      out.push(make("b", {}, name), slider(say("try.width"), 4, 160, 2, 2 * item.radius, tenth, v => { item.radius = v / 2; }));
      if (chosen.startsWith("zone")) {
        if (mold.plies.length > 1) {
          const select = make("select", { "aria-label": say("clamping.glass"), onchange: e => { item.ply = +e.target.value; attempt(); } }, ...mold.plies.map((p, k) => make("option", { value: k }, p.name)));
          select.value = item.ply;
          out.push(make("label", {}, say("clamping.glass") + " ", select));
        }
        out.push(item.packed ? slider(say("try.thickness"), 0.1, 3, 0.1, item.amount, v => `${spell(v / mold.length.per, mold.length.unit === "in" ? 3 : 1)}\u00a0${mold.length.unit}`, v => { item.amount = v; })
          : slider(say("clamping.plies"), 1, 4, 1, item.amount, v => spell(v, 0), v => { item.amount = v; }));
      }
      out.push(make("button", { type: "button", onclick: () => change(() => { const [kind, k] = chosen.split(":"); (kind === "new" ? state.vents : state.zones).splice(+k, 1), chosen = null; }) }, say("try.remove")));
    }
    box.replaceChildren(...out), box.hidden = !out.length;
  };
  const group = (title, ...children) => make("fieldset", {}, make("legend", {}, title), ...children);
  const controls = () => {
    const list = [group(say("try.process"), ...process()), group(say("try.stack"), ...stack())];
    if (mold.corrections.length) list.unshift(group(say("try.corrections"), ...corrections()));
    get("try-controls").replaceChildren(...list);
    selection();
  };
  const button = (text, onclick, id) => make("button", { type: "button", onclick, ...(id ? { id } : {}) }, text);
  const build = () => {
    const pick = make("select", { id: "try-field", onchange: e => { shownField = e.target.value; draw(); } }, ...[["arrival", say("try.front")], ["earlier", say("try.earlier")], ["pressure", data.by.peak_pressure_Pa.title], ["margin", data.by.opening_margin_Pa.title]].map(([value, title]) => make("option", { value }, title)));
    const area = make("textarea", { readonly: "", rows: 12, "aria-label": say("try.keep"), spellcheck: "false", translate: "no" });
    const copied = make("span", { role: "status" });
    const copy = button(say("try.copy"), async () => {
      try { await navigator.clipboard.writeText(area.value); } catch (e) { area.select(), document.execCommand("copy"); }
      copied.textContent = say("try.copied");
    }, "try-copy");
    bench.append(
      make("div", { class: "controls" }, make("label", {}, say("front.show") + " ", pick), button(say("try.add-vent"), () => place("vent", 1), "try-add-vent"), button(say("try.add-patch"), () => place("patch", 1), "try-add-patch"),
        button(say("try.add-overlap"), () => place("overlap", 2), "try-add-overlap"), button(say("try.pack"), () => place("packing", 2), "try-pack"), button(say("try.start-again"), () => change(() => { state = nothing(), chosen = null, placing = null; }), "try-reset")),
      make("div", { class: "try-parts" }, make("div", {}, make("div", { id: "try-map" }), make("div", { id: "try-legend" }), status, make("div", { id: "try-chosen", class: "controls", hidden: "" }), make("div", { id: "try-table", class: "wide" })),
        make("div", { id: "try-controls" })),
      make("div", { class: "controls" }, button(say("try.keep"), () => { get("try-lines").hidden = false, copied.textContent = "", lines(); area.focus(); }, "try-keep")),
      make("div", { id: "try-lines", hidden: "" }, make("p", {}, say("try.keep-hint")), area, make("div", { class: "controls" }, copy, copied)));
  };
  const start = async () => {
    status.textContent = "";
    try {
      data = await unpack();
      trials = await openTrials(get("engine").textContent, mold.packed);
      const first = await trials.once(numbers(nothing()));
      if (first.error) throw new Error(first.error);
      base = now = { ...first, moves: new Map(), summary: readSummary(first.summary) };
    } catch (e) {
      section.hidden = true;
      if (link) link.hidden = true;
      return;
    }
    build(), controls();
    map = makeTryMap(data, get("try-map"), tell);
    status.textContent = say("try.drag");
    draw(), table();
    performance.mark("try-ready");
  };
  section.hidden = false;
  if (link) link.hidden = false;
  // For the check in a browser: what a trial comes to.
  const outcome = o => ({ ...o, summary: o.error ? null : readSummary(o.summary) });
  window.tryOnce = async change => { const s = nothing(); change(s); return outcome(await trials.once(numbers(s))); };
  window.tryNow = async () => outcome(await trials.once(numbers(state)));
  const seen = new IntersectionObserver(list => { if (list.some(e => e.isIntersecting)) seen.disconnect(), start(); }, { rootMargin: "600px" });
  seen.observe(section);
})();
