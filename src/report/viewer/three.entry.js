// Only what the report's viewer uses, so that the rest of the library stays out of every report.
export {
  BufferAttribute, BufferGeometry, DataTexture, DoubleSide, LinearFilter, Mesh, OrthographicCamera, Points, RGBAFormat, Scene,
  ShaderMaterial, Vector3, WebGLRenderer
} from "three";
