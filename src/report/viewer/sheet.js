// The sheet in three dimensions: three.js paints it, an SVG over it carries outlines, marks and the place that is read.
const vertexShader = `
attribute vec3 corner; attribute vec3 values; attribute vec3 turned;
varying vec3 vCorner; flat varying vec3 vValues; varying vec3 vNormal;
void main() { vCorner = corner; vValues = values; vNormal = turned; gl_Position = projectionMatrix * modelViewMatrix * vec4(position, 1.0); }`;
const fragmentShader = `
varying vec3 vCorner; flat varying vec3 vValues; varying vec3 vNormal;
uniform sampler2D ramp; uniform float low, high, ratio, time; uniform int mode; uniform vec3 light;
void main() {
  vec3 there = step(-1e29, vValues);
  float near = vCorner.x >= vCorner.y && vCorner.x >= vCorner.z ? vValues.x : vCorner.y >= vCorner.z ? vValues.y : vValues.z;
  float v = min(there.x, min(there.y, there.z)) > 0.5 && mode != 1 ? dot(vCorner, vValues) : near;
  vec2 p = floor(gl_FragCoord.xy / ratio);
  vec3 ink;
  bool nothing = v < -1e29;
  if (mode == 1) nothing = nothing || v > 2.5;
  if (nothing) ink = mod(p.x, 6.0) < 2.0 && mod(p.y, 6.0) < 2.0 ? vec3(0.43) : vec3(0.94);
  else if (mode == 1) ink = v < 0.5 ? vec3(0.804, 0.871, 0.910)
      : v < 1.5 ? (mod(p.x + p.y, 10.0) < 2.0 ? vec3(0.55, 0.43, 0.16) : vec3(0.965, 0.910, 0.725))
      : (mod(p.x + p.y, 8.0) < 2.0 || mod(p.x - p.y + 8000.0, 8.0) < 2.0 ? vec3(0.16) : vec3(0.878, 0.510, 0.078));
  else if (mode == 2) {
    float wide = max(fwidth(v), 1e-6);
    ink = v <= time ? vec3(0.42, 0.576, 0.671) : vec3(0.92, 0.92, 0.90);
    if (abs(v - time) < 1.5 * wide) ink = vec3(0.07);
  } else ink = texture2D(ramp, vec2(clamp((v - low) / (high - low), 0.0, 1.0) * 0.96875 + 0.015625, 0.5)).rgb;
  gl_FragColor = vec4(ink * (0.62 + 0.38 * abs(dot(normalize(vNormal), light))), 1.0);
}`;

