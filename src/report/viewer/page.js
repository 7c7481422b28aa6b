// Wires the controls. Whatever cannot be shown is left as the plain maps.
(async () => {
  const get = id => document.getElementById(id);
  let data;
  try { data = await unpack(); } catch (e) { return; }  // an old browser: every map in plan, without reading
  if (!data.nodes) return;
  let sheet = null;
  const pickable = data.fields.filter(f => f.on_screen && !/_after(_|$)/.test(f.id));
  const partner = f => data.by[f.id.replace(/^(conformity|gap|deviation|arrival|lead)(?=_|$)/, "$1_after")] || f;
  const select = get("field"), reading = get("reading");
  const state = () => document.querySelector("input[name=state]:checked").value, after = () => state() === "after";
  const field = () => { const f = data.by[select.value]; return after() && f.id !== "arrival_nominal_s" ? partner(f) : f; };
  const hint = say("front.point-sheet-tap-use");
  const marks = overviewMarks();
  const read = i => {
    reading.textContent = i < 0 ? hint : sentence(data, i, field().id, after());
    if (sheet) sheet.state.label = i < 0 ? "" : `${field().title} ${field().unit ? withUnit(field(), i) : className(data, field(), i)}`;
    if (i >= 0) marks.spot(nodePlace(data, i));
  };

  try {
    sheet = makeSheet(data, document.querySelector("#stage canvas"), get("over"), read);
  } catch (e) { sheet = null; }
  if (sheet) {
    document.body.classList.add("live");
    get("viewer").hidden = false;
    for (const f of pickable) select.add(new Option(f.title, f.id));
    select.value = "deviation_mm";
    const legend = f => {
      const holder = get("legend");
      holder.replaceChildren();
      if (f.id.startsWith("conformity")) {
        const list = document.createElement("ul");
        list.className = "key";
        data.classes.forEach((c, k) => { const li = document.createElement("li"), i = document.createElement("i"); i.className = "c" + k; li.append(i, c); list.append(li); });
        holder.append(list);
        return;
      }
      // The same bar as on the plain maps: round ticks, lines at the limits, an arrow with the number for what lies beyond.
      const svg = svgNode("svg", { viewBox: "0 0 640 44", role: "img", "aria-label": say("front.from", f.title, spell(f.low, f.tick_decimals + 1), `${spell(f.high, f.tick_decimals + 1)} ${f.unit}`) });
      const left = 70, right = 520, at = v => left + (right - left) * (v - f.low) / (f.high - f.low || 1), hair = 1 / f.per;
      const scale = data.scales[f.scale], wide = (right - left) / scale.length;
      scale.forEach((fill, i) => svg.append(svgNode("rect", { x: left + wide * i, y: 4, width: wide + 0.6, height: 14, fill })));
      for (const t of f.ticks) svg.append(svgNode("path", { class: "bar", d: `M${at(t)} 18v4` }), svgNode("text", { x: at(t), y: 36, "text-anchor": "middle" }, spell(t, f.tick_decimals)));
      for (const l of f.limits) svg.append(svgNode("path", { class: "limit", d: `M${at(l)} 0v22` }));
      if (f.least < f.low - hair) svg.append(svgNode("path", { class: "beyond", fill: scale[0], d: `M${left - 2} 4v14l-13 -7Z` }), svgNode("text", { x: left - 19, y: 16, "text-anchor": "end" }, spell(f.least, f.decimals)));
      const over = f.greatest > f.high + hair;
      if (over) svg.append(svgNode("path", { class: "beyond", fill: scale[scale.length - 1], d: `M${right + 2} 4v14l13 -7Z` }), svgNode("text", { x: right + 19, y: 16 }, spell(f.greatest, f.decimals)));
      svg.append(svgNode("text", { x: right + (over ? 80 : 19), y: 16 }, f.unit));
      const p = document.createElement("p");
      p.textContent = `${f.title}. ${f.meaning}` + (f.limits.length === 2 ? " " + say("scales.lines-across-bar-limits", ...f.limits.map(l => `${spell(l, f.decimals - 1)}\u00a0${f.unit}`)) : "");
      holder.append(svg, p);
    };
    const time = get("time"), clock = get("clock"), fronts = get("fronts"), play = get("play"), speed = get("speed"), wipe = get("wipe");
    const right = () => data.by[after() ? "arrival_after_s" : "arrival_s"], left = data.by.arrival_nominal_s;
    let last = 0;
    for (const f of [left, data.by.arrival_s, data.by.arrival_after_s])
      for (let i = 0; i < data.nodes; i++) if (value(f, i) > last) last = value(f, i);
    time.max = Math.ceil(last * 10) / 10, time.step = Math.max(0.1, Math.round(last) / 200);
    const filled = (h, t) => {
      let k = h.findIndex(s => s[0] > t);
      if (k < 0) return h.length ? h[h.length - 1][1] : 0;
      return k === 0 ? h[0][1] : h[k - 1][1] + (h[k][1] - h[k - 1][1]) * (t - h[k - 1][0]) / (h[k][0] - h[k - 1][0]);
    };
    const shares = (t, state) => [spell(t, 1), spell(filled(data.filled[0], t), 0), spell(filled(data.filled[state], t), 0)];
    const tell = () => {
      const t = +time.value;
      sheet.state.time = t;
      clock.textContent = fronts.checked ? (after() ? say("front.s-filled-nominal-gap-after", ...shares(t, 2))
        : say("front.s-filled-nominal-gap", ...shares(t, 1))) : "";
      get("events").hidden = !fronts.checked;
      if (fronts.checked) drawEvents(data, t, last, after() ? 2 : 1, get("events"));
      sheet.dirty();
    };
    const show = () => {
      const f = field(), compared = state() === "wipe" && !fronts.checked && partner(f) !== f;
      wipe.parentNode.hidden = !compared;
      if (fronts.checked) { sheet.race(left, right()); get("legend").replaceChildren(); } else { if (compared) sheet.compare(f, partner(f), wipe.value / 100); else sheet.show(f); legend(f); }
      tell();
      read(sheet.state.at);
    };
    select.onchange = () => { fronts.checked = false; stop(); show(); };
    document.querySelectorAll("input[name=state]").forEach(e => { e.onchange = show; });
    wipe.oninput = () => { sheet.state.wipe = wipe.value / 100; sheet.dirty(); };
    if (!data.corrections.length) document.querySelectorAll("input[name=state]").forEach(e => { if (e.value) e.parentNode.hidden = true; });
    get("show-open").onchange = e => { sheet.state.open = e.target.checked; sheet.dirty(); };
    for (const id of ["regions", "corrections"]) get("show-" + id).onchange = e => { sheet.state[id] = e.target.checked; sheet.dirty(); };
    document.querySelectorAll("[data-act]").forEach(b => { b.onclick = () => sheet.act(b.dataset.act); });
    let playing = 0, was = 0;
    const stop = () => { cancelAnimationFrame(playing); playing = 0; play.setAttribute("aria-pressed", "false"); play.textContent = say("front.play"); };
    const tick = now => {
      if (!playing) return;
      exact = Math.min(last, exact + speed.value * (now - was) / 10000 * last), was = now;
      time.value = exact;
      tell();
      if (exact >= last) stop(); else playing = requestAnimationFrame(tick);
    };
    let exact = 0;
    play.onclick = () => {
      if (playing) { stop(); return; }
      fronts.checked = true;
      exact = +time.value >= last * 0.995 ? 0 : +time.value;
      time.value = exact;
      show();
      play.setAttribute("aria-pressed", "true"), play.textContent = say("front.pause");
      was = performance.now(), playing = requestAnimationFrame(tick);
    };
    time.oninput = () => { if (!fronts.checked) fronts.checked = true, show(); exact = +time.value; tell(); };
    fronts.onchange = () => { stop(); show(); };
    get("plans").onclick = e => e.target.setAttribute("aria-expanded", document.body.classList.toggle("plans"));
    show();
  } else {
    showPlans(data);
  }

  get("section").hidden = false;
  const place = get("place"), angle = get("angle");
  const section = () => {
    const found = cut(data, +angle.value * Math.PI / 180, +place.value / 100);
    drawSection(data, found, get("profile"), get("profile-caption"));
    marks.cut(found.pieces);
    if (sheet) sheet.state.line = found.pieces.map(p => p.map(q => q.place)), sheet.dirty();
  };
  place.oninput = angle.oninput = section;
  let width = get("profile").clientWidth;
  new ResizeObserver(([e]) => { if (Math.abs(e.contentRect.width - width) > 1) width = e.contentRect.width, section(); }).observe(get("profile"));
  const through = i => {
    const a = +angle.value * Math.PI / 180;
    let low = Infinity, high = -Infinity;
    const side = k => -Math.sin(a) * data.at[3 * k] + Math.cos(a) * data.at[3 * k + 1];
    for (let k = 0; k < data.nodes; k++) low = Math.min(low, side(k)), high = Math.max(high, side(k));
    place.value = 200 * (side(i) - (low + high) / 2) / (high - low || 1);
    section();
  };
  get("through").onclick = () => { if (sheet && sheet.state.at >= 0) through(sheet.state.at); };
  get("through").hidden = !sheet;
  wireLinks(p => {
    const i = nearestNode(data, p);
    if (sheet) sheet.read(i); else marks.spot(p);
    through(i);
  });
  const first = worstCut(data);
  angle.value = first.angle;
  through(first.node);
  requestAnimationFrame(() => requestAnimationFrame(() => performance.mark("drawn")));  // for tools/bench
})();
