// Mouse, fingers and keys over the picture: they turn it, choose things, move their corners and point at places.
function makePointing(app, canvas) {
  const held = new Map(), reachOf = e => e.pointerType === "touch" ? 22 : 11;
  let moved = 0;
  const paneAt = (x, y) => app.panes.find(({ camera: { pane: p } }) => x >= p.x && x < p.x + p.w && y >= p.y && y < p.y + p.h) || app.panes[0];
  const hitAt = (x, y, reach) => app.hits.map(h => ({ ...h, d: Math.hypot(h.x - x, h.y - y) })).filter(h => h.d < reach)
    .sort((a, b) => b.rank - a.rank || a.d - b.d)[0];
  // The scan's place under a pixel, of the half that is meant: its own place, and where that is in the tool frame.
  app.placeAt = (x, y, which, reach = 6) => {
    const shown = paneAt(x, y), named = which ? [which] : shown.halves;
    let best = null;
    for (const half of named) {
      if (!shown.halves.includes(half)) continue;
      const p = scanPointAt(app.data[half], shown.camera, x, y, { reach, rims: app.snap && app.mode && app.mode.rims, cut: shown.cut });
      if (!p) continue;
      const deep = shown.camera.onScreen(p.at)[2];
      if (!best || deep > best.deep) best = { ...p, half, deep };
    }
    return best;
  };

  // ---- corners of what is chosen
  function takeCorner(hit) {
    const points = hit.thing.points.map(p => [...p]);
    if (hit.does === "insert") {
      const a = points[hit.corner - 1], b = points[hit.corner % points.length];
      points.splice(hit.corner, 0, a.map((v, k) => (v + b[k]) / 2));
    }
    app.corner = hit.corner;
    app.held = { thing: hit.thing, points, corner: hit.corner, from: [hit.x, hit.y] };
    app.draw();
  }
  function moveCorner(x, y) {
    const h = app.held, found = app.placeAt(x, y, "lower"), was = h.points[h.corner], camera = paneAt(x, y).camera;
    h.points[h.corner] = found ? found.at : camera.inPlane(x, y, was, true);
    h.moved = true;
    app.draw();
  }
  function dropCorner() {
    const h = app.held;
    app.held = null;
    if (h.moved || h.points.length !== h.thing.points.length) app.setPoints(h.thing, h.points);
    app.draw();
  }
  app.removeCorner = () => {
    const thing = app.things.find(t => samePath(t.path, app.chosen));
    if (!thing || thing.key === "at" || thing.fixed || app.corner < 0 || thing.points.length <= (thing.closed ? 3 : 1)) return;
    const points = thing.points.filter((_, i) => i !== app.corner);
    app.corner = -1;
    app.setPoints(thing, points);
  };

  // ---- a tap, a click, or Enter at the cursor
  function tap(x, y, reach) {
    if (app.mode) {
      const m = app.mode, first = m.many && m.points.length >= m.least && paneAt(x, y).camera.onScreen(m.points[0]);
      if (first && m.closed && Math.hypot(first[0] - x, first[1] - y) < reach) return app.finish();
      const found = m.onLine ? m.onLine(x, y, paneAt(x, y).camera) : app.placeAt(x, y, m.half, Math.max(6, reach / 2));
      return found ? app.point(found) : app.tell(say("pointing.nothing-there"));
    }
    const hit = hitAt(x, y, reach);
    if (!hit) return app.choose(null);
    if (hit.does === "target") return app.choose(hit.row.index >= 0 ? ["align", "target", hit.row.index] : null);
    if (hit.does === "insert") { takeCorner(hit); return dropCorner(); }
    if (hit.does === "corner") { app.corner = hit.corner; app.choose(hit.thing.path, hit.corner); return; }
    app.choose(hit.thing.path);
  }

  const centre = points => [0, 1].map(k => points.reduce((sum, p) => sum + p[k], 0) / points.length);
  canvas.addEventListener("pointerdown", e => {
    if (e.button > 0) return;
    canvas.focus({ preventScroll: true });
    app.cursor = null;
    moved = held.size ? Infinity : 0;
    held.set(e.pointerId, [e.offsetX, e.offsetY]);
    canvas.setPointerCapture(e.pointerId);
    const hit = !app.mode && held.size === 1 && hitAt(e.offsetX, e.offsetY, reachOf(e));
    if (hit && hit.rank > 1 && samePath(hit.thing.path, app.chosen)) takeCorner(hit);
  });
  canvas.addEventListener("pointermove", e => {
    if (!held.has(e.pointerId)) { if (e.pointerType === "mouse") app.hover(e.offsetX, e.offsetY); return; }
    const then = [...held.values()], was = held.get(e.pointerId), dx = e.offsetX - was[0], dy = e.offsetY - was[1];
    held.set(e.pointerId, [e.offsetX, e.offsetY]);
    const now = [...held.values()], { camera } = paneAt(now[0][0], now[0][1]);
    moved += Math.abs(dx) + Math.abs(dy);
    if (app.held && now.length === 1) { if (moved > 4) moveCorner(e.offsetX, e.offsetY); return; }
    if (now.length > 1) {
      const apart = p => Math.hypot(p[0][0] - p[1][0], p[0][1] - p[1][1]), [x0, y0] = centre(then), [x1, y1] = centre(now);
      camera.move(x1 - x0, y1 - y0);
      camera.closer(apart(now) / (apart(then) || 1), x1, y1);
    } else if (e.shiftKey) camera.move(dx, dy);
    else camera.rotate(-dx * 0.01, dy * 0.01);
    app.draw();
  });
  const up = e => {
    if (!held.delete(e.pointerId)) return;
    if (app.held) {
      const small = moved < 5, hit = app.held;
      dropCorner();
      if (small && e.type === "pointerup") app.choose(hit.thing.path, hit.corner);
    } else if (moved < 6 && e.type === "pointerup") tap(e.offsetX, e.offsetY, reachOf(e));
  };
  canvas.addEventListener("pointerup", up);
  canvas.addEventListener("pointercancel", up);
  canvas.addEventListener("dblclick", () => { if (app.mode && app.mode.many) app.finish(); });
  canvas.addEventListener("wheel", e => {
    e.preventDefault();
    paneAt(e.offsetX, e.offsetY).camera.closer(Math.exp(-e.deltaY * 0.0015), e.offsetX, e.offsetY);
    app.draw();
  }, { passive: false });

  // ---- keys: a cross is moved by the arrows; Enter is a click there
  const step = { ArrowLeft: [-1, 0], ArrowRight: [1, 0], ArrowUp: [0, -1], ArrowDown: [0, 1] };
  canvas.addEventListener("keydown", e => {
    if (e.ctrlKey || e.metaKey || e.altKey) return;
    const at = app.cursor || [canvas.clientWidth / 2, canvas.clientHeight / 2], { camera } = paneAt(...at);
    const small = e.shiftKey ? 1 : 8;
    const act = {
      Enter: () => { app.cursor = at; if (app.held) dropCorner(); else { const hit = !app.mode && hitAt(...at, 12); if (hit && hit.rank > 1 && samePath(hit.thing.path, app.chosen)) takeCorner(hit); else tap(...at, 12); } },
      Delete: app.removeCorner, Backspace: app.removeCorner,
      "+": () => camera.closer(1.2, ...at), "=": () => camera.closer(1.2, ...at), "-": () => camera.closer(1 / 1.2, ...at),
      a: () => camera.rotate(-0.12, 0), d: () => camera.rotate(0.12, 0), w: () => camera.rotate(0, 0.12), s: () => camera.rotate(0, -0.12)
    };
    if (step[e.key]) {
      app.cursor = [0, 1].map(k => Math.max(0, Math.min([canvas.clientWidth, canvas.clientHeight][k], at[k] + small * step[e.key][k])));
      if (app.held) moveCorner(...app.cursor);
      app.hover(...app.cursor);
    } else if (act[e.key] || act[e.key === " " ? "Enter" : ""]) (act[e.key] || act.Enter)();
    else return;
    e.preventDefault();
    app.draw();
  });
  canvas.addEventListener("blur", () => { if (app.cursor) app.cursor = null, app.draw(); });
  app.hover = (x, y) => {
    const hit = hitAt(x, y, 12), found = hit ? null : app.placeAt(x, y);
    canvas.style.cursor = app.mode ? "crosshair" : hit ? "pointer" : "grab";
    app.readPlace(hit, found);
  };
}