function makeSheet(data, canvas, over, onRead) {
  const renderer = new three.WebGLRenderer({ canvas, antialias: true, alpha: true });
  // Seen from the corner to which what deviates turns its face: on the near wall of a deep mold it would be hidden.
  const tilt = 0.7, facing = turn => {
    let sum = 0;
    const toward = [Math.sin(turn) * Math.cos(tilt), -Math.cos(turn) * Math.cos(tilt), Math.sin(tilt)];
    for (let i = 0; i < data.nodes; i++) {
      const v = value(data.by.deviation_mm, i), dot = toward[0] * data.normal[3 * i] + toward[1] * data.normal[3 * i + 1] + toward[2] * data.normal[3 * i + 2];
      if (v && dot > 0) sum += v * v * dot;
    }
    return sum;
  };
  const firstTurn = [-0.54, 0.54, Math.PI - 0.54, Math.PI + 0.54].reduce((a, b) => facing(b) > facing(a) ? b : a);
  const view = { turn: 0, tilt: Math.PI / 2, zoom: 1, eye: [0, 0, 0], flat: true };  // eye: what stands in the middle, from the sheet's own
  const n = data.triangles, geometry = new three.BufferGeometry();
  const spread = new Float32Array(9 * n), corner = new Float32Array(9 * n), turned = new Float32Array(9 * n);
  const normal = data.normal, low = [1e9, 1e9, 1e9], high = [-1e9, -1e9, -1e9];
  data.at.forEach((v, i) => { low[i % 3] = Math.min(low[i % 3], v), high[i % 3] = Math.max(high[i % 3], v); });
  const middle = low.map((v, k) => (v + high[k]) / 2), reach = Math.hypot(...high.map((v, k) => v - low[k])) / 2 || 1;
  let round = 0;
  for (let i = 0; i < data.nodes; i++) round = Math.max(round, Math.hypot(data.at[3 * i] - middle[0], data.at[3 * i + 1] - middle[1]));
  const thick = (high[2] - low[2]) / 2;
  data.corners.forEach((i, at) => {
    corner[3 * at + at % 3] = 1;
    for (let k = 0; k < 3; k++) spread[3 * at + k] = data.at[3 * i + k] - middle[k], turned[3 * at + k] = normal[3 * i + k];
  });
  const values = new three.BufferAttribute(new Float32Array(9 * n), 3), other = new three.BufferAttribute(new Float32Array(9 * n), 3);
  geometry.setAttribute("position", new three.BufferAttribute(spread, 3));
  geometry.setAttribute("corner", new three.BufferAttribute(corner, 3));
  geometry.setAttribute("turned", new three.BufferAttribute(turned, 3));
  geometry.setAttribute("values", values);
  const fill = (attribute, f) => {
    for (let t = 0; t < n; t++)
      for (let k = 0; k < 3; k++) {
        const v = value(f, data.corners[3 * t + k]), put = Number.isFinite(v) ? v : -1e30;
        for (let c = 0; c < 3; c++) attribute.array[9 * t + 3 * c + k] = put;
      }
    attribute.needsUpdate = true;
  };
  const ramp = new three.DataTexture(new Uint8Array(33 * 4), 33, 1, three.RGBAFormat);
  ramp.magFilter = ramp.minFilter = three.LinearFilter;
  const uniforms = { ramp: { value: ramp }, low: { value: 0 }, high: { value: 1 }, ratio: { value: 1 }, time: { value: 0 },
    mode: { value: 0 }, light: { value: new three.Vector3() } };
  const material = new three.ShaderMaterial({ vertexShader, fragmentShader, uniforms, side: three.DoubleSide });
  const mesh = new three.Mesh(geometry, material), scene = new three.Scene(), camera = new three.OrthographicCamera();
  mesh.frustumCulled = false;
  scene.add(mesh);
  const state = { at: -1, label: "", field: null, fronts: null, time: 0, regions: true, corrections: false, line: [], wipe: null, open: false };
  let right, up, toward, panes = [], perPixel = 1, waiting = false;

  function place(p, pane) {
    const d = [0, 1, 2].map(k => p[k] - middle[k] - view.eye[k]), dot = a => a[0] * d[0] + a[1] * d[1] + a[2] * d[2], b = pane.turned || { right, up, toward };
    return [pane.x + pane.w / 2 + dot(b.right) / perPixel, pane.y + pane.h / 2 - dot(b.up) / perPixel, dot(b.toward)];
  }
  // As the upper half lies on the bench, turned over about the tool's x axis.
  const over180 = v => [v[0], -v[1], -v[2]];
  const node = i => [data.at[3 * i], data.at[3 * i + 1], data.at[3 * i + 2]];
  function draw() {
    waiting = false;
    const w = canvas.clientWidth, h = canvas.clientHeight, ratio = Math.min(window.devicePixelRatio || 1, 2);
    if (!w || !h) return;
    renderer.setPixelRatio(ratio);
    renderer.setSize(w, h, false);
    uniforms.ratio.value = ratio;
    const c = Math.cos(view.turn), s = Math.sin(view.turn), e = Math.sin(view.tilt), f = Math.cos(view.tilt);
    right = [c, s, 0], toward = [s * f, -c * f, e], up = [-s * e, c * e, f];
    const split = state.wipe === null ? w : Math.round(state.wipe * w);
    panes = state.wipe !== null ? [{ x: 0, y: 0, w, h, clip: [0, split] }, { x: 0, y: 0, w, h, clip: [split, w - split] }]
      : !state.fronts && !state.open ? [{ x: 0, y: 0, w, h }]
      : w > 1.1 * h ? [{ x: 0, y: 0, w: w / 2, h }, { x: w / 2, y: 0, w: w / 2, h }]
        : [{ x: 0, y: 0, w, h: h / 2 }, { x: 0, y: h / 2, w, h: h / 2 }];
    const opened = state.open && !state.fronts && state.wipe === null;
    if (opened) panes[1].turned = { right: over180(right), up: over180(up), toward: over180(toward) };
    // All of it is in the picture however it is turned, with a rim for the names, and turning alone does not change its size.
    const pane = panes[0], aspect = pane.w / pane.h;
    // In the plan view it fills the frame.
    const fit = view.flat ? Math.max((high[1] - low[1]) / 2, (high[0] - low[0]) / 2 / aspect, 1e-3)
      : Math.max(round * Math.abs(e) + thick * Math.abs(f), round / aspect, 1e-3);
    const tall = fit * (view.flat ? 1.12 : 1.06) / view.zoom;
    camera.left = -tall * aspect, camera.right = tall * aspect, camera.top = tall, camera.bottom = -tall;
    camera.near = 0, camera.far = 6 * reach;
    camera.updateProjectionMatrix();
    perPixel = 2 * tall / pane.h;
    renderer.setScissorTest(true);
    renderer.setClearColor(0, 0);
    panes.forEach((p, k) => {
      const b = p.turned || { right, up, toward };
      camera.position.set(...b.toward.map((v, k) => view.eye[k] + v * 3 * reach));
      camera.up.set(...b.up);
      camera.lookAt(...view.eye);
      uniforms.light.value.set(...[0, 1, 2].map(k => b.toward[k] + 0.4 * b.up[k] - 0.5 * b.right[k])).normalize();
      geometry.setAttribute("values", k === 0 || opened ? values : other);
      uniforms.time.value = state.time;
      renderer.setViewport(p.x, h - p.y - p.h, p.w, p.h);
      const [from, wide] = p.clip || [p.x, p.w];
      renderer.setScissor(from, h - p.y - p.h, wide, p.h);
      renderer.clear();
      renderer.render(scene, camera);
    });
    overlay(w, h);
  }
  function overlay(w, h) {
    over.setAttribute("viewBox", `0 0 ${w} ${h}`);
    over.replaceChildren();
    let on = over;
    const path = (points, pane, style, close) => {
      const d = points.map((p, i) => (i ? "L" : "M") + place(p, pane).slice(0, 2).map(v => v.toFixed(1)).join(" ")).join("") + (close ? "Z" : "");
      on.append(svgNode("path", { class: "out halo", d }), svgNode("path", { class: style, d }));
    };
    const word = (text, p, pane, dy, style = "lab") => {
      const [x, y] = place(p, pane), e = svgNode("text", { class: style, x, y: y + dy, "text-anchor": "middle" }, text);
      on.append(e);
      const half = e.getComputedTextLength() / 2 + 3;  // a name at the edge stays whole, unless its place is out of sight
      if (x > pane.x && x < pane.x + pane.w) e.setAttribute("x", Math.max(pane.x + half, Math.min(pane.x + pane.w - half, x)));
    };
    (state.wipe === null ? panes : panes.slice(0, 1)).forEach((pane, k) => {
      // What lies outside one picture is not drawn into its neighbour.
      on = svgNode("svg", { viewBox: `${pane.x} ${pane.y} ${pane.w} ${pane.h}`, x: pane.x, y: pane.y, width: pane.w, height: pane.h,
        style: `width: ${pane.w}px; height: ${pane.h}px` });  // the page's style for pictures is not for this one
      over.append(on);
      if (!state.fronts) for (const piece of state.line) path(piece, pane, "cut", false);  // below every name
      if (state.regions) for (const g of data.regions) path(g.outline, pane, "out", true), word(g.name, g.at, pane, 0);
      if (state.corrections) for (const g of data.corrections) {
        if (g.outline.length) path(g.outline, pane, "out fix", true), word(g.name, g.at, pane, 16);
        for (const s of g.stations) {
          const [x, y] = place(s.at, pane);
          on.append(svgNode("rect", { class: "vent", x: x - 5, y: y - 5, width: 10, height: 10 }));
          word(`${g.name} ${s.name}`, s.at, pane, -9);
        }
      }
      const id = state.fronts ? state.fronts[k].id : state.field.id;
      const front = id === "arrival_nominal_s" ? id : /_after(_|$)/.test(id) ? "arrival_after_s" : "arrival_s";
      for (const m of data.marks) {
        if (m.only && m.only !== front) continue;  // air stays in one state of the mold, not in the others
        if (state.fronts ? m.from > state.time : m.kind === "last") continue;  // as it happens
        const [x, y] = place(m.at, pane);
        if (m.line) path(m.line, pane, "runner", false);
        on.append(m.kind === "last" ? svgNode("circle", { class: "here", cx: x, cy: y, r: 8 }) : m.kind === "air" ? svgNode("path", { class: "dry", d: `M${x - 6} ${y - 6}l12 12m0 -12l-12 12` })
          : svgNode("circle", { class: "vent", cx: x, cy: y, r: 5 }));
        word(m.word, m.at, pane, -9);
      }
      if (!state.fronts) {
        const ends = state.line.length ? [["A", state.line[0][0]], ["B", state.line[state.line.length - 1].slice(-1)[0]]] : [];
        for (const [name, p] of ends) word(name, p, pane, -6, "lab end");
      }
      if (state.at >= 0) {
        const [x, y] = place(node(state.at), pane);
        on.append(svgNode("circle", { class: "out halo", cx: x, cy: y, r: 6 }), svgNode("circle", { class: "here", cx: x, cy: y, r: 6 }));
        if (!state.fronts) word(state.label, node(state.at), pane, -12);
      }
      const title = state.fronts ? state.fronts[k].title : panes[1]?.turned ? (k ? say("pointing.upper-half") : say("pointing.lower-half")) : "";
      if (title) on.append(svgNode("text", { class: "lab title", x: pane.x + 8, y: pane.y + 18 }, title));
    });
    on = over;
    if (state.wipe !== null) {
      const x = panes[1].clip[0], tell = (text, dx, anchor) => over.append(svgNode("text", { class: "lab title", x: x + dx, y: 18, "text-anchor": anchor }, text));
      over.append(svgNode("path", { class: "out halo", d: `M${x} 0V${h}` }), svgNode("path", { class: "out", d: `M${x} 0V${h}` }));
      tell(say("front.measured"), -8, "end"), tell(say("front.after-corrections-re-computed"), 8, "start");
    }
    if (!state.fronts) (panes[1]?.turned ? panes : [{ x: 0, y: 0, w, h }]).forEach(bearings);
  }
  // Which way the axes run, and how long things are: in the lower corners.
  function bearings(pane) {
    const b = pane.turned || { right, up }, w = pane.x + pane.w, h = pane.y + pane.h, wide = pane.w;
    ["x", "y", "z"].forEach((name, k) => {
      const x = 26 * b.right[k], y = -26 * b.up[k], down = h - 36 - Math.max(0, y);  // an arrow downwards has its room
      if (Math.hypot(x, y) < 5) return;  // it points at the reader
      over.append(svgNode("path", { class: "bar axis", d: `M${pane.x + 36} ${down}l${x.toFixed(1)} ${y.toFixed(1)}` }),
        svgNode("text", { class: "lab", x: pane.x + 36 + 1.4 * x, y: down + 4 + 1.4 * y, "text-anchor": "middle" }, name));
    });
    const room = 0.2 * wide * perPixel / data.mm_per_unit, ten = 10 ** Math.floor(Math.log10(room));
    const long = [5, 2, 1].map(k => k * ten).find(v => v <= room) || ten, px = long * data.mm_per_unit / perPixel;
    over.append(svgNode("path", { class: "bar", d: `M${w - 12 - px} ${h - 16}v6m0 -3h${px}m0 -3v6` }),
      svgNode("text", { class: "lab", x: w - 12, y: h - 22, "text-anchor": "end" }, `${spell(long, Math.max(0, -Math.floor(Math.log10(long))))} ${data.length_unit}`));
  }
  const dirty = () => { if (!waiting) waiting = true, requestAnimationFrame(draw); };
  const paneAt = (x, y) => panes.find(p => x >= p.x && x < p.x + p.w && y >= p.y && y < p.y + p.h);
  // Moves the sheet under the eye by pixels. The eye stays in the sheet's middle plane, so that the sheet turns about what
  // is looked at, and no farther out than brings the rim to the picture's middle part.
  function move(dx, dy, pane = panes[0]) {
    const b = pane.turned || { right, up }, eye = view.eye.map((v, k) => v - perPixel * (dx * b.right[k] - dy * b.up[k]));
    if (Math.abs(toward[2]) > 0.2) { const back = eye[2] / toward[2]; eye.forEach((v, k) => { eye[k] = v - back * toward[k]; }); }
    const free = Math.max(0, 1 - 1 / view.zoom);
    view.eye = eye.map((v, k) => Math.max(free * (low[k] - middle[k]), Math.min(free * (high[k] - middle[k]), v)));
  }
  // Larger or smaller about a pixel, which keeps its place on the sheet.
  function zoom(factor, x, y) {
    const pane = paneAt(x, y) || panes[0], was = view.zoom;
    view.zoom = Math.min(20, Math.max(0.5, was * factor));
    const k = view.zoom / was;
    perPixel /= k;
    move((x - pane.x - pane.w / 2) * (1 - k), (y - pane.y - pane.h / 2) * (1 - k), pane);
  }
  // Where the buttons and keys zoom: at the place that is read, as long as it is in sight.
  function still() {
    const p = panes[0], [x, y] = state.at < 0 ? [-1, -1] : place(node(state.at), p);
    return x >= p.x && x < p.x + p.w && y >= p.y && y < p.y + p.h ? [x, y] : [p.x + p.w / 2, p.y + p.h / 2];
  }
  // The node under a pixel: of all triangles that cover it, the one nearest to the viewer.
  function pick(x, y) {
    const pane = paneAt(x, y);
    if (!pane) return -1;
    const on = new Float32Array(3 * data.nodes);
    for (let i = 0; i < data.nodes; i++) on.set(place(node(i), pane), 3 * i);
    let best = -1, deep = -Infinity;
    for (let t = 0; t < 3 * n; t += 3) {
      const [a, b, c] = [3 * data.corners[t], 3 * data.corners[t + 1], 3 * data.corners[t + 2]];
      const area = (on[b] - on[a]) * (on[c + 1] - on[a + 1]) - (on[c] - on[a]) * (on[b + 1] - on[a + 1]);
      if (!area) continue;
      const wa = ((on[b] - x) * (on[c + 1] - y) - (on[c] - x) * (on[b + 1] - y)) / area;
      const wb = ((on[c] - x) * (on[a + 1] - y) - (on[a] - x) * (on[c + 1] - y)) / area, wc = 1 - wa - wb;
      if (wa < 0 || wb < 0 || wc < 0) continue;
      const z = wa * on[a + 2] + wb * on[b + 2] + wc * on[c + 2];
      if (z > deep) deep = z, best = data.corners[wa >= wb && wa >= wc ? t : wb >= wc ? t + 1 : t + 2];
    }
    return best;
  }
  function read(i) { state.at = i; onRead(i); dirty(); }
  const act = {
    top: () => { view.turn = 0, view.tilt = Math.PI / 2, view.flat = true, act.fit(); }, corner: () => { view.turn = firstTurn, view.tilt = tilt, act.fit(); },
    fit: () => { view.zoom = 1, view.eye = [0, 0, 0], view.flat = view.turn === 0 && view.tilt === Math.PI / 2; },
    left: () => { view.turn -= 0.15; }, right: () => { view.turn += 0.15; }, up: () => { view.tilt = Math.min(1.5708, view.tilt + 0.15); },
    down: () => { view.tilt = Math.max(-1.5708, view.tilt - 0.15); }, closer: () => zoom(1.2, ...still()),
    farther: () => zoom(1 / 1.2, ...still())
  };
  // One finger or the mouse turns; two fingers, or the mouse with Shift, move and zoom. A finger that starts upwards or
  // downwards scrolls the page (touch-action), so that nobody is caught on the picture.
  const held = new Map(), centre = points => [0, 1].map(k => points.reduce((sum, p) => sum + p[k], 0) / points.length);
  let moved = 0, before = view;
  canvas.addEventListener("touchstart", e => { if (e.touches.length > 1) e.preventDefault(); }, { passive: false });
  canvas.addEventListener("pointerdown", e => {
    if (!held.size) before = { ...view };
    moved = held.size ? Infinity : 0;  // a second finger: no tap
    held.set(e.pointerId, [e.offsetX, e.offsetY]);
    canvas.setPointerCapture(e.pointerId);
  });
  canvas.addEventListener("pointermove", e => {
    if (!held.has(e.pointerId)) { if (e.pointerType === "mouse") read(pick(e.offsetX, e.offsetY)); return; }
    const then = [...held.values()], was = held.get(e.pointerId), dx = e.offsetX - was[0], dy = e.offsetY - was[1];
    held.set(e.pointerId, [e.offsetX, e.offsetY]);
    const now = [...held.values()];
    moved += Math.abs(dx) + Math.abs(dy);
    if (now.length > 1) {
      const apart = p => Math.hypot(p[0][0] - p[1][0], p[0][1] - p[1][1]), [x0, y0] = centre(then), [x1, y1] = centre(now);
      move(x1 - x0, y1 - y0);
      zoom(apart(now) / (apart(then) || 1), x1, y1);
    } else if (e.shiftKey) move(dx, dy, paneAt(e.offsetX, e.offsetY));
    else view.turn -= dx * 0.01, view.tilt = Math.min(1.5708, Math.max(-1.5708, view.tilt + dy * 0.01));
    dirty();
  });
  canvas.addEventListener("pointerup", e => { if (held.delete(e.pointerId) && moved < 6) read(pick(e.offsetX, e.offsetY)); });
  canvas.addEventListener("pointercancel", e => {  // the page scrolls: the first pixels were not meant for the sheet
    if (held.delete(e.pointerId) && moved < Infinity) Object.assign(view, before), dirty();
  });
  canvas.addEventListener("wheel", e => {
    if (document.activeElement !== canvas && !e.ctrlKey) return;  // the page scrolls unless the sheet was chosen
    e.preventDefault();
    zoom(e.deltaY < 0 ? 1.2 : 1 / 1.2, e.offsetX, e.offsetY);
    dirty();
  }, { passive: false });
  canvas.addEventListener("keydown", e => {
    const step = { ArrowLeft: [-1, 0, "left"], ArrowRight: [1, 0, "right"], ArrowUp: [0, -1, "up"], ArrowDown: [0, 1, "down"] }[e.key];
    const size = { "+": "closer", "=": "closer", "-": "farther", Home: "corner" }[e.key];
    if (!step && !size) return;
    e.preventDefault();
    if (size || e.shiftKey) { act[size || step[2]](); dirty(); return; }
    if (state.at < 0) { read(pick(panes[0].x + panes[0].w / 2, panes[0].y + panes[0].h / 2)); if (state.at < 0) read(0); return; }
    const [x, y] = place(node(state.at), panes[0]);
    let best = -1, most = 0.3;
    for (const i of data.neighbours[state.at]) {
      const [u, v] = place(node(i), panes[0]), along = ((u - x) * step[0] + (v - y) * step[1]) / (Math.hypot(u - x, v - y) || 1);
      if (along > most) most = along, best = i;
    }
    if (best < 0) return;
    read(best);
    const p = panes[0], [u, v] = place(node(best), p);
    if (u < p.x || u > p.x + p.w || v < p.y || v > p.y + p.h) move(p.x + p.w / 2 - u, p.y + p.h / 2 - v);
  });
  new ResizeObserver(dirty).observe(canvas);
  return {
    state, dirty, read, act: name => { act[name](); dirty(); },
    show(f) {
      state.field = f;
      fill(values, f);
      data.scales[f.scale].forEach((hex, i) => ramp.image.data.set([1, 3, 5].map(k => parseInt(hex.slice(k, k + 2), 16)).concat(255), 4 * i));
      ramp.needsUpdate = true;
      uniforms.low.value = f.low, uniforms.high.value = f.high > f.low ? f.high : f.low + 1;
      uniforms.mode.value = f.id.startsWith("conformity") ? 1 : 0;
      state.fronts = state.wipe = null;
      dirty();
    },
    // Two states of a field on one scale: the one left of a line, the other right of it.
    compare(before, later, share) {
      this.show(before);
      fill(other, later);
      state.wipe = share;
      dirty();
    },
    race(left, right) {
      fill(values, left), fill(other, right);
      uniforms.mode.value = 2;
      state.fronts = [left, right], state.wipe = null;
      dirty();
    }
  };
}
