// Lengths and places as the job file writes them, and as numbers in mm.
let unitsOfLength = {};  // mm per unit, from the program
const places = {
  length(text) {
    const m = /^\s*([-+]?[0-9.][0-9.eE+-]*)\s*(\S+)\s*$/.exec(text || ""), per = m && unitsOfLength[m[2] === "μm" ? "um" : m[2]];
    return per && Number.isFinite(+m[1]) ? +m[1] * per : NaN;
  },
  // [x, y, z] in mm, or null. Two coordinates lie in the plane Z = 0.
  read(text) {
    const m = /^([^,]+),([^,]+?)(?:,([^,]+?))?\s*([A-Za-zµμ"]+)\s*$/.exec(text || "");
    const per = m && unitsOfLength[m[4]];
    if (!per) return null;
    const p = [m[1], m[2], m[3] === undefined ? "0" : m[3]].map(s => s.trim() === "" ? NaN : Number(s) * per);
    return p.every(Number.isFinite) ? p : null;
  },
  isFlat: text => (text.match(/,/g) || []).length === 1,
  // In the unit of the text that it replaces, or else of the job.
  write(p, { like, flat, unit, fine }) {
    const had = /([A-Za-zµμ"]+)\s*$/.exec(like || ""), name = had && unitsOfLength[had[1]] ? had[1] : unit, per = unitsOfLength[name];
    const decimals = Math.max(0, Math.round(Math.log10(per)) + (fine ? 2 : 1) + (per > 5 && per < 50 ? 1 : 0));
    const text = v => { const s = (v / per).toFixed(decimals); return +s === 0 ? s.replace("-", "") : s; };
    return `${p.slice(0, flat ? 2 : 3).map(text).join(", ")} ${name}`;
  },
  list(texts) {
    const all = (Array.isArray(texts) ? texts : [texts]).map(places.read);
    return all.every(Boolean) ? all : null;
  },
  spoken(p, unit) {
    const per = unitsOfLength[unit] || 1, comma = decimal === "," ? ";" : ",", decimals = per > 5 ? 2 : 0;
    return "xyz".split("").map((axis, k) => `${axis} ${spell(p[k] / per, decimals)}`).join(comma + " ") + "\u00a0" + unit;
  },
  spokenLength: (mm, unit, decimals) => `${spell(mm / (unitsOfLength[unit] || 1), (unitsOfLength[unit] || 1) > 5 ? decimals + 2 : decimals)}\u00a0${unit}`
};
