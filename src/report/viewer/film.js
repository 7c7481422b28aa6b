// A film of two fronts side by side, made in the page: the nominal mold, and the mold as measured or after the corrections.
// Time, pressure at the inlet, rate and share filled run along; captions are in the page's language. Frames are encoded one
// by one and not recorded as they run, so that a slow machine takes longer and loses none.

// WebM (EBML, RFC 8794; Matroska, RFC 9559): one VP8 track, a cluster at each key frame. chunks: { time, key, bytes }, ms.
function webm(chunks, wide, high, ms) {
  const join = parts => { const out = new Uint8Array(parts.reduce((n, p) => n + p.length, 0)); let at = 0; for (const p of parts) out.set(p, at), at += p.length; return out; };
  const whole = (v, bytes) => Uint8Array.from({ length: bytes }, (_, k) => Math.floor(v / 256 ** (bytes - 1 - k)) % 256);
  const element = (id, ...parts) => { const body = join(parts), name = id.toString(16); return join([whole(id, name.length / 2), Uint8Array.of(1), whole(body.length, 7), body]); };
  const number = (id, v) => element(id, whole(v, 4)), text = (id, s) => element(id, new TextEncoder().encode(s));
  const real = v => { const b = new Uint8Array(8); new DataView(b.buffer).setFloat64(0, v); return b; };
  const head = element(0x1a45dfa3, number(0x4286, 1), number(0x42f7, 1), number(0x42f2, 4), number(0x42f3, 8), text(0x4282, "webm"), number(0x4287, 2), number(0x4285, 2));
  const info = element(0x1549a966, number(0x2ad7b1, 1e6), text(0x4d80, "gapfront"), text(0x5741, "gapfront"), element(0x4489, real(ms)));
  const track = element(0x1654ae6b, element(0xae, number(0xd7, 1), number(0x73c5, 1), number(0x83, 1), text(0x86, "V_VP8"), element(0xe0, number(0xb0, wide), number(0xba, high))));
  const groups = [];
  for (const c of chunks) c.key ? groups.push([c]) : groups[groups.length - 1].push(c);
  const clusters = groups.map(g => element(0x1f43b675, number(0xe7, g[0].time),
    ...g.map(c => element(0xa3, Uint8Array.of(0x81), whole(c.time - g[0].time, 2), Uint8Array.of(c.key ? 0x80 : 0), c.bytes))));
  return new Blob([head, element(0x18538067, info, track, ...clusters)], { type: "video/webm" });
}

(() => {
  const get = id => document.getElementById(id), holder = get("film");
  if (!holder || typeof VideoEncoder !== "function") return;
  const rate = 15;  // frames a second
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
      side.image.data.fill(255);
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
          else if (m.line) for (const p of m.line) context.lineTo(x + plan.toX(p[0]), top + plan.toY(p[1]));
          else context.arc(px, py, 7, 0, 7);
          if (m.line) context.lineWidth = 6, context.stroke(), context.lineWidth = 3, context.strokeStyle = m.kind === "vent" ? "#fff" : "#9fc4da";
          else if (m.kind === "vent" || m.kind === "inlet") context.fillStyle = m.kind === "vent" ? "#fff" : "#9fc4da", context.fill();
          context.stroke();
          context.font = "18px system-ui, sans-serif", context.textAlign = beside ? "right" : "left", context.lineWidth = 4, context.strokeStyle = "#fff";
          const at = [px + (beside ? -12 : 12), py + (m.kind === "last" ? 22 : -8)];  // a vent is often there, too
          context.strokeText(m.word, ...at);
          context.fillStyle = "#111", text(m.word, ...at, 18);
          context.lineWidth = 2, context.strokeStyle = "#111";
        }
        const [, pressure, rate, share] = at(side.history, t), line = top + plan.high + 36;
        context.fillStyle = "#1d242b", context.textAlign = "center";
        text(say("film.numbers", spell(pressure / about.pressure.per, about.pressure.decimals), about.pressure.unit, spell(rate / about.flow_rate.per, 2), about.flow_rate.unit), k * half + half / 2, line, 22);
        text(say("film.filled", spell(100 * share, 0)), k * half + half / 2, line + 30, 22);
      });
      context.textAlign = "center", text(say("film.caption"), half, high - 44, 20), text(about.invented ? say("page.invented-data-no-real") : "", half, high - 16, 18);
    };
  }
  async function record() {
    // Seconds of the filling, and of its end, which is looked at; the check in a browser asks for a short film.
    const seconds = window.filmSeconds || 12, rest = Math.min(1.5, seconds);
    const data = await unpack(), after = document.querySelector("input[name=state]:checked")?.value === "after";
    const end = h => h.length ? h[h.length - 1][0] : 0;
    const side = (id, title, history) => ({ id, title, history, values: Float64Array.from({ length: data.nodes }, (_, i) => { const v = value(data.by[id], i); return Number.isNaN(v) ? Infinity : v; }) });
    const sides = [side("arrival_nominal_s", say("page.nominal-gap"), about.histories[0]),
      after ? side("arrival_after_s", say("page.after-corrections"), about.histories[2]) : side("arrival_s", say("page.measured-gap"), about.histories[1])];
    const last = Math.max(...sides.map(s => Math.max(end(s.history), ...s.values.filter(Number.isFinite))));
    const canvas = document.createElement("canvas");
    canvas.width = wide, canvas.height = high;
    const context = canvas.getContext("2d"), frame = scene(context, data, sides, last);
    const chunks = [], count = Math.round(rate * (seconds + rest));
    let fault = null;
    const encoder = new VideoEncoder({
      output: c => { const bytes = new Uint8Array(c.byteLength); c.copyTo(bytes); chunks.push({ time: Math.round(c.timestamp / 1000), key: c.type === "key", bytes }); },
      error: e => { fault = e; }
    });
    encoder.configure({ codec: "vp8", width: wide, height: high, bitrate: 3e6, framerate: rate });
    for (let k = 0; k < count && !fault; k++) {
      frame(Math.min(last, k / rate / seconds * last));
      const shot = new VideoFrame(canvas, { timestamp: Math.round(k * 1e6 / rate) });
      encoder.encode(shot, { keyFrame: k % (2 * rate) === 0 });
      shot.close();
      progress.value = k / count;
      do await new Promise(done => setTimeout(done)); while (encoder.encodeQueueSize > 2 && !fault);
    }
    await encoder.flush();
    encoder.close();
    if (fault) throw fault;
    return webm(chunks, wide, high, Math.round(1000 * count / rate));
  }
  holder.hidden = false;
  button.onclick = async () => {
    button.disabled = true, progress.hidden = false, status.textContent = say("film.recording");
    try {
      const film = await record(), a = document.createElement("a");
      a.href = URL.createObjectURL(film), a.download = "fronts.webm";
      a.click();
      status.textContent = say("film.done", spell(film.size / 1e6, 1));
      window.lastFilm = film;  // for the check in a browser
    } catch (e) { status.textContent = say("film.fails"), console.error(e); }
    button.disabled = false, progress.hidden = true;
  };
})();
