// Trials of the mold in a thread of their own: the program's own stages, compiled to WebAssembly (src/live). The page sends
// numbers in the order of read_trial.cpp, and gets fields per node and a list in the order of session.cpp.
function tryWorker() {
  let engine, session;
  const put = bytes => {
    const at = engine.live_room(bytes.byteLength);
    new Uint8Array(engine.memory.buffer, at, bytes.byteLength).set(new Uint8Array(bytes.buffer || bytes, bytes.byteOffset || 0, bytes.byteLength));
    return at;
  };
  const numbers = (at, count) => new Float64Array(engine.memory.buffer, at, count).slice();
  const fault = () => {
    const bytes = new Uint8Array(engine.memory.buffer, engine.live_error(session));
    return new TextDecoder().decode(bytes.slice(0, bytes.indexOf(0)));
  };
  const open = async ({ module, mold }) => {
    const compiled = await WebAssembly.compile(module), imports = {};
    // It asks for nothing of the world but an environment, which is empty; what it could print goes nowhere.
    for (const { module: from, name } of WebAssembly.Module.imports(compiled)) (imports[from] ||= {})[name] = () => 0;
    imports.wasi_snapshot_preview1.environ_sizes_get = (count, size) => {
      const memory = new DataView(engine.memory.buffer);
      memory.setUint32(count, 0, true), memory.setUint32(size, 0, true);
      return 0;
    };
    engine = (await WebAssembly.instantiate(compiled, imports)).exports;
    engine._initialize();
    const at = put(new Uint8Array(mold));
    session = engine.live_open(at, mold.byteLength);
    engine.live_release(at);
    return { error: fault() };
  };
  const attempt = ({ trial }) => {
    const from = performance.now(), at = put(trial);
    const nodes = engine.live_try(session, at, trial.length);
    engine.live_release(at);
    if (nodes < 0) return { error: fault() };
    const fields = [0, 1, 2, 3].map(k => numbers(engine.live_field(session, k), nodes));
    return { fields, summary: numbers(engine.live_summary(session), engine.live_summary_size(session)), ms: performance.now() - from };
  };
  onmessage = async ({ data }) => {
    let out;
    try { out = data.module ? await open(data) : attempt(data); } catch (e) { out = { error: String(e) }; }
    out.id = data.id;
    postMessage(out, (out.fields || []).map(f => f.buffer));
  };
}

// Bytes of a base64 text that were deflated.
async function inflated(text) {
  const raw = Uint8Array.from(atob(text.trim()), c => c.charCodeAt(0));
  return new Response(new Blob([raw]).stream().pipeThrough(new DecompressionStream("deflate"))).arrayBuffer();
}

// A worker that answers one trial after the other; of those that wait only the last is done. Throws where the browser has
// no worker or no WebAssembly.
async function openTrials(engineText, moldText) {
  const [module, mold] = await Promise.all([inflated(engineText), inflated(moldText)]);
  const url = URL.createObjectURL(new Blob([`(${tryWorker})()`], { type: "text/javascript" }));
  const worker = new Worker(url);
  const waiting = new Map();
  let id = 0, busy = false, next = null;
  worker.onmessage = ({ data }) => { const done = waiting.get(data.id); waiting.delete(data.id); done(data); };
  worker.onerror = e => { for (const done of waiting.values()) done({ error: e.message || "worker" }); waiting.clear(); };
  const send = (message, transfer) => new Promise(done => { message.id = ++id; waiting.set(id, done); worker.postMessage(message, transfer || []); });
  const opened = await send({ module, mold }, [module, mold]);
  URL.revokeObjectURL(url);
  if (opened.error) { worker.terminate(); throw new Error(opened.error); }
  return {
    once: trial => send({ trial: Float64Array.from(trial) }),
    // done(outcome, more) for the last of what is asked while another is computed; `more` waits.
    async ask(trial, done) {
      next = [trial, done];
      if (busy) return;
      busy = true;
      while (next) {
        const [what, then] = next;
        next = null;
        const outcome = await this.once(what);
        then(outcome, next !== null);
      }
      busy = false;
    }
  };
}

// The list of session.cpp.
function readSummary(list) {
  let k = 0;
  const take = () => list[k++];
  const many = f => Array.from({ length: take() }, f);
  const place = () => [take(), take(), take()];
  const port = () => ({ radius: take(), path: many(place) });
  return {
    fill_time: take(), last_node: take(), last_to_vent: take(), peak_pressure: take(), balance: take(), local_margin: take(), local_node: take(),
    out_area: take(), over_packed: take(), under_filled: take(), dry_area: take(),
    pockets: many(() => ({ at: place(), area: take() })), inlets: many(port), vents: many(port), added: many(port),
    history: many(() => [take(), take(), take(), take()])
  };
}
