// Places: the page's rows lead to them in the map of the first screen, in the sheet and in the section, and back.
function nearestNode(data, p) {
  let best = 0, least = Infinity;
  for (let i = 0; i < data.nodes; i++) {
    const d = (data.at[3 * i] - p[0]) ** 2 + (data.at[3 * i + 1] - p[1]) ** 2 + (data.at[3 * i + 2] - p[2]) ** 2;
    if (d < least) least = d, best = i;
  }
  return best;
}
const nodePlace = (data, i) => [data.at[3 * i], data.at[3 * i + 1], data.at[3 * i + 2]];

// A cut through a place at the rim may run along it, and hardly meet the sheet.
function skirts(data, node, angle) {
  const a = angle * Math.PI / 180, side = k => -Math.sin(a) * data.at[3 * k] + Math.cos(a) * data.at[3 * k + 1];
  let low = Infinity, high = -Infinity;
  for (let k = 0; k < data.nodes; k++) low = Math.min(low, side(k)), high = Math.max(high, side(k));
  return Math.min(side(node) - low, high - side(node)) < 0.02 * (high - low);
}

// Where the section lies at first: through the place that decides, which is provably outside and farthest beyond its
// limit; where none is, through the one that deviates most. Across the long side of what deviates there.
function worstCut(data) {
  const f = data.by.deviation_mm, { gap_mm: gap, limit_low_mm: low, limit_high_mm: high, conformity } = data.by;
  let worst = -1, most = -1;
  const look = (by, among) => { for (let i = 0; i < data.nodes; i++) if (among(i) && by(i) > most) most = by(i), worst = i; };
  look(i => Math.max(value(gap, i) - value(high, i), value(low, i) - value(gap, i)), i => value(conformity, i) === 2);
  if (worst < 0) look(i => Math.abs(value(f, i)), () => true);
  if (worst < 0) return { node: 0, angle: 0 };
  most = Math.abs(value(f, worst));
  // The long side from second moments in plan, weighted by how far beyond half of the most.
  let sum = 0, x = 0, y = 0, xx = 0, xy = 0, yy = 0;
  for (let i = 0; i < data.nodes; i++) {
    const w = Math.max(0, Math.abs(value(f, i)) - most / 2), [a, b] = nodePlace(data, i);
    if (w > 0) sum += w, x += w * a, y += w * b, xx += w * a * a, xy += w * a * b, yy += w * b * b;
  }
  if (!(sum > 0)) return { node: worst, angle: 0 };
  const long = 0.5 * Math.atan2(2 * (xy - x * y / sum), xx - x * x / sum - yy + y * y / sum) * 180 / Math.PI;
  const angle = (5 * Math.round((long + 90) / 5) + 360) % 180;
  return { node: worst, angle: skirts(data, worst, angle) ? (angle + 90) % 180 : angle };
}

// What is pointed out on the map of the first screen: the place that is read, and the section from A to B.
function overviewMarks() {
  const svg = document.querySelector("#overview svg");
  if (!svg) return { spot() {}, cut() {} };
  const [px, x0, y0] = svg.dataset.view.split(" ").map(Number), on = p => [(p[0] - x0) * px, (y0 - p[1]) * px];
  return {
    spot(p) {
      const [cx, cy] = on(p);
      svg.querySelector("#spot").replaceChildren(svgNode("circle", { class: "out halo", cx, cy, r: 19 }), svgNode("circle", { class: "cut", cx, cy, r: 19 }));
    },
    cut(pieces) {
      const line = pieces.map(piece => piece.map((p, i) => (i ? "L" : "M") + on(p.place).map(v => v.toFixed(1)).join(" ")).join("")).join("");
      const ends = pieces.length ? [["A", pieces[0][0].place], ["B", pieces[pieces.length - 1].slice(-1)[0].place]] : [];
      document.getElementById("cut-key").hidden = false;
      svg.querySelector("#cut-line").replaceChildren(svgNode("path", { class: "out halo", d: line }), svgNode("path", { class: "cut", d: line }),
        ...ends.map(([name, p], k) => { const [x, y] = on(p); return svgNode("text", { class: "lab end", x: x + (k ? 8 : -8), y: y + 6, "text-anchor": k ? "start" : "end" }, name); }));
    }
  };
}

// Links with a place: `visit` shows it. A button leads back to the row that was left.
function wireLinks(visit) {
  const back = document.createElement("button");
  back.id = "back", back.type = "button", back.hidden = true, back.textContent = say("places.back-to-row");
  document.body.append(back);
  let from = null;
  back.onclick = () => { back.hidden = true, from.scrollIntoView({ block: "center" }), from.focus({ preventScroll: true }); };
  document.querySelectorAll("a.go").forEach(a => {
    a.onclick = e => {
      e.preventDefault();
      visit(a.dataset.at.split(" ").map(Number));
      if (a.closest(".first")) return;  // the map of the first screen is in sight
      from = a, back.hidden = false;
      document.getElementById("gap").scrollIntoView();
    };
  });
}

// Links to the work order open the one that the page holds: the file beside the report may be missing.
(() => {
  const order = document.getElementById("order");
  if (!order) return;
  document.querySelectorAll('a[href="work-order.html"]').forEach(a => {
    a.onclick = e => {
      e.preventDefault();
      window.open(URL.createObjectURL(new Blob([JSON.parse(order.textContent)], { type: "text/html" })));
    };
  });
})();
