// The two scanned halves: their points, and how the job's targets close them.
async function unpackHalves(data) {
  const take = await unpacker(data.packed);
  for (const which of ["lower", "upper"]) {
    const h = data[which], n = h.shown;
    h.which = which;
    h.at = Float64Array.from(take(3 * n, 3), v => v / 100);
    const folded = take(2 * n, 2);
    h.facing = new Int8Array(3 * n);
    for (let i = 0; i < n; i++) {
      const u = (folded[2 * i] - 127) / 127, v = (folded[2 * i + 1] - 127) / 127, x = (u + v) / 2, y = (u - v) / 2, z = 1 - Math.abs(x) - Math.abs(y);
      const long = Math.hypot(x, y, z) || 1;
      h.facing.set([x, y, z].map(c => Math.round(127 * c / long)), 3 * i);
    }
    h.edge = Uint8Array.from(take(n, 1));
    // On screen it lies closed in the tool frame, or flat by itself as long as it is not closed.
    h.shownBy = h.pose || h.flat;
  }
  return data;
}

// Where a target lies in a scan: the ball that was found there, one fitted to the shown points, or the place itself.
function targetIn(half, text, ball) {
  const p = places.read(text);
  if (!p || !ball) return p && { centre: p };
  const found = half.balls.find(b => Math.hypot(...b.at.map((v, k) => v - p[k])) < 0.6 * ball);
  if (found) return { centre: found.at, form: found.form };
  const key = text + ball;
  half.fitted = half.fitted || new Map();
  if (!half.fitted.has(key)) half.fitted.set(key, rigid.ball(half.at, p, ball / 2));
  return half.fitted.get(key) || { centre: p };
}

// How the job closes the halves, as far as a page can: by targets, or given. Other methods are the program's.
function closing(job, data) {
  const method = [job.get(["align", "method"]) || "targets"].flat();
  const out = { residual: new Map(), found: new Map(), lower: null, upper: null, why: "" };
  const known = [];
  for (const t of job.get(["align", "target"]) || []) {
    const ball = t.ball ? places.length(t.ball) : 0;
    // Without places it is what was touched by its name.
    const touched = !t.lower && !t.upper && data.pairs.find(p => p.touched && p.name === t.name);
    const at = { lower: touched ? { centre: touched.lower } : targetIn(data.lower, t.lower, ball), upper: touched ? { centre: touched.upper } : targetIn(data.upper, t.upper, ball), tool: places.read(t.tool) };
    out.found.set(t.name, at);
    known.push({ name: t.name, ...at });
  }
  if (method.includes("given")) return Object.assign(out, { lower: rigid.identity, upper: rigid.identity });
  if (!method.includes("targets")) return Object.assign(out, { lower: data.lower.pose, upper: data.upper.pose, why: data.why_open });
  if (!known.length && job.get(["align", "ball"])) return Object.assign(out, { lower: data.lower.pose, upper: data.upper.pose, why: data.why_open });
  const both = known.filter(t => t.lower && t.upper), placed = known.filter(t => t.lower && t.tool);
  const shut = rigid.fit(both.map(t => t.upper.centre), both.map(t => t.lower.centre));
  if (!shut) return Object.assign(out, { why: both.length < 3 ? say("pointing.three-targets", both.length) : say("pointing.in-a-row") });
  for (const t of both) out.residual.set(t.name, Math.hypot(...rigid.move(shut, t.upper.centre).map((v, k) => v - t.lower.centre[k])));
  const tool = rigid.fit(placed.map(t => t.lower.centre), placed.map(t => t.tool)) || rigid.identity;
  return Object.assign(out, { lower: tool, upper: rigid.after(tool, shut) });
}

// Of the lower half in the tool frame: how high it is at a place in plan, so that outlines can be drawn on it.
function makePlan(half) {
  const cell = 2 * half.shown_spacing, cells = new Map(), n = half.shown, key = (i, k) => i * 65536 + k;
  const low = [Infinity, Infinity], at = new Float32Array(3 * n);
  for (let i = 0; i < n; i++) {
    const p = rigid.move(half.shownBy, [half.at[3 * i], half.at[3 * i + 1], half.at[3 * i + 2]]);
    at.set(p, 3 * i);
    low[0] = Math.min(low[0], p[0]), low[1] = Math.min(low[1], p[1]);
  }
  for (let i = 0; i < n; i++) {
    const k = key(Math.floor((at[3 * i] - low[0]) / cell), Math.floor((at[3 * i + 1] - low[1]) / cell)), was = cells.get(k);
    if (was === undefined || at[3 * i + 2] > at[3 * was + 2]) cells.set(k, i);  // of a wall, its upper end
  }
  // null where nothing was scanned within three cells.
  return (x, y) => {
    const i0 = Math.floor((x - low[0]) / cell), k0 = Math.floor((y - low[1]) / cell);
    for (let ring = 0; ring < 4; ring++) {
      let best = -1, near = Infinity;
      for (let i = i0 - ring; i <= i0 + ring; i++)
        for (let k = k0 - ring; k <= k0 + ring; k++) {
          if (Math.max(Math.abs(i - i0), Math.abs(k - k0)) < ring) continue;
          const found = cells.get(key(i, k));
          if (found === undefined) continue;
          const d = Math.hypot(at[3 * found] - x, at[3 * found + 1] - y);
          if (d < near) near = d, best = found;
        }
      if (best >= 0) return at[3 * best + 2];
    }
    return null;
  };
}

// Splits a line so that its pieces follow the face: one every `step` mm.
function drapedLine(points, plan, closed, step) {
  const out = [], n = points.length;
  for (let i = 0; i < (closed ? n : n - 1); i++) {
    const a = points[i], b = points[(i + 1) % n], pieces = Math.min(200, Math.max(1, Math.ceil(Math.hypot(b[0] - a[0], b[1] - a[1]) / step)));
    for (let k = 0; k < pieces; k++) {
      const x = a[0] + (b[0] - a[0]) * k / pieces, y = a[1] + (b[1] - a[1]) * k / pieces, z = plan(x, y);
      out.push([x, y, z === null ? a[2] + (b[2] - a[2]) * k / pieces : z]);
    }
  }
  if (!closed && n) { const p = points[n - 1], z = plan(p[0], p[1]); out.push([p[0], p[1], z === null ? p[2] : z]); }
  return out;
}
