#include "correct/bench_half.hpp"

namespace gapfront::correct {

BenchHalf half_of(const CorrectInput& in, bool upper) {
  BenchHalf f{in.sheet.mesh, in.sheet.normals, upper};
  if (!upper) return f;
  for (std::size_t i = 0; i < in.sheet.size(); ++i) {
    const NodeGap& n = in.gap.nodes[i];
    f.face.points[i] = n.measured ? Vec3(n.mid + 0.5 * n.gap * n.direction)
                                  : Vec3(in.sheet.mesh.points[i] + in.verdict.nominal[i] * in.sheet.normals[i]);
    f.normals[i] = n.measured ? Vec3(-n.direction) : Vec3(-in.sheet.normals[i]);
  }
  for (auto& t : f.face.triangles) std::swap(t[1], t[2]);
  return f;
}

int middle_node(const BenchHalf& half, const Correction& c) {
  int best = -1;
  const bool has_outline = c.inside.size() == half.face.points.size();
  for (int i = 0; i < static_cast<int>(half.face.points.size()); ++i) {
    if (has_outline && c.inside[i] <= 0) continue;
    if (best < 0 || (half.face.points[i] - c.centre).norm() < (half.face.points[best] - c.centre).norm()) best = i;
  }
  return best;
}

}  // namespace gapfront::correct
