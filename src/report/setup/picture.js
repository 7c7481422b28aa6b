// The halves' points, painted by three.js: each a disc as wide as the scan is fine, lit by its normal.
const pointVertex = `
attribute vec3 facing; attribute float edge; uniform float size;
varying vec3 vFacing; varying float vEdge, vAcross;
void main() {
  vec4 there = modelMatrix * vec4(position, 1.0);
  vFacing = mat3(modelMatrix) * facing; vEdge = edge; vAcross = there.x;
  gl_Position = projectionMatrix * viewMatrix * there;
  gl_PointSize = size;
}`;
const pointFragment = `
varying vec3 vFacing; varying float vEdge, vAcross; uniform vec3 ink, light; uniform float cut;
void main() {
  vec2 d = gl_PointCoord - 0.5;
  if (dot(d, d) > 0.25 || vAcross > cut) discard;
  float lit = abs(dot(normalize(vFacing), light));
  gl_FragColor = vec4(ink * (0.35 + 0.65 * lit) * (vEdge > 0.5 ? 0.8 : 1.0), 1.0);
}`;

function makePicture(data, canvas) {
  const renderer = new three.WebGLRenderer({ canvas, antialias: false, alpha: true, preserveDrawingBuffer: false });
  const scene = new three.Scene(), eye = new three.OrthographicCamera(), cloud = {};
  const inks = { lower: [0.66, 0.77, 0.84], upper: [0.88, 0.77, 0.62] };
  for (const which of ["lower", "upper"]) {
    const h = data[which], n = h.shown, middle = [0, 1, 2].map(k => h.at[k]), near = new Float32Array(3 * n);
    for (let i = 0; i < 3 * n; i++) near[i] = h.at[i] - middle[i % 3];  // far from the origin, 32 bits would not do
    const geometry = new three.BufferGeometry();
    geometry.setAttribute("position", new three.BufferAttribute(near, 3));
    geometry.setAttribute("facing", new three.BufferAttribute(h.facing, 3, true));
    geometry.setAttribute("edge", new three.BufferAttribute(Float32Array.from(h.edge), 1));
    const uniforms = { size: { value: 2 }, ink: { value: new three.Vector3(...inks[which]) }, light: { value: new three.Vector3() }, cut: { value: 1e30 } };
    const points = new three.Points(geometry, new three.ShaderMaterial({ vertexShader: pointVertex, fragmentShader: pointFragment, uniforms }));
    points.frustumCulled = false, points.matrixAutoUpdate = false;
    scene.add(points);
    cloud[which] = { points, uniforms, middle };
  }
  function show(which, centre) {
    const { points, middle } = cloud[which], m = data[which].shownBy, t = rigid.move(m, middle);
    points.matrix.set(m[0], m[1], m[2], t[0] - centre[0], m[4], m[5], m[6], t[1] - centre[1], m[8], m[9], m[10], t[2] - centre[2], 0, 0, 0, 1);
    points.matrixWorldNeedsUpdate = true;
  }
  return {
    // panes: { camera, halves, cut } with the camera laid into its pane.
    draw(panes, w, h) {
      const ratio = Math.min(window.devicePixelRatio || 1, 2);
      renderer.setPixelRatio(ratio);
      renderer.setSize(w, h, false);
      renderer.setScissorTest(true);
      renderer.setClearColor(0, 0);
      for (const { camera, halves, cut } of panes) {
        const { pane, tall, deep, toward, up, right } = camera, wide = tall * pane.w / pane.h, centre = camera.middle();
        Object.assign(eye, { left: -wide, right: wide, top: tall, bottom: -tall, near: 0, far: 8 * deep });
        eye.position.set(...toward.map((v, k) => camera.eye[k] + v * 4 * deep));
        eye.up.set(...up);
        eye.lookAt(...camera.eye);
        eye.updateProjectionMatrix();
        for (const which of ["lower", "upper"]) {
          const { points, uniforms } = cloud[which];
          points.visible = halves.includes(which);
          if (!points.visible) continue;
          show(which, centre);
          // Points that were touched one by one stay points, not a face that nobody has seen.
          uniforms.size.value = Math.min(data[which].shown < 5000 ? 9 : 1000, Math.max(1.5, 1.7 * data[which].shown_spacing / camera.perPixel)) * ratio;
          uniforms.cut.value = cut === undefined ? 1e30 : cut - centre[0];
          uniforms.light.value.set(...[0, 1, 2].map(k => 0.8 * toward[k] + (camera.tilt < 0 ? -0.5 : 0.5) * up[k] - 0.45 * right[k])).normalize();
        }
        renderer.setViewport(pane.x, h - pane.y - pane.h, pane.w, pane.h);
        renderer.setScissor(pane.x, h - pane.y - pane.h, pane.w, pane.h);
        renderer.clear();
        renderer.render(scene, eye);
      }
    }
  };
}

// The box around a half as it is shown.
function boxOf(halves) {
  const low = [Infinity, Infinity, Infinity], high = [-Infinity, -Infinity, -Infinity];
  for (const h of halves) {
    const m = h.shownBy;
    for (let i = 0; i < 3 * h.shown; i += 3)
      for (let k = 0; k < 3; k++) {
        const v = m[4 * k] * h.at[i] + m[4 * k + 1] * h.at[i + 1] + m[4 * k + 2] * h.at[i + 2] + m[4 * k + 3];
        if (v < low[k]) low[k] = v;
        if (v > high[k]) high[k] = v;
      }
  }
  return { low, high };
}
