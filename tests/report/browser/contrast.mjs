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

// In the page: borders of fields and buttons, and placeholders, below WCAG 2.2, 1.4.11 (3) and 1.4.3 (4.5).
export function faintParts() {
  const light = c => { const v = c / 255; return v <= 0.04045 ? v / 12.92 : ((v + 0.055) / 1.055) ** 2.4; };
  const parse = text => { const c = text.match(/[\d.]+/g).map(Number); return c.length === 3 ? [...c, 1] : c; };
  const shine = ([r, g, b]) => 0.2126 * light(r) + 0.7152 * light(g) + 0.0722 * light(b);
  const against = (c, ground) => { const mixed = ground.map((g, k) => k < 3 ? c[3] * c[k] + (1 - c[3]) * g : 1), [a, b] = [shine(mixed), shine(ground)].sort((p, q) => q - p); return (a + 0.05) / (b + 0.05); };
  const groundOf = e => { for (; e; e = e.parentElement) { const c = parse(getComputedStyle(e).backgroundColor); if (c[3] > 0) return c; } return [255, 255, 255, 1]; };
  const faint = [];
  let seen = 0;
  for (const e of document.querySelectorAll("input[type=text], select, textarea, button:not(.plain)")) {
    if (!e.getClientRects().length || e.disabled) continue;
    const style = getComputedStyle(e), name = e.getAttribute("data-path") || e.textContent;
    if (e.placeholder) {
      const p = getComputedStyle(e, "::placeholder"), c = parse(p.color);
      c[3] *= +p.opacity;
      if (against(c, groundOf(e)) < 4.5) faint.push(`${against(c, groundOf(e)).toFixed(2)}: placeholder of ${name}`);
    }
    // A button that has words needs no border to be known; a field does.
    if (e.tagName === "BUTTON") continue;
    seen++;
    const edge = against(parse(style.borderTopColor), groundOf(e.parentElement));
    if (edge < 3) faint.push(`${edge.toFixed(2)}: border of ${name}`);
  }
  return { faint, seen };
}

// In the page: what a finger must hit and is smaller than 24 px (WCAG 2.2, 2.5.8). A box or button over its label is as
// large as the label; a link in a sentence is let off there.
export function smallTargets() {
  const small = [];
  for (const e of document.querySelectorAll("button, select, textarea, summary, input:not([type=radio]):not([type=checkbox]), label:has(input)")) {
    const r = e.getBoundingClientRect();
    if (r.width && (r.width < 23.9 || r.height < 23.9)) small.push(`${r.width.toFixed(0)} × ${r.height.toFixed(0)}: ${e.getAttribute("data-path") || e.textContent}`);
  }
  return small;
}
