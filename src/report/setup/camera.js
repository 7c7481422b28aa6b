// One look at a thing in a frame of its own: straight lines of sight, turned and tilted, moved and made larger.
function makeCamera(tilt, turn = 0) {
  const first = { turn, tilt, zoom: 1, eye: [0, 0, 0] };
  const c = { ...first, eye: [0, 0, 0], pane: { x: 0, y: 0, w: 1, h: 1 }, perPixel: 1, box: { low: [0, 0, 0], high: [1, 1, 1] } };
  c.reset = () => Object.assign(c, first, { eye: [0, 0, 0] });
  c.middle = () => c.box.low.map((v, k) => (v + c.box.high[k]) / 2);
  c.lay = pane => {
    c.pane = pane;
    const cs = Math.cos(c.turn), s = Math.sin(c.turn), e = Math.sin(c.tilt), f = Math.cos(c.tilt);
    c.right = [cs, s, 0], c.toward = [s * f, -cs * f, e], c.up = [-s * e, cs * e, f];
    // All of it in the picture, as it is turned now, with a rim for the names.
    const half = c.box.high.map((v, k) => (v - c.box.low[k]) / 2), reach = axis => axis.reduce((sum, v, k) => sum + Math.abs(v) * half[k], 0);
    c.tall = 1.12 * Math.max(reach(c.up), reach(c.right) * pane.h / pane.w, 1e-3) / c.zoom;
    c.deep = Math.hypot(...half) || 1;
    c.perPixel = 2 * c.tall / pane.h;
  };
  // Pixels per mm that a pane of this size would have.
  c.fills = (w, h) => {
    const half = c.box.high.map((v, k) => (v - c.box.low[k]) / 2), reach = axis => axis.reduce((sum, v, k) => sum + Math.abs(v) * half[k], 0);
    return Math.min(w / reach(c.right), h / reach(c.up));
  };
  const dot = (a, b) => a[0] * b[0] + a[1] * b[1] + a[2] * b[2];
  // Pixels, and how near to the viewer, mm.
  c.onScreen = p => {
    const m = c.middle(), d = p.map((v, k) => v - m[k] - c.eye[k]), { x, y, w, h } = c.pane;
    return [x + w / 2 + dot(c.right, d) / c.perPixel, y + h / 2 - dot(c.up, d) / c.perPixel, dot(c.toward, d)];
  };
  // The place under a pixel that is as near to the viewer as `p`, or at the height of `p` where the look is not level.
  c.inPlane = (sx, sy, p, level) => {
    const [x, y] = c.onScreen(p), q = p.map((v, k) => v + c.perPixel * ((sx - x) * c.right[k] - (sy - y) * c.up[k]));
    if (!level || Math.abs(c.toward[2]) < 0.15) return q;
    const back = (q[2] - p[2]) / c.toward[2];
    return q.map((v, k) => v - back * c.toward[k]);
  };
  c.move = (dx, dy) => {
    const most = c.box.high.map((v, k) => (v - c.box.low[k]) / 2);
    c.eye = c.eye.map((v, k) => Math.max(-most[k], Math.min(most[k], v - c.perPixel * (dx * c.right[k] - dy * c.up[k]))));
  };
  // About a pixel, which keeps its place.
  c.closer = (factor, x, y) => {
    const was = c.zoom, p = c.pane;
    c.zoom = Math.min(40, Math.max(0.6, was * factor));
    const k = c.zoom / was;
    c.perPixel /= k;
    c.move((x - p.x - p.w / 2) * (1 - k), (y - p.y - p.h / 2) * (1 - k));
  };
  c.rotate = (turn, up) => { c.turn += turn, c.tilt = Math.min(1.5708, Math.max(-1.5708, c.tilt + up)); };
  return c;
}

// The scan point under a pixel, of one half; where rims are asked for, one at a rim within 12 pixels comes first.
function scanPointAt(half, camera, x, y, { reach, rims, cut }) {
  const n = half.shown, near = [], m = half.shownBy, mid = camera.middle(), { pane, right, up, toward, perPixel, eye } = camera;
  const row = axis => { const t = rigid.turn(rigid.inverse(m), axis); return [...t, axis.reduce((s, v, k) => s + v * (m[4 * k + 3] - mid[k] - eye[k]), 0)]; };
  const [ax, ay, az] = [row(right), row(up), row(toward)], at = half.at;
  const cx = (x - pane.x - pane.w / 2) * perPixel, cy = (pane.y + pane.h / 2 - y) * perPixel, far = Math.max(reach * perPixel, rims ? 12 * perPixel : 0, 0.8 * half.shown_spacing);
  for (let i = 0; i < n; i++) {
    const px = at[3 * i], py = at[3 * i + 1], pz = at[3 * i + 2];
    const dx = ax[0] * px + ax[1] * py + ax[2] * pz + ax[3] - cx;
    if (dx > far || dx < -far) continue;
    const dy = ay[0] * px + ay[1] * py + ay[2] * pz + ay[3] - cy, d = Math.hypot(dx, dy);
    if (d > far) continue;
    if (cut !== undefined && rigid.move(m, [px, py, pz])[0] > cut) continue;
    near.push([i, d, az[0] * px + az[1] * py + az[2] * pz + az[3]]);
  }
  // The smallest circle that holds a point: of what lies in it, one behind the other, the foremost surface.
  let best = null, front = 0;
  for (let circle = Math.max(0.8 * half.shown_spacing, perPixel); !best && circle < 2 * far; circle *= 2) {
    const inside = near.filter(([, d]) => d <= Math.min(circle, far));
    if (!inside.length) continue;
    front = Math.max(...inside.map(([, , z]) => z));
    for (const [i, d, z] of inside) if (z > front - 2 * circle && (!best || d < best.d)) best = { i, d };
  }
  if (best && rims) {
    const rim = near.filter(([i, d, z]) => half.edge[i] && d < 12 * perPixel && Math.abs(z - front) < 4 * half.shown_spacing + 2 * d).sort((p, q) => p[1] - q[1])[0];
    if (rim) best = { i: rim[0], d: rim[1] };
  }
  if (!best) return null;
  const own = [at[3 * best.i], at[3 * best.i + 1], at[3 * best.i + 2]];
  return { own, at: rigid.move(m, own), rim: !!half.edge[best.i], index: best.i };
}
