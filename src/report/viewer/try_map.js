// The plan of the sheet in so many pixels at the most: where its places stand, and which triangle is under a pixel, and how
// near its corners. That is found once for a size; a field is then only looked up. Where the face covers itself in plan the
// last triangle wins, as a pixel can show one only.
function planRaster(data, mostWide, mostHigh) {
  const at = data.at;
  let west = Infinity, east = -Infinity, south = Infinity, north = -Infinity;
  for (let i = 0; i < data.nodes; i++) {
    west = Math.min(west, at[3 * i]), east = Math.max(east, at[3 * i]);
    south = Math.min(south, at[3 * i + 1]), north = Math.max(north, at[3 * i + 1]);
  }
  const margin = 0.04 * Math.max(east - west, north - south);
  const scale = Math.min(mostWide / (east - west + 2 * margin), mostHigh / (north - south + 2 * margin));
  const wide = Math.round((east - west + 2 * margin) * scale), high = Math.round((north - south + 2 * margin) * scale);
  const toX = x => (x - west + margin) * scale, toY = y => (north + margin - y) * scale;
  const triangle = new Int32Array(wide * high).fill(-1), a = new Float32Array(wide * high), b = new Float32Array(wide * high);
  for (let t = 0; t < data.corners.length; t += 3) {
    const [i, j, k] = data.corners.subarray(t, t + 3);
    const xi = toX(at[3 * i]), yi = toY(at[3 * i + 1]), xj = toX(at[3 * j]), yj = toY(at[3 * j + 1]), xk = toX(at[3 * k]), yk = toY(at[3 * k + 1]);
    const whole = (xj - xi) * (yk - yi) - (xk - xi) * (yj - yi);
    if (Math.abs(whole) < 1e-9) continue;
    const x0 = Math.max(0, Math.floor(Math.min(xi, xj, xk))), x1 = Math.min(wide - 1, Math.ceil(Math.max(xi, xj, xk)));
    const y0 = Math.max(0, Math.floor(Math.min(yi, yj, yk))), y1 = Math.min(high - 1, Math.ceil(Math.max(yi, yj, yk)));
    for (let y = y0; y <= y1; y++)
      for (let x = x0; x <= x1; x++) {
        const u = ((xj - x) * (yk - y) - (xk - x) * (yj - y)) / whole, v = ((xk - x) * (yi - y) - (xi - x) * (yk - y)) / whole;
        if (u < -1e-6 || v < -1e-6 || u + v > 1 + 1e-6) continue;
        const p = y * wide + x;
        triangle[p] = t, a[p] = u, b[p] = v;
      }
  }
  const value = (values, p) => {
    const t = triangle[p];
    return a[p] * values[data.corners[t]] + b[p] * values[data.corners[t + 1]] + (1 - a[p] - b[p]) * values[data.corners[t + 2]];
  };
  return { wide, high, scale, triangle, value, toX, toY, fromX: x => x / scale + west - margin, fromY: y => north + margin - y / scale };
}
const rgb = colour => [1, 3, 5].map(k => parseInt(colour.slice(k, k + 2), 16));
// What stays dry is hatched.
const dryInk = (x, y) => (x + y) % 6 < 2 ? [60, 60, 60] : [235, 235, 235];

