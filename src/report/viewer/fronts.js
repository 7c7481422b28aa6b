// Both fronts on one time axis: how long each takes, when air is closed in, when the last place fills, and now.
function drawEvents(data, now, last, state, holder) {
  const w = Math.min(704, Math.max(340, holder.clientWidth || 640)), left = 12, right = w - 12, X = t => left + (right - left) * t / (last || 1);
  const svg = svgNode("svg", { viewBox: `0 0 ${w} 78`, role: "img", "aria-label": say("fronts.time-axis") });
  [0, state].forEach((which, row) => {
    const e = data.events[which], y = 14 + 30 * row, name = row === 0 ? say("page.nominal-gap") : state === 2 ? say("page.after-corrections") : say("page.measured-gap");
    svg.append(svgNode("rect", { class: "grid", x: left, y, width: Math.max(0, X(e.fill) - left), height: 8 }),
      svgNode("rect", { class: "col", x: left, y, width: Math.max(0, X(Math.min(now, e.fill)) - left), height: 8 }),
      svgNode("text", { class: "lab", x: left, y: y - 3 }, `${name}: ${spell(e.fill, last < 100 ? 1 : 0)} s`));
    for (const t of e.air) svg.append(svgNode("path", { class: "dry", d: `M${X(t) - 4} ${y}l8 8m0 -8l-8 8` }));
    svg.append(svgNode("circle", { class: "dot", cx: X(e.fill), cy: y + 4, r: 4 }));
  });
  svg.append(svgNode("path", { class: "cut", d: `M${X(now)} 4V56` }), svgNode("text", { class: "lab", x: left, y: 74 }, say("fronts.key")));
  holder.replaceChildren(svg);
}
