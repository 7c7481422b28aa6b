// The section across the cavity: both halves true to shape with the gap drawn larger, and below it the gap along the cut
// with its tolerance band and its uncertainty.
function cut(data, angle, share) {
  const along = [Math.cos(angle), Math.sin(angle)], across = [-along[1], along[0]];
  const side = new Float64Array(data.nodes);
  let low = Infinity, high = -Infinity;
  for (let i = 0; i < data.nodes; i++) {
    side[i] = across[0] * data.at[3 * i] + across[1] * data.at[3 * i + 1];
    low = Math.min(low, side[i]), high = Math.max(high, side[i]);
  }
  // A hair beside the place asked for, so that the plane passes through no node.
  const level = (low + high) / 2 + share * (high - low) / 2 * 0.999 + 1e-4;
  const ids = ["gap_mm", "gap_along_normal_mm", "U_mm", "limit_low_mm", "limit_high_mm", "nominal_mm"];
  const points = new Map(), links = new Map();
  const crossing = (i, j) => {
    const [a, b] = i < j ? [i, j] : [j, i], key = a * data.nodes + b;
    if (!points.has(key)) {
      const t = (level - side[a]) / (side[b] - side[a]), mix = f => (1 - t) * f(a) + t * f(b);
      const p = { place: [0, 1, 2].map(k => mix(n => data.at[3 * n + k])), normal: [0, 1, 2].map(k => mix(n => data.normal[3 * n + k])), a, b, t };
      for (const id of ids) p[id] = data.mm_per_unit * mix(n => value(data.by[id], n));  // fields are as shown, the cut is in mm
      p.x = along[0] * p.place[0] + along[1] * p.place[1];
      points.set(key, p);
    }
    return key;
  };
  for (let t = 0; t < data.corners.length; t += 3) {
    const keys = [];
    for (let k = 0; k < 3; k++) {
      const i = data.corners[t + k], j = data.corners[t + (k + 1) % 3];
      if (side[i] < level !== side[j] < level) keys.push(crossing(i, j));
    }
    if (keys.length !== 2) continue;
    keys.forEach((k, n) => links.set(k, (links.get(k) || []).concat(keys[1 - n])));
  }
  const seen = new Set(), pieces = [];
  const walk = start => {
    const piece = [];
    for (let key = start, next; key !== undefined; key = next) {
      seen.add(key), piece.push(points.get(key));
      next = links.get(key).find(k => !seen.has(k));
    }
    if (piece.length > 1) pieces.push(piece[0].x <= piece[piece.length - 1].x ? piece : piece.reverse());
  };
  for (const [key, list] of links) if (list.length === 1 && !seen.has(key)) walk(key);
  for (const key of links.keys()) if (!seen.has(key)) walk(key);
  pieces.sort((p, q) => p[0].x - q[0].x);
  let s = 0;
  for (const piece of pieces) piece.forEach((p, i) => {
    if (i) s += Math.hypot(...p.place.map((v, k) => v - piece[i - 1].place[k]));
    p.s = s;
  });
  return { pieces, along, level };
}

