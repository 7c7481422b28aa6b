// The maps in plan, where the sheet cannot be shown in three dimensions: one at a time, read under the pointer or by
// arrow keys. Without any script the page shows every map.
function showPlans(data) {
  const [px, x0, y0] = data.plan;
  const spots = Array.from({ length: data.nodes }, (_, i) => [(data.at[3 * i] - x0) * px, (y0 - data.at[3 * i + 1]) * px]);
  const maps = [...document.querySelectorAll(".map[data-map]")].filter(m => m.dataset.map);
  const choose = document.getElementById("choose"), read = document.getElementById("read");
  const holder = document.querySelector(".maps");
  if (!maps.length) return;
  holder.classList.add("one");
  choose.hidden = read.hidden = false;
  choose.setAttribute("role", "group");
  choose.setAttribute("aria-label", say("front.which-map-show"));
  const hint = say("front.point-map-focus-use");
  read.textContent = hint;
  const buttons = maps.map(map => {
    const button = document.createElement("button");
    button.type = "button";
    button.textContent = map.querySelector("figcaption b").textContent.replace(/\.$/, "");
    button.onclick = () => show(map);
    choose.append(button);
    return button;
  });
  let at = -1;
  function show(map) {
    maps.forEach((m, i) => {
      m.classList.toggle("on", m === map);
      buttons[i].setAttribute("aria-pressed", m === map);
    });
    mark(map.querySelector("svg"));
  }
  function nearest(x, y, ahead) {
    let best = -1, least = Infinity;
    spots.forEach((n, i) => {
      if (ahead && !ahead(n[0] - x, n[1] - y)) return;
      const d = (n[0] - x) ** 2 + (n[1] - y) ** 2;
      if (d < least) { least = d; best = i; }
    });
    return [best, Math.sqrt(least)];
  }
  function mark(svg) {
    document.querySelectorAll(".here").forEach(e => e.remove());
    if (at < 0) { read.textContent = hint; return; }
    const n = spots[at];
    const ring = document.createElementNS("http://www.w3.org/2000/svg", "circle");
    ring.setAttribute("class", "here");
    ring.setAttribute("cx", n[0]); ring.setAttribute("cy", n[1]); ring.setAttribute("r", 5);
    svg.append(ring);
    read.textContent = sentence(data, at, svg.parentNode.dataset.map, false);
  }
  for (const map of maps) {
    const svg = map.querySelector("svg");
    svg.tabIndex = 0;
    const point = event => {
      const p = new DOMPoint(event.clientX, event.clientY).matrixTransform(svg.getScreenCTM().inverse());
      const [i, distance] = nearest(p.x, p.y);
      at = distance < 20 ? i : -1;
      mark(svg);
    };
    svg.addEventListener("pointermove", point);
    svg.addEventListener("pointerdown", point);
    svg.addEventListener("keydown", event => {
      const step = { ArrowLeft: [-1, 0], ArrowRight: [1, 0], ArrowUp: [0, -1], ArrowDown: [0, 1] }[event.key];
      if (!step) return;
      event.preventDefault();
      const box = svg.viewBox.baseVal;
      const [x, y] = at < 0 ? [box.width / 2, box.height / 2] : spots[at];
      const next = at < 0 ? nearest(x, y)[0]
        : nearest(x, y, (dx, dy) => dx * step[0] + dy * step[1] > 0.5 * Math.hypot(dx, dy) && Math.hypot(dx, dy) > 1)[0];
      if (next >= 0) at = next;
      mark(svg);
    });
  }
  show(maps[0]);
}
