// Rigid motions as three rows of four numbers, and the fits that close the halves on their targets.
const rigid = {
  identity: [1, 0, 0, 0, 0, 1, 0, 0, 0, 0, 1, 0],
  move: (m, p) => [0, 1, 2].map(i => m[4 * i] * p[0] + m[4 * i + 1] * p[1] + m[4 * i + 2] * p[2] + m[4 * i + 3]),
  turn: (m, p) => [0, 1, 2].map(i => m[4 * i] * p[0] + m[4 * i + 1] * p[1] + m[4 * i + 2] * p[2]),
  back: (m, p) => { const d = [p[0] - m[3], p[1] - m[7], p[2] - m[11]]; return [0, 1, 2].map(k => m[k] * d[0] + m[4 + k] * d[1] + m[8 + k] * d[2]); },
  inverse(m) {
    const t = rigid.back(m, [0, 0, 0]);
    return [0, 1, 2].flatMap(k => [m[k], m[4 + k], m[8 + k], t[k]]);
  },
  // First b, then a.
  after(a, b) {
    const out = [];
    for (let i = 0; i < 3; i++)
      for (let k = 0; k < 4; k++) out.push(a[4 * i] * b[k] + a[4 * i + 1] * b[4 + k] + a[4 * i + 2] * b[8 + k] + (k === 3 ? a[4 * i + 3] : 0));
    return out;
  },
  // The motion that carries `from` onto `to` with the least squares: Horn 1987, by the quaternion that is the main
  // direction of a symmetric 4 × 4 matrix. null where the places lie in a row and leave a turn open.
  fit(from, to) {
    const mean = list => [0, 1, 2].map(k => list.reduce((s, p) => s + p[k], 0) / list.length), a = mean(from), b = mean(to);
    if (from.length < 3 || rigid.inRow(from, a) || rigid.inRow(to, b)) return null;
    const s = [[0, 0, 0], [0, 0, 0], [0, 0, 0]];
    from.forEach((p, i) => { for (let k = 0; k < 3; k++) for (let l = 0; l < 3; l++) s[k][l] += (p[k] - a[k]) * (to[i][l] - b[l]); });
    const [[xx, xy, xz], [yx, yy, yz], [zx, zy, zz]] = s;
    const [w, x, y, z] = rigid.mainDirection([[xx + yy + zz, yz - zy, zx - xz, xy - yx], [yz - zy, xx - yy - zz, xy + yx, zx + xz],
      [zx - xz, xy + yx, yy - xx - zz, yz + zy], [xy - yx, zx + xz, yz + zy, zz - xx - yy]]);
    const r = [1 - 2 * (y * y + z * z), 2 * (x * y - w * z), 2 * (x * z + w * y), 2 * (x * y + w * z), 1 - 2 * (x * x + z * z), 2 * (y * z - w * x),
      2 * (x * z - w * y), 2 * (y * z + w * x), 1 - 2 * (x * x + y * y)];
    return [0, 1, 2].flatMap(i => { const row = r.slice(3 * i, 3 * i + 3); return [...row, b[i] - row[0] * a[0] - row[1] * a[1] - row[2] * a[2]]; });
  },
  // Nearer to one line than a hundredth of their extent: what a turn about it moves is not seen.
  inRow(points, mean) {
    const far = points.reduce((best, p) => { const d = p.map((v, k) => v - mean[k]); return Math.hypot(...d) > Math.hypot(...best) ? d : best; }, [0, 0, 0]);
    const long = Math.hypot(...far) || 1, unit = far.map(v => v / long);
    return points.every(p => { const d = p.map((v, k) => v - mean[k]), along = d[0] * unit[0] + d[1] * unit[1] + d[2] * unit[2]; return Math.hypot(...d.map((v, k) => v - along * unit[k])) < 0.01 * long; });
  },
  // Jacobi's turns; of four rows, ten sweeps are more than enough.
  mainDirection(a) {
    const v = a.map((_, i) => a.map((_, k) => i === k ? 1 : 0)), n = a.length;
    for (let sweep = 0; sweep < 10; sweep++)
      for (let p = 0; p < n; p++)
        for (let q = p + 1; q < n; q++) {
          if (Math.abs(a[p][q]) < 1e-300) continue;
          const t0 = (a[q][q] - a[p][p]) / (2 * a[p][q]), t = (t0 < 0 ? -1 : 1) / (Math.abs(t0) + Math.sqrt(t0 * t0 + 1)), c = 1 / Math.sqrt(t * t + 1), s = t * c;
          for (let k = 0; k < n; k++) { const x = a[k][p], y = a[k][q]; a[k][p] = c * x - s * y, a[k][q] = s * x + c * y; }
          for (let k = 0; k < n; k++) { const x = a[p][k], y = a[q][k]; a[p][k] = c * x - s * y, a[q][k] = s * x + c * y; }
          for (let k = 0; k < n; k++) { const x = v[k][p], y = v[k][q]; v[k][p] = c * x - s * y, v[k][q] = s * x + c * y; }
        }
    let best = 0;
    for (let k = 1; k < n; k++) if (a[k][k] > a[best][best]) best = k;
    return v.map(row => row[best]);
  },
  // A ball of this radius near a place on it or in it: Gauss and Newton on the points within 1.3 radii of the centre,
  // those near the sphere counting. The program fits it again from all points; this is to show where it is.
  ball(points, rough, radius) {
    let centre = rough;
    for (let round = 0; round < 40; round++) {
      let a = [[1e-6, 0, 0], [0, 1e-6, 0], [0, 0, 1e-6]], g = [0, 0, 0], used = 0, sum = 0;
      const within = radius * (round < 15 ? 0.5 : 0.1);
      for (let i = 0; i < points.length; i += 3) {
        const d = [points[i] - centre[0], points[i + 1] - centre[1], points[i + 2] - centre[2]], r = Math.hypot(...d);
        if (r > 1.6 * radius || r < 1e-9 || Math.abs(r - radius) > within) continue;
        used++, sum += (r - radius) ** 2;
        for (let k = 0; k < 3; k++) { g[k] += (r - radius) * d[k] / r; for (let l = 0; l < 3; l++) a[k][l] += d[k] * d[l] / (r * r); }
      }
      if (used < 12) return null;
      const det = m => m[0][0] * (m[1][1] * m[2][2] - m[1][2] * m[2][1]) - m[0][1] * (m[1][0] * m[2][2] - m[1][2] * m[2][0]) + m[0][2] * (m[1][0] * m[2][1] - m[1][1] * m[2][0]);
      const whole = det(a), step = [0, 1, 2].map(k => det(a.map((row, i) => row.map((x, l) => l === k ? g[i] : x))) / whole);
      centre = centre.map((v, k) => v + step[k]);
      if (round > 15 && Math.hypot(...step) < 1e-6) return { centre, form: Math.sqrt(sum / used), points: used };
    }
    return null;
  }
};