function drawSection(data, found, holder, caption) {
  const all = found.pieces.flat(), unit = data.mm_per_unit;
  holder.replaceChildren();
  if (!all.length) return;
  const w = Math.max(340, holder.clientWidth || 900), left = 58, right = w - 22;
  const svg = svgNode("svg", { role: "img" });
  const curve = (f, style, from = found.pieces) => {
    let d = "", pen = false;
    for (const piece of from) { pen = false; for (const p of piece) { const [x, y] = f(p); if (!Number.isFinite(x + y)) { pen = false; continue; } d += (pen ? "L" : "M") + x.toFixed(1) + " " + y.toFixed(1); pen = true; } }
    const e = svgNode("path", { class: style, d });
    svg.append(e);
    return e;
  };
  const band = (upper, lower, style) => {
    for (const piece of found.pieces) {
      const good = piece.filter(p => Number.isFinite(upper(p)[1] + lower(p)[1]));
      if (good.length > 1) svg.append(svgNode("path", { class: style, d: "M" + good.map(upper).concat(good.map(lower).reverse()).map(q => q.map(v => v.toFixed(1)).join(" ")).join("L") + "Z" }));
    }
  };
  const word = (x, y, text, anchor = "start") => svg.append(svgNode("text", { x, y, "text-anchor": anchor }, text));
  // A letter takes some 6.5: what does not fit into one line stands in two, the last of them at y.
  const lines = (y, first, rest) => { if ((first.length + rest.length) * 6.5 < right - left) word(left, y, `${first} ${rest}`); else word(8, y - 14, first), word(8, y, rest); };
  const bounds = f => { let lo = Infinity, hi = -Infinity; for (const p of all) { const v = f(p); if (Number.isFinite(v)) lo = Math.min(lo, v), hi = Math.max(hi, v); } return [lo, hi]; };
  // Above: true shape. The gap is drawn so large that it can be seen: about a twentieth of the width.
  const [x0, x1] = bounds(p => p.x), [z0, z1] = bounds(p => p.place[2]), [, wide] = bounds(p => p.gap_along_normal_mm);
  const wish = 0.05 * (x1 - x0) / (wide || 1), times = [1, 2, 5, 10, 20, 50].reduce((a, b) => Math.abs(b - wish) < Math.abs(a - wish) ? b : a);
  const px = Math.min((right - left) / (x1 - x0 || 1), 300 / (z1 - z0 + times * (wide || 0) || 1));
  const base = 46 + (z1 - z0 + times * (wide || 0)) * px;
  svg.setAttribute("viewBox", `0 0 ${w} ${base + 216}`);
  const lift = h => p => {
    const g = h(p) * times, flat = p.normal[0] * found.along[0] + p.normal[1] * found.along[1];
    return [left + (p.x + flat * g - x0) * px, base - (p.place[2] + p.normal[2] * g - z0) * px];
  };
  band(lift(p => p.limit_high_mm), lift(p => p.limit_low_mm), "band");
  curve(lift(() => 0), "half");
  curve(lift(p => p.gap_along_normal_mm), "half upper");
  const ends = [[found.pieces[0][0], 6, "A"], [all[all.length - 1], -6, "B"]];
  for (const [p, dx, name] of ends) { const [x, y] = lift(q => q.gap_along_normal_mm || 0)(p); svg.append(svgNode("text", { class: "lab end", x: x - dx, y: y - 6, "text-anchor": dx > 0 ? "end" : "start" }, name)); }
  lines(26, say("front.solid-lower-half-dashed"), say("front.gap-drawn-times-large", times));
  // Below: the gap along the cut, each place under itself.
  const s1 = all[all.length - 1].s || 1, across = x1 - x0 || 1, end = left + across * px;
  const [g0, g1] = bounds(p => p.gap_mm), [l0] = bounds(p => p.limit_low_mm), [, l1] = bounds(p => p.limit_high_mm);
  const lo = Math.min(g0, l0), hi = Math.max(g1, l1), pad = 0.12 * (hi - lo) || 0.1;
  const X = p => left + (p.x - x0) * px, Y = g => base + 176 - (g - lo + pad) / (hi - lo + 2 * pad) * 135;
  const f = data.by.gap_mm;
  const tick = span => { const p = 10 ** Math.floor(Math.log10(span)); return [0.1, 0.2, 0.5, 1, 2].map(k => k * p).find(k => span / k <= 5); };
  const st = tick((hi - lo + 2 * pad) / unit), xt = tick(across / unit);
  for (let v = Math.ceil((lo - pad) / unit / st) * st; v <= (hi + pad) / unit; v += st) {
    svg.append(svgNode("path", { class: "grid", d: `M${left} ${Y(v * unit)}H${end}` }));
    word(left - 6, Y(v * unit) + 4, spell(v, Math.max(0, Math.ceil(-Math.log10(st)))), "end");
  }
  for (let v = 0; v <= across / unit; v += xt) word(left + v * unit * px, base + 192, spell(v, Math.max(0, Math.ceil(-Math.log10(xt)))), "middle");
  word((left + end) / 2, base + 210, say("front.along-cut", data.length_unit), "middle");
  lines(base + 30, say("front.gap-dashed-nominal", data.length_unit), say("front.shaded-tolerance-u-about"));
  band(p => [X(p), Y(p.limit_high_mm)], p => [X(p), Y(p.limit_low_mm)], "band");
  band(p => [X(p), Y(p.gap_mm + p.U_mm)], p => [X(p), Y(p.gap_mm - p.U_mm)], "unsure");
  curve(p => [X(p), Y(p.nominal_mm)], "cur dash");
  const line = curve(p => [X(p), Y(p.gap_mm)], "cur");
  line.id = "gap-along";
  holder.append(svg);
  // As many digits as U leaves: of 0.03 mm the hundredths.
  const spoken = v => `${spell(v / unit, Math.max(0, f.decimals - 1))} ${data.length_unit}`;
  // By length: half of the way to either neighbour.
  const share = [0, 0, 0];
  for (const piece of found.pieces) piece.forEach((p, i) => {
    const way = (piece[Math.min(i + 1, piece.length - 1)].s - piece[Math.max(i - 1, 0)].s) / 2;
    share[!Number.isFinite(p.gap_mm) ? 2 : p.gap_mm >= p.limit_low_mm && p.gap_mm <= p.limit_high_mm ? 0 : 1] += 100 * way / s1;
  });
  const inside = Math.round(share[0]), outside = Math.min(Math.round(share[1]), 100 - inside);
  caption.textContent = say("front.section-across-cavity-gap",
    spoken(g0), spoken(g1), `${spell(s1 / unit, data.place_decimals)} ${data.length_unit}`, spell(inside, 0)) + " " + say("front.section-rest", spell(outside, 0), spell(100 - inside - outside, 0)) + " " + say("front.whole-deviation-upper");
  svg.setAttribute("aria-label", caption.textContent);
}
