// In the page: text below the contrast that WCAG 2.2 asks for (1.4.3: 4.5, large text 3).
export function faintText() {
  const light = c => { const v = c / 255; return v <= 0.04045 ? v / 12.92 : ((v + 0.055) / 1.055) ** 2.4; };
  const parse = text => text.match(/[\d.]+/g).map(Number);
  const shine = ([r, g, b]) => 0.2126 * light(r) + 0.7152 * light(g) + 0.0722 * light(b);
  const faint = [];
  let seen = 0;
  const walk = document.createTreeWalker(document.body, NodeFilter.SHOW_TEXT);
  for (let n; (n = walk.nextNode());) {
    const e = n.parentElement;
    if (!n.textContent.trim() || e.closest("svg, script, style") || !e.getClientRects().length) continue;
    let under = e, ground = [0, 0, 0, 0];
    for (; under && ground[3] === 0; under = under.parentElement) {
      const c = parse(getComputedStyle(under).backgroundColor);
      ground = c.length === 3 ? [...c, 1] : c;
    }
    if (ground[3] === 0) { faint.push("no ground under: " + n.textContent.trim().slice(0, 40)); continue; }
    const style = getComputedStyle(e), [a, b] = [shine(parse(style.color)), shine(ground)].sort((p, q) => q - p);
    const size = parseFloat(style.fontSize), large = size >= 24 || (size >= 18.66 && +style.fontWeight >= 700);
    seen++;
    if ((a + 0.05) / (b + 0.05) < (large ? 3 : 4.5)) faint.push(`${((a + 0.05) / (b + 0.05)).toFixed(2)}: ${n.textContent.trim().slice(0, 40)}`);
  }
  return { faint, seen };
}
