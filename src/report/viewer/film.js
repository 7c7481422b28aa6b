// A film of two fronts side by side, recorded in the page: the nominal mold, and the mold as measured or after the corrections.
// Time, pressure at the inlet, rate and share filled run along; captions are in the page's language.
(() => {
  const get = id => document.getElementById(id), holder = get("film");
  if (!holder || typeof MediaRecorder !== "function" || typeof HTMLCanvasElement.prototype.captureStream !== "function") return;
  // VP8: it is recorded as it runs, and a slow machine keeps up with that rather than with VP9.
  const kinds = ["video/webm;codecs=vp8", "video/webm"].filter(k => MediaRecorder.isTypeSupported(k));
  if (!kinds.length) return;
  const rate = 20, seconds = 12, rest = 1.5;  // of the filling, and of its end, which is looked at
  const about = JSON.parse(get("trial").textContent), button = get("film-make"), progress = get("film-progress"), status = get("film-status");
  const wide = 1280, high = 720, half = wide / 2;

  // Of a history [s, Pa above atmosphere, mm³/s, share], at a time; beyond its end it stays.
  function at(history, t) {
    if (!history.length) return [t, 0, 0, 0];
    const k = history.findIndex(h => h[0] > t);
    if (k === 0) return history[0];
    if (k < 0) return history[history.length - 1];
    const [a, b] = [history[k - 1], history[k]], s = (t - a[0]) / (b[0] - a[0] || 1);
    return a.map((v, m) => v + s * (b[m] - v));
  }
  // The pixels of a plan by the time when resin comes, so that a frame paints only those that it has newly reached.
  function runOf(plan, values) {
    const wet = [], dry = [];
    for (let p = 0; p < plan.triangle.length; p++) {
      if (plan.triangle[p] < 0) continue;
      const t = plan.value(values, p);
      if (Number.isFinite(t)) wet.push([t, p]); else dry.push(p);
    }
    return { wet: wet.sort((a, b) => a[0] - b[0]), dry, done: 0 };
  }
  function scene(context, data, sides, last) {
    const plan = planRaster(data, half - 60, high - 290), left = Math.round((half - plan.wide) / 2), top = 150;
    const ramp = data.scales[data.by.arrival_s.scale].map(rgb);
    const inkOf = t => { const s = Math.min(0.9999, t / last) * (ramp.length - 1), k = Math.floor(s); return ramp[k].map((c, m) => c + (s - k) * (ramp[k + 1][m] - c)); };
    for (const side of sides) {
      side.image = new ImageData(plan.wide, plan.high), side.run = runOf(plan, side.values);
      for (let p = 0; p < plan.triangle.length; p++) if (plan.triangle[p] >= 0) side.image.data.set([222, 226, 229, 255], 4 * p);
    }
    const text = (s, x, y, size, weight = "normal") => { context.font = `${weight} ${size}px system-ui, sans-serif`, context.fillText(s, x, y); };
    return t => {
      context.fillStyle = "#fff", context.fillRect(0, 0, wide, high);
      context.fillStyle = "#1d242b", context.textAlign = "center";
      text(document.querySelector("h1").textContent, half, 44, 30, "bold");
      text(`${spell(Math.min(t, last), about.time_decimals)} s`, half, 88, 34, "bold");
      sides.forEach((side, k) => {
        const { run, image } = side, x = k * half + left;
        for (; run.done < run.wet.length && run.wet[run.done][0] <= t; run.done++) image.data.set([...inkOf(run.wet[run.done][0]), 255], 4 * run.wet[run.done][1]);
        if (t >= last) for (const p of run.dry) image.data.set([...dryInk(p % plan.wide, Math.floor(p / plan.wide)), 255], 4 * p);
        context.putImageData(image, x, top);
        context.fillStyle = "#1d242b", context.textAlign = "center", text(side.title, k * half + half / 2, 132, 24, "bold");
        context.lineWidth = 2, context.strokeStyle = "#111";
        for (const m of data.marks) {
          if (m.only && (m.only !== side.id || t < m.from)) continue;
          const px = x + plan.toX(m.at[0]), py = top + plan.toY(m.at[1]), beside = px > k * half + half - 130;
          context.beginPath();
          if (m.kind === "air") context.moveTo(px - 8, py - 8), context.lineTo(px + 8, py + 8), context.moveTo(px + 8, py - 8), context.lineTo(px - 8, py + 8);
          else context.arc(px, py, 7, 0, 7);
          if (m.kind === "vent" || m.kind === "inlet") context.fillStyle = m.kind === "vent" ? "#fff" : "#9fc4da", context.fill();
          context.stroke();
          context.font = "18px system-ui, sans-serif", context.textAlign = beside ? "right" : "left", context.lineWidth = 4, context.strokeStyle = "#fff";
          context.strokeText(m.word, px + (beside ? -12 : 12), py - 8);
          context.fillStyle = "#111", text(m.word, px + (beside ? -12 : 12), py - 8, 18);
          context.lineWidth = 2, context.strokeStyle = "#111";
        }
        const [, pressure, rate, share] = at(side.history, t), line = top + plan.high + 36;
        context.fillStyle = "#1d242b", context.textAlign = "center";
        text(say("film.numbers", spell(pressure / about.pressure.per, about.pressure.decimals), about.pressure.unit, spell(rate * 60 / 1e6, 2)), k * half + half / 2, line, 22);
        text(say("film.filled", spell(100 * share, 0)), k * half + half / 2, line + 30, 22);
      });
      context.textAlign = "center", text(say("film.caption"), half, high - 44, 20), text(about.invented ? say("page.invented-data-no-real") : "", half, high - 16, 18);
    };
  }
  async function record() {
    const data = await unpack(), after = document.querySelector("input[name=state]:checked")?.value === "after";
    const end = h => h.length ? h[h.length - 1][0] : 0;
    const side = (id, title, history) => ({ id, title, history, values: Float64Array.from({ length: data.nodes }, (_, i) => { const v = value(data.by[id], i); return Number.isNaN(v) ? Infinity : v; }) });
    const sides = [side("arrival_nominal_s", say("page.nominal-gap"), about.histories[0]),
      after ? side("arrival_after_s", say("page.after-corrections"), about.histories[2]) : side("arrival_s", say("page.measured-gap"), about.histories[1])];
    const last = Math.max(...sides.map(s => Math.max(end(s.history), ...s.values.filter(Number.isFinite))));
    const canvas = document.createElement("canvas");
    canvas.width = wide, canvas.height = high;
    const context = canvas.getContext("2d"), frame = scene(context, data, sides, last), pieces = [];
    frame(0);
    const recorder = new MediaRecorder(canvas.captureStream(rate), { mimeType: kinds[0], videoBitsPerSecond: 4e6 });
    recorder.ondataavailable = e => pieces.push(e.data);
    const stopped = new Promise(done => { recorder.onstop = done; });
    recorder.start();
    const from = performance.now();
    await new Promise(done => {
      const step = () => {
        const s = (performance.now() - from) / 1000;
        frame(s >= seconds ? last : s / seconds * last);
        progress.value = Math.min(1, s / (seconds + rest));
        if (s < seconds + rest) setTimeout(step, 1000 / rate); else done();
      };
      step();
    });
    recorder.stop();
    await stopped;
    return new Blob(pieces, { type: "video/webm" });
  }
  holder.hidden = false;
  button.onclick = async () => {
    button.disabled = true, progress.hidden = false, status.textContent = say("film.recording", spell(seconds + rest, 0));
    try {
      const film = await record(), a = document.createElement("a");
      a.href = URL.createObjectURL(film), a.download = "fronts.webm";
      a.click();
      status.textContent = say("film.done", spell(film.size / 1e6, 1));
      window.lastFilm = film;  // for the check in a browser
    } catch (e) { status.textContent = say("film.fails"); }
    button.disabled = false, progress.hidden = true;
  };
})();
