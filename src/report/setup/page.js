// Puts the page together: the picture, the panel beside it, and what passes between them.
(async () => {
  const data = JSON.parse(document.getElementById("data").textContent);
  words = data.words, decimal = data.decimal, schema = data.schema, unitsOfLength = data.units;
  await unpackHalves(data);
  const canvas = el("canvas", { tabindex: "0", role: "application", "aria-label": say("pointing.picture"), "aria-describedby": "reading keys" }), svg = svgNode("svg", { id: "over", "aria-hidden": "true" });
  const app = { data, canvas, job: makeJob(data.file, data.text), chosen: null, corner: -1, held: null, mode: null, hits: [], panes: [], snap: true, view: "both", cut: 0.5, cursor: null, folds: new Set(["targets"]), faults: [] };
  const cameras = { lower: makeCamera(0.9), upper: makeCamera(-0.9), closed: makeCamera(0.3, 1) };
  const all = steps();
  if (data.photo) app.photo = { uri: data.photo, file: app.job.get(["job", "photo"]) };
  app.step = all[0];
  app.targets = () => app.rows;

  // ---- what follows from the job
  let poses = "";
  function refresh() {
    const { job } = app;
    app.closed = closing(job, data);
    const now = JSON.stringify([app.closed.lower, app.closed.upper]);
    if (now !== poses) {
      poses = now;
      for (const which of ["lower", "upper"]) data[which].shownBy = app.closed[which] || data[which].flat;
      app.plan = app.closed.lower ? makePlan(data.lower) : () => null;
      for (const which of ["lower", "upper"]) cameras[which].box = boxOf([data[which]]);
      cameras.closed.box = boxOf([data.lower, data.upper]);
    }
    const bare = { ...job.doc };
    delete bare.$end;
    app.faults = [...faultsOf(bare, schema), ...wideTolerances(job)];
    app.things = thingsOf(job);
    app.rows = targetRows(app);
  }

  // ---- the picture
  let picture = null, waiting = false;
  try { picture = makePicture(data, canvas); } catch (e) { document.body.classList.add("flat"); }
  function paint() {
    waiting = false;
    const w = canvas.clientWidth, h = canvas.clientHeight;
    if (!w || !h) return;
    const names = { lower: say("pointing.lower-half"), upper: say("pointing.upper-half") }, across = c => { c.lay({ x: 0, y: 0, w, h }); return c.fills(w / 2, h) > c.fills(w, h / 2); }, wide = across(cameras.lower);
    const spots = app.view !== "both" ? [{ x: 0, y: 0, w, h }] : wide ? [{ x: 0, y: 0, w: w / 2, h }, { x: w / 2, y: 0, w: w / 2, h }] : [{ x: 0, y: 0, w, h: h / 2 }, { x: 0, y: h / 2, w, h: h / 2 }];
    const shown = app.view === "both" ? ["lower", "upper"] : [app.view];
    app.panes = shown.map((which, i) => {
      const camera = cameras[which], both = which === "closed", [low, high] = [camera.box.low[0], camera.box.high[0]];
      camera.lay(spots[i]);
      return { camera, halves: both ? ["lower", "upper"] : [which], cut: both ? low + app.cut * (high - low) : undefined, title: both ? "" : names[which] };
    });
    if (picture) picture.draw(app.panes, w, h);
    over(app.panes);
  }
  app.draw = () => { if (!waiting) waiting = true, requestAnimationFrame(paint); };
  const over = makeOver(app, svg);
  makePointing(app, canvas);
  app.show = view => {
    app.view = view === "closed" && !app.closed.lower ? "both" : view;
    for (const input of document.querySelectorAll("input[name=view]")) input.checked = input.value === app.view;
    cutBox.hidden = app.view !== "closed";
    app.draw();
  };

  // ---- pointing
  const reading = el("p", { id: "reading", "aria-live": "polite" }), hint = el("div", { id: "hint", hidden: true });
  app.tell = text => { reading.textContent = text; };
  app.readPlace = (hit, found) => {
    const unit = app.job.unit();
    if (hit && hit.does === "target") app.tell(hit.row.name || say("pointing.ball-of", places.spokenLength(hit.row.ball, unit, 1)));
    else if (hit) app.tell(`${hit.thing.name || say("pointing.step-line")}${hit.corner >= 0 ? " · " + say("pointing.corner") + " " + (hit.corner + 1) : ""}`);
    else if (found) app.tell(places.spoken(app.closed.lower ? found.at : found.own, unit) + (app.closed.lower ? "" : " · " + say("pointing.scan-frame")));
    else app.tell(app.idle());
  };
  app.idle = () => say("pointing.how-to-look");
  app.start = mode => {
    app.mode = { most: mode.many ? Infinity : 1, ...mode };
    const sees = app.panes.some(p => p.halves.includes(mode.half));
    if (!sees || app.view === "closed") app.show(mode.take ? "both" : mode.half);
    app.chosen = null, app.corner = -1;
    drawHint();
    canvas.focus({ preventScroll: true });  // arrows and Enter go on from here
    app.draw();
  };
  app.stop = () => { app.mode = null; drawHint(); app.draw(); };
  app.point = found => {
    const m = app.mode;
    if (m.take) { m.take(found); drawHint(); return; }
    m.points.push(found.at);
    if (m.points.length >= m.most) return app.finish();
    drawHint();
    app.draw();
  };
  app.finish = () => {
    const m = app.mode;
    // A double click ends a line and has set its last place twice.
    const points = m.points.filter((p, i) => !i || Math.hypot(...p.map((v, k) => v - m.points[i - 1][k])) > 1e-6);
    if (points.length < m.least) return app.tell(say("pointing.so-many", m.least));
    app.stop();
    m.done(points);
  };
  function drawHint() {
    const m = app.mode;
    hint.hidden = !m;
    hint.replaceChildren();
    if (!m) return;
    hint.append(el("b", {}, m.hint), m.many && m.most === Infinity ? button(say("pointing.finish", m.points.length), app.finish, { disabled: m.points.length < m.least, class: "main", "data-path": "mode.finish" }) : "",
      m.many && m.points.length ? button(say("pointing.back"), () => { m.points.pop(); drawHint(); app.draw(); }, { "data-path": "mode.back" }) : "", button(say("pointing.cancel"), app.stop, { "data-path": "mode.cancel" }));
  }
  app.setPoints = (thing, points) => {
    const { job } = app, had = thing.kind === "seal" ? job.get(["cavity", "seal"]) : job.get([...thing.path, thing.key]), old = [had].flat();
    const texts = points.map((p, i) => places.write(p, { like: old[Math.min(i, old.length - 1)], flat: places.isFlat(old[0]), unit: job.unit() }));
    job.set(thing.kind === "seal" ? thing.path : [...thing.path, thing.key], thing.key === "at" ? texts[0] : texts);
  };
  app.choose = (path, corner = -1) => {
    app.chosen = path, app.corner = corner;
    const thing = path && app.things.find(t => samePath(t.path, path));
    if (path && !(thing && app.step.shows && app.step.shows.includes(thing.kind))) {
      const step = thing ? all.find(s => s.shows && s.shows.includes(thing.kind) && (thing.kind !== "seal" || s.id === "line")) : stepOf(path);
      if (step && step !== app.step && !(thing && app.step.shows === null)) app.step = step;
    }
    render();
    const open = path && document.querySelector(`[data-card="${path.join(".")}"]`);
    if (open) open.scrollIntoView({ block: "nearest" });
  };

  // Who has pointed by keys goes on in the new entry's card.
  app.chooseNew = list => {
    const path = [...list, app.job.get(list).length - 1];
    app.choose(path);
    const head = document.querySelector(`[data-path="card.${path.join(".")}"]`);
    if (head && document.activeElement === canvas && app.cursor) head.focus();
  };

  // ---- the panel
  const body = el("div", { id: "body" }), nav = el("nav", { id: "steps", "aria-label": say("order.steps") }), bar = el("div", { id: "standing" });
  const stepOf = path => { const name = path.filter(k => typeof k === "string").join("."); return all.find(s => s.has.some(h => h.includes(".") && (name === h || name.startsWith(h + ".")))) || all.find(s => s.has.includes(path[0])); };
  app.fold = (id, title, build, open = false) => {
    const d = el("details", { class: "fold", open: app.folds.has(id) !== open, ontoggle: () => {
      if (d.open === open) app.folds.delete(id); else app.folds.add(id);
      if (d.open && d.children.length < 2) d.append(el("div", { class: "inside" }, build()));
    } }, el("summary", { "data-path": "fold." + id }, title));
    if (d.open) d.append(el("div", { class: "inside" }, build()));
    return d;
  };
  function render() {
    refresh();
    const focused = document.activeElement && document.activeElement.getAttribute("data-path"), scroll = body.scrollTop, guesses = app.job.open();
    nav.replaceChildren(...all.map((s, i) => {
      const faults = app.faults.filter(f => stepOf(f.path) === s).length + (s.id === "halves" && !app.closed.lower ? 1 : 0), open = guesses.filter(k => stepOf(k.split(".")) === s).length;
      return button([el("i", {}, String(i + 1)), el("span", {}, s.title), faults ? el("em", { class: "bad", title: say("pointing.missing", faults) }, String(faults)) : open ? el("em", { class: "maybe", title: say("pointing.guesses", open) }, String(open)) : ""],
        () => app.goStep(s.id), { "aria-current": s === app.step ? "step" : undefined, "data-path": "step." + s.id });
    }));
    bar.replaceChildren(answersBar(app));
    const next = all[all.indexOf(app.step) + 1];
    body.replaceChildren(...[el("h2", {}, app.step.title), ...[app.step.draw(app)].flat(Infinity), next && el("p", { class: "row next" }, button(say("pointing.next", next.title), () => app.goStep(next.id), { class: "main", "data-path": "next" }))].filter(x => x instanceof Node));
    body.scrollTop = scroll;
    if (focused) { const e = document.querySelector(`[data-path="${CSS.escape(focused)}"]`); if (e) e.focus({ preventScroll: true }); }
    undo.disabled = !app.job.past.length, redo.disabled = !app.job.future.length;
    state.textContent = app.job.saved ? "" : say("pointing.not-saved");
    trim.hidden = !(app.chosen && app.corner >= 0);
    app.draw();
  }
  app.render = render;
  app.goStep = id => {
    app.step = all.find(s => s.id === id), app.chosen = null, app.corner = -1;
    if (app.mode) app.stop();
    app.show(app.step.view);
    render();
    body.scrollTop = 0;
    nav.querySelector("[aria-current]").scrollIntoView({ block: "nearest", inline: "nearest" });
  };
  app.goTo = path => {
    // A name such as laminate.ply.glass leads to the first ply.
    let value = app.job.doc;
    path = path.flatMap((k, i) => { value = value && value[k]; const enter = isTables(value) && i + 1 < path.length && typeof path[i + 1] !== "number"; if (enter) value = value[0]; return enter ? [k, 0] : [k]; });
    const step = stepOf(path), at = path.slice();
    app.goStep(step ? step.id : "save");
    const list = path.findIndex(k => typeof k === "number");
    if (list > 0) app.choose(path.slice(0, list + 1));
    for (; at.length; at.pop()) {
      const name = CSS.escape(at.join(".")), e = document.querySelector(`[data-path="${name}"], [data-path="confirm.${name}"], [data-list="${name}"] button`);
      if (e) { e.scrollIntoView({ block: "center" }); e.focus({ preventScroll: true }); return; }
    }
  };
  // After the focus has moved on, so that Tab from a field goes to the next one.
  let due = false;
  app.job.onChange = () => { refresh(); if (!due) due = true, setTimeout(() => { due = false; render(); }, 0); };

  // ---- files
  app.download = (blob, name) => {
    const url = URL.createObjectURL(blob), a = el("a", { href: url, download: name });
    document.body.append(a);
    a.click();
    a.remove();
    setTimeout(() => URL.revokeObjectURL(url), 10000);
  };
  app.save = () => {
    app.download(new Blob([app.job.text()], { type: "text/plain" }), app.job.file);
    savePhoto(app);
    app.job.saved = true;
    render();
  };
  const load = async file => {
    if (!file) return;
    try { app.job.load(await file.text()); app.job.file = file.name; title.textContent = file.name; app.job.saved = true; app.goStep("halves"); } catch (e) { app.tell(`${file.name}: ${e.message}`); reading.classList.add("fault"); }
  };
  addEventListener("dragover", e => e.preventDefault());
  addEventListener("drop", e => { e.preventDefault(); load(e.dataTransfer.files[0]); });
  addEventListener("beforeunload", e => { if (!app.job.saved) e.preventDefault(); });
  addEventListener("keydown", e => {
    if (e.key === "Escape" && app.mode) return app.stop();
    if (!(e.ctrlKey || e.metaKey) || /^(INPUT|TEXTAREA)$/.test(document.activeElement.tagName)) return;
    if (e.key === "z" || e.key === "y") { e.preventDefault(); if (e.key === "y" || e.shiftKey) app.job.redo(); else app.job.undo(); }
    if (e.key === "s") { e.preventDefault(); app.save(); }
  });

  // ---- the frame
  const picker = el("input", { type: "file", accept: ".toml", hidden: true, onchange: e => { load(e.target.files[0]); e.target.value = ""; } });
  const undo = button(say("pointing.undo"), app.job.undo), redo = button(say("pointing.redo"), app.job.redo), state = el("span", { class: "state" }), title = el("h1", { translate: "no" }, data.file);
  const cutBox = el("label", { hidden: true }, say("pointing.cut"), " ", el("input", { type: "range", min: "0", max: "1", step: "0.005", value: "0.5", oninput: e => { app.cut = +e.target.value; app.draw(); } }));
  const trim = button(say("pointing.remove-corner"), app.removeCorner, { hidden: true });
  const view = (value, text) => el("label", {}, el("input", { type: "radio", name: "view", value, checked: value === app.view, onchange: () => app.show(value) }), el("span", {}, text));
  const turn = (text, act) => button(text, () => { for (const { camera } of app.panes) act(camera); app.draw(); });
  const home = c => { c.reset(); };
  document.body.append(el("header", {}, el("div", { class: "who" }, el("small", {}, say("pointing.title")), title), state, el("div", { class: "row" }, button(say("pointing.open"), () => picker.click()), picker, undo, redo, button(say("pointing.save"), () => app.save(), { class: "main" }))),
    el("main", {}, el("section", { id: "look", "aria-label": say("pointing.picture") },
      el("div", { id: "views" }, el("fieldset", { class: "choice" }, el("legend", {}, say("front.show")), view("both", say("pointing.side-by-side")), view("lower", say("pointing.lower-half")), view("upper", say("pointing.upper-half")), view("closed", say("pointing.closed"))), cutBox,
        el("label", { class: "snap" }, el("input", { type: "checkbox", checked: true, onchange: e => { app.snap = e.target.checked; } }), " ", say("pointing.snap"))),
      hint, el("div", { id: "stage" }, canvas, svg),
      el("div", { id: "below" }, reading, el("div", { class: "row turns" }, trim, turn(say("front.plan-view"), c => { c.reset(); c.turn = 0, c.tilt = c === cameras.upper ? -1.5708 : 1.5708; }), turn(say("front.3-d-view"), home), turn(say("front.turn-left"), c => c.rotate(-0.15, 0)), turn(say("front.turn-right"), c => c.rotate(0.15, 0)),
        turn(say("front.tilt-up"), c => c.rotate(0, 0.15)), turn(say("front.tilt-down"), c => c.rotate(0, -0.15)), turn(say("front.closer"), c => c.closer(1.2, c.pane.x + c.pane.w / 2, c.pane.y + c.pane.h / 2)), turn(say("front.farther"), c => c.closer(1 / 1.2, c.pane.x + c.pane.w / 2, c.pane.y + c.pane.h / 2))),
        el("p", { id: "keys", class: "help" }, say("pointing.keys")))),
      el("section", { id: "panel" }, nav, body, bar)));
  refresh();
  app.goStep("halves");
  app.tell(app.idle());
  new ResizeObserver(app.draw).observe(canvas);
  window.setup = app;  // for tests
  requestAnimationFrame(() => requestAnimationFrame(() => performance.mark("drawn")));
})();
