// Meshes with their triangles, for nominal surfaces: STL (both) and OBJ.
#include <array>
#include <map>

#include "scan/formats.hpp"

namespace gapfront::scan {
namespace {
using namespace reading;

/// Corners that lie at the same place become one point.
class Builder {
 public:
  explicit Builder(double unit) : unit_(unit) {}
  int place(const Vec3& p) {
    const auto [at, fresh] = known_.try_emplace({p.x(), p.y(), p.z()}, static_cast<int>(mesh.points.size()));
    if (fresh) mesh.points.push_back(unit_ * p);
    return at->second;
  }
  Mesh mesh;

 private:
  double unit_;
  std::map<std::array<double, 3>, int> known_;
};

Vec3 corner(Input& in, const std::vector<std::string_view>& w) {
  Vec3 v = Vec3::Zero();
  for (int k = 0; k < 3; ++k)
    if (w.size() < 4 || !parse_number(w[k + 1], v[k]) || !std::isfinite(v[k]))
      in.fail_line("expected \"" + std::string(w[0]) + " x y z\"; correct the line or export the mesh again");
  return v;
}

void stl_binary(Input& in, Builder& out) {
  const char* head = in.take(84);
  const auto count = std::uint64_t(number_at(head + 80, Number::u32, false));
  for (std::uint64_t i = 0; i < count; ++i) {
    const char* record = in.take(50);
    std::array<int, 3> t;
    for (int k = 0; k < 3; ++k) {
      Vec3 p;
      for (int j = 0; j < 3; ++j) p[j] = number_at(record + 12 + 12 * k + 4 * j, Number::f32, false);
      if (!p.allFinite()) in.fail_byte(84 + 50 * i, "a corner is not a finite number; export the mesh again");
      t[k] = out.place(p);
    }
    out.mesh.triangles.push_back(t);
  }
}

void stl_ascii(Input& in, Builder& out) {
  std::string_view line;
  std::vector<int> t;
  while (in.line(line)) {
    const auto w = words(line);
    if (w.empty() || w[0] != "vertex") continue;
    t.push_back(out.place(corner(in, w)));
    if (t.size() == 3) out.mesh.triangles.push_back({t[0], t[1], t[2]}), t.clear();
  }
  if (!t.empty()) in.fail_file("the last facet has fewer than 3 corners: the file is cut off; export it again");
}

void obj(Input& in, Builder& out) {
  std::string_view line;
  std::vector<int> index;  // of each "v" line
  while (in.line(line)) {
    const auto w = words(line);
    if (w.empty()) continue;
    if (w[0] == "v") index.push_back(out.place(corner(in, w)));
    if (w[0] != "f") continue;
    std::vector<int> face;
    for (std::size_t k = 1; k < w.size(); ++k) {
      double n = 0;
      if (!parse_number(w[k].substr(0, w[k].find('/')), n) || !(std::abs(n) <= 0x1p53)) n = 0;
      const long at = n < 0 ? static_cast<long>(index.size()) + static_cast<long>(n) : static_cast<long>(n) - 1;
      if (n == 0 || at < 0 || at >= static_cast<long>(index.size()))
        in.fail_line("a face names corner " + quote(w[k]) + ", which is not there; export the mesh again");
      face.push_back(index[at]);
    }
    for (std::size_t k = 2; k < face.size(); ++k) out.mesh.triangles.push_back({face[0], face[k - 1], face[k]});
  }
}

}  // namespace

Mesh read_mesh(const std::filesystem::path& file, double unit) {
  Input in(file);
  const std::string extension = in.extension();
  Builder out(unit);
  if (extension == ".obj") {
    obj(in, out);
  } else if (extension == ".stl") {
    const bool binary = is_binary_stl(in);
    if (!binary && in.peek(5) != "solid")
      in.fail_file("is neither a text STL nor a binary one of the length its header promises; export it again");
    binary ? stl_binary(in, out) : stl_ascii(in, out);
  } else {
    in.fail_file("a nominal surface must be STL or OBJ; export it so");
  }
  if (out.mesh.triangles.empty()) in.fail_file("has no triangles; export the surface as a mesh");
  return std::move(out.mesh);
}

}  // namespace gapfront::scan