// The plan of the mold on which things are tried: a field in colours, and what can be moved over it.
// tell.moved(key, x, y, last) hears where an item's first point goes, mm; tell.picked(key) what is chosen; tell.placed(x, y)
// of a tap on the face.
function makeTryMap(data, holder, tell) {
  const n = data.nodes, at = data.at;
  const canvas = document.createElement("canvas"), svg = svgNode("svg", { role: "group", "aria-label": say("try.map-label") });
  canvas.setAttribute("aria-hidden", "true");
  holder.append(canvas, svg);
  let plan = null, field = null, items = [], chosen = null, marks = [];
  const toX = x => plan.toX(x), toY = y => plan.toY(y);
  function lay() {
    if (!holder.clientWidth) return;
    plan = planRaster(data, holder.clientWidth, 560);
    const { wide, high } = plan;
    canvas.width = wide, canvas.height = high;
    svg.setAttribute("viewBox", `0 0 ${wide} ${high}`);
    for (const e of [canvas, svg]) e.style.width = wide + "px", e.style.height = high + "px";
    holder.style.height = high + "px";
  }
  // field: values per node, ends and ticks, a list of colours. Lines stand at the ticks.
  function paint() {
    if (!field || !plan) return;
    const { wide, high: rows, triangle } = plan, { values, low, high: top, ticks, colours } = field, list = colours.map(rgb), context = canvas.getContext("2d");
    const image = context.createImageData(wide, rows), out = image.data, step = new Int16Array(wide * rows).fill(-1);
    for (let p = 0; p < triangle.length; p++) {
      if (triangle[p] < 0) continue;
      const v = plan.value(values, p);
      let ink;
      if (!Number.isFinite(v)) ink = dryInk(p % wide, Math.floor(p / wide));
      else {
        const share = Math.min(1, Math.max(0, (v - low) / (top - low || 1))) * (list.length - 1), k = Math.min(list.length - 2, Math.floor(share));
        ink = list[k].map((c, m) => c + (share - k) * (list[k + 1][m] - c));
        let below = 0;
        while (below < ticks.length && ticks[below] < v) below++;
        step[p] = below;
      }
      out[4 * p] = ink[0], out[4 * p + 1] = ink[1], out[4 * p + 2] = ink[2], out[4 * p + 3] = 255;
    }
    for (let p = wide; p < step.length; p++)  // a line of equal values between two steps
      if (step[p] >= 0 && p % wide && ((step[p - 1] >= 0 && step[p - 1] !== step[p]) || (step[p - wide] >= 0 && step[p - wide] !== step[p])))
        out[4 * p] = out[4 * p + 1] = out[4 * p + 2] = 255;
    context.putImageData(image, 0, 0);
  }
  const near = (x, y) => {
    let best = 0, least = Infinity;
    for (let i = 0; i < n; i++) { const d = (at[3 * i] - x) ** 2 + (at[3 * i + 1] - y) ** 2; if (d < least) least = d, best = i; }
    return best;
  };
  // On the face: a place beside it is that of the nearest node.
  function onFace(x, y) {
    const p = Math.round(toY(y)) * plan.wide + Math.round(toX(x));
    if (plan.triangle[p] >= 0) return [x, y];
    const i = near(x, y);
    return [at[3 * i], at[3 * i + 1]];
  }
  const place = event => {
    const box = svg.getBoundingClientRect();
    return [plan.fromX((event.clientX - box.left) * plan.wide / box.width), plan.fromY((event.clientY - box.top) * plan.high / box.height)];
  };
  function shape(item) {
    const line = item.path.map((p, k) => `${k ? "L" : "M"}${toX(p[0]).toFixed(1)} ${toY(p[1]).toFixed(1)}`).join("");
    const d = item.path.length > 1 ? line : `${line}h0.01`, width = 2 * item.radius * plan.scale;
    const g = svgNode("g", { class: `try-item ${item.kind.replace(/\b(?=\w)/g, "try-")}${item.key === chosen ? " chosen" : ""}` });
    g.append(svgNode("path", { class: "edge", d, "stroke-width": Math.max(12, width) + 4 }), svgNode("path", { class: "body", d, "stroke-width": Math.max(12, width) }));
    const [x, y] = item.path[0], left = toX(x) > plan.wide - 90;
    if (item.label) g.append(svgNode("text", { class: "lab", x: toX(x) + (left ? -12 : 12), y: toY(y) - 10, "text-anchor": left ? "end" : "start" }, item.label));
    if (item.fixed) return g;
    g.dataset.key = item.key;
    g.setAttribute("tabindex", "0"), g.setAttribute("role", "button"), g.setAttribute("aria-label", item.label || "");
    g.addEventListener("pointerdown", event => {
      event.preventDefault();
      svg.setPointerCapture(event.pointerId);  // the item itself is drawn anew on its way
      const from = place(event), start = item.path[0].slice();
      tell.picked(item.key);
      const go = (e, last) => {
        const to = place(e), [x, y] = onFace(start[0] + to[0] - from[0], start[1] + to[1] - from[1]);
        tell.moved(item.key, x, y, last);
      };
      const move = e => go(e, false);
      const up = e => { removeEventListener("pointermove", move), removeEventListener("pointerup", up), removeEventListener("pointercancel", up); go(e, true); };
      addEventListener("pointermove", move), addEventListener("pointerup", up), addEventListener("pointercancel", up);
    });
    g.addEventListener("focus", () => tell.picked(item.key));
    g.addEventListener("keydown", event => {
      const step = { ArrowLeft: [-1, 0], ArrowRight: [1, 0], ArrowUp: [0, 1], ArrowDown: [0, -1] }[event.key];
      if (!step) return;
      event.preventDefault();
      const by = event.shiftKey ? 1 : 5, [x, y] = onFace(item.path[0][0] + by * step[0], item.path[0][1] + by * step[1]);  // mm
      tell.moved(item.key, x, y, true);
    });
    return g;
  }
  function draw() {
    if (!plan) return;
    const focused = svg.contains(document.activeElement) && document.activeElement.dataset.key;
    svg.replaceChildren(...items.map(shape));
    for (const m of marks) {
      const x = toX(m.at[0]), y = toY(m.at[1]), left = x > plan.wide - 90;
      svg.append(m.kind === "air" ? svgNode("path", { class: "dry", d: `M${x - 7} ${y - 7}l14 14m0 -14l-14 14` }) : svgNode("circle", { class: "last", cx: x, cy: y, r: 7 }),
        svgNode("text", { class: "lab", x: x + (left ? -12 : 12), y: y + 16, "text-anchor": left ? "end" : "start" }, m.label));
    }
    const again = focused && [...svg.children].find(e => e.dataset.key === focused);
    if (again) again.focus();
  }
  svg.addEventListener("click", event => { if (event.target === svg) tell.placed(...onFace(...place(event))); });
  new ResizeObserver(() => { if (Math.abs(holder.clientWidth - (canvas.dataset.box || 0)) > 1) canvas.dataset.box = holder.clientWidth, lay(), paint(), draw(); }).observe(holder);
  canvas.dataset.box = holder.clientWidth;
  lay();
  return {
    show(f) { field = f, paint(); },
    put(list, spots, pick) { items = list, marks = spots, chosen = pick, draw(); },
    svg
  };
}
