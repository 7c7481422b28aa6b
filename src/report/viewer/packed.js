"use strict";
// Numbers as the program packs them (packer.hpp), and the page's words.
const none = -2147483648;
// The page's words by their identifiers in the catalogue, and its decimal sign. Every text goes through say with the
// identifier right there, so that the program finds it.
let words = {}, decimal = ".";
// Where a count chooses, it comes first; in French no and one take the singular, elsewhere one alone.
const several = n => document.documentElement.lang === "fr" ? n > 1 : +n !== 1;
const say = (id, ...parts) => (Array.isArray(words[id]) ? words[id][+several(parts[0])] : words[id]).replace(/\{(\d)\}/g, (_, k) => parts[k - 1]);
// A function that takes the next `count` numbers, each a difference from the one `stride` before.
async function unpacker(base64) {
  const raw = Uint8Array.from(atob(base64), c => c.charCodeAt(0));
  const stream = new Blob([raw]).stream().pipeThrough(new DecompressionStream("deflate"));
  const bytes = new Uint8Array(await new Response(stream).arrayBuffer());
  let at = 0;
  return (count, stride) => {
    const out = new Int32Array(count), last = new Int32Array(stride);
    for (let i = 0; i < count; i++) {
      const code = (bytes[at + i] | bytes[at + count + i] << 8 | bytes[at + 2 * count + i] << 16 | bytes[at + 3 * count + i] << 24) >>> 0;
      const d = code - 1;
      out[i] = code === 0 ? none : last[i % stride] += d & 1 ? -(d + 1) / 2 : d / 2;
    }
    at += 4 * count;
    return out;
  };
}
const spell = (v, decimals) => Number.isFinite(v) ? (v.toFixed(decimals).replace(/^-(?=0(\.0*)?$)/, "").replace("-", "−").replace(".", decimal)) : "–";
const svgNode = (name, attributes, text) => {
  const e = document.createElementNS("http://www.w3.org/2000/svg", name);
  for (const k in attributes) e.setAttribute(k, attributes[k]);
  if (text !== undefined) e.textContent = text;
  return e;
};
