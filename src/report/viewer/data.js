// The sheet and its fields, unpacked.
async function unpack() {
  const data = JSON.parse(document.getElementById("data").textContent);
  words = data.words, decimal = data.decimal;
  const take = await unpacker(data.packed);
  data.at = Float32Array.from(take(3 * data.nodes, 3), v => v / 100);
  data.corners = take(3 * data.triangles, 3);
  data.by = {};
  for (const f of data.fields) {
    f.steps = take(data.nodes, 1);
    f.per = 10 ** f.decimals;
    data.by[f.id] = f;
  }
  data.normal = new Float32Array(3 * data.nodes);
  for (let t = 0; t < data.corners.length; t += 3) {
    const [a, b, c] = data.corners.subarray(t, t + 3), at = data.at;
    const u = [0, 1, 2].map(k => at[3 * b + k] - at[3 * a + k]), w = [0, 1, 2].map(k => at[3 * c + k] - at[3 * a + k]);
    const cross = [u[1] * w[2] - u[2] * w[1], u[2] * w[0] - u[0] * w[2], u[0] * w[1] - u[1] * w[0]];
    for (const i of [a, b, c]) for (let k = 0; k < 3; k++) data.normal[3 * i + k] += cross[k];
  }
  for (let i = 0; i < data.nodes; i++) {
    const size = Math.hypot(...data.normal.subarray(3 * i, 3 * i + 3)) || 1;
    for (let k = 0; k < 3; k++) data.normal[3 * i + k] /= size;
  }
  data.neighbours = Array.from({ length: data.nodes }, () => []);
  for (let t = 0; t < data.corners.length; t += 3)
    for (let k = 0; k < 3; k++) data.neighbours[data.corners[t + k]].push(data.corners[t + (k + 1) % 3], data.corners[t + (k + 2) % 3]);
  return data;
}
const value = (f, i) => f.steps[i] === none ? NaN : f.steps[i] / f.per;
const shown = (f, i) => spell(value(f, i), f.decimals);
const withUnit = (f, i) => Number.isFinite(value(f, i)) ? `${shown(f, i)}\u00a0${f.unit}` : "–";
function placeOf(data, i) {
  const [x, y, z] = [0, 1, 2].map(k => spell(data.at[3 * i + k] / data.mm_per_unit, data.place_decimals));
  const comma = decimal === "," ? ";" : ",";
  return `x ${x}${comma} y ${y}${comma} z ${z} ${data.length_unit}`;
}
const className = (data, f, i) => data.classes[f.steps[i] === none ? 3 : Math.round(value(f, i))];
// One sentence for a place: what is shown first, then what is always asked.
function sentence(data, i, first, after) {
  const ids = [first, after && data.by.gap_after_mm ? "gap_after_mm" : "gap_mm", "U_mm", after ? "deviation_after_mm" : "deviation_mm",
    "fibre_volume_fraction", after ? "lead_after_s" : "lead_s", after ? "arrival_after_s" : "arrival_s"];
  const parts = [...new Set(ids)].map(id => data.by[id]).filter(f => f && f.unit).map(f => `${f.title} ${withUnit(f, i)}`);
  return `${placeOf(data, i)}: ${className(data, data.by[after ? "conformity_after" : "conformity"], i)} · ${parts.join(" · ")}`;
}
