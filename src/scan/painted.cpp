// A mesh with colours, which mark the parts of a mold: PLY with its faces.
#include <algorithm>

#include "scan/ply.hpp"

namespace gapfront::scan {
namespace {
using namespace reading;

/// One record: for each property its value, or its list's.
using Record = std::vector<std::vector<double>>;

void read_text_record(Input& in, const Element& e, std::uint64_t index, Record& out) {
  std::string_view line;
  std::vector<std::string_view> w;
  do {
    if (!in.line(line)) fail_ply_short(in, e, index);
    w = words(line);
  } while (w.empty());
  std::size_t at = 0;
  const auto next = [&](const Property& p) {
    double v = 0;
    if (at >= w.size() || !parse_number(w[at], v))
      in.fail_line("expected a number for " + p.name + " of " + e.name + " " + std::to_string(index + 1) +
                   "; correct the line or export the mesh again");
    ++at;
    return v;
  };
  for (std::size_t k = 0; k < e.properties.size(); ++k) {
    const Property& p = e.properties[k];
    const double count = p.list ? next(p) : 1;
    if (!(count >= 0 && count <= double(line.size())))
      in.fail_line("the list " + p.name + " has no such length; correct the line or export the mesh again");
    out[k].clear();
    for (int i = 0; i < count; ++i) out[k].push_back(next(p));
  }
}

void read_packed_record(Input& in, const Element& e, std::uint64_t index, bool swap, Record& out) {
  const auto next = [&](Number type) {
    const char* bytes = in.take(size_of(type));
    if (!bytes) fail_ply_short(in, e, index);
    return number_at(bytes, type, swap);
  };
  for (std::size_t k = 0; k < e.properties.size(); ++k) {
    const Property& p = e.properties[k];
    const double count = p.list ? next(p.count_type) : 1;
    if (!(count >= 0 && count <= double(in.remaining()))) fail_ply_short(in, e, index);
    out[k].clear();
    for (int i = 0; i < count; ++i) out[k].push_back(next(p.type));
  }
}

/// The property of one of these names that is a list, or is none; −1 when there is no such.
int find(const Element& e, const std::vector<std::string>& names, bool list = false) {
  for (std::size_t k = 0; k < e.properties.size(); ++k)
    if (e.properties[k].list == list && std::count(names.begin(), names.end(), e.properties[k].name)) return int(k);
  return -1;
}

/// Places of red, green and blue among the properties.
struct PaintColumns {
  int at[3];
  explicit PaintColumns(const Element& e)
      : at{find(e, {"red", "diffuse_red", "r"}), find(e, {"green", "diffuse_green", "g"}),
           find(e, {"blue", "diffuse_blue", "b"})} {}
  bool there() const { return at[0] >= 0 && at[1] >= 0 && at[2] >= 0; }
  Rgb of(const Input& in, const Element& e, const Record& record) const {
    Rgb out{};
    for (int k = 0; k < 3; ++k) {
      double v = record[at[k]][0];
      // Some programs write colours as fractions of one.
      const Number type = e.properties[at[k]].type;
      if (type == Number::f32 || type == Number::f64) v = std::round(255 * v);
      if (!(v >= 0 && v <= 255)) in.fail_file("a colour of " + e.name + " is not within 0 and 255; export it again");
      out[k] = std::uint8_t(v);
    }
    return out;
  }
};

/// The paint of most corners; at a tie the first corner's.
Rgb of_most(const Rgb& a, const Rgb& b, const Rgb& c) { return b == c ? b : a; }

}  // namespace

PaintedMesh read_painted_mesh(const std::filesystem::path& file, double unit) {
  Input in(file);
  if (!in.peek(4).starts_with("ply")) in.fail_file("a painted mesh must be PLY, with colours; export it so");
  const Header header = read_ply_header(in);
  const bool ascii = header.format == "ascii", swap = header.format == "binary_big_endian";
  PaintedMesh out;
  std::vector<Rgb> corner, face;
  for (const Element& e : header.elements) {
    const bool vertex = e.name == "vertex", faces = e.name == "face";
    const int x = find(e, {"x"}), y = find(e, {"y"}), z = find(e, {"z"}),
              list = find(e, {"vertex_indices", "vertex_index"}, true);
    if (vertex && (x < 0 || y < 0 || z < 0)) in.fail_file("the vertices have no x, y and z; export the mesh again");
    if (faces && list < 0) in.fail_file("the faces have no list vertex_indices; export the mesh again");
    const PaintColumns paint(e);
    Record record(e.properties.size());
    for (std::uint64_t i = 0; i < e.count; ++i) {
      if (ascii)
        read_text_record(in, e, i, record);
      else
        read_packed_record(in, e, i, swap, record);
      if (vertex) {
        const Vec3 p = unit * Vec3(record[x][0], record[y][0], record[z][0]);
        if (!p.allFinite()) in.fail_file("vertex " + std::to_string(i) + " is not finite; export the mesh again");
        out.mesh.points.push_back(p);
        if (paint.there()) corner.push_back(paint.of(in, e, record));
      }
      if (!faces) continue;
      const auto& c = record[list];
      for (double k : c)
        if (!(k >= 0 && k < double(out.mesh.points.size())))
          in.fail_file("face " + std::to_string(i) + " names a vertex that is not there; export the mesh again");
      for (std::size_t k = 2; k < c.size(); ++k) {
        out.mesh.triangles.push_back({int(c[0]), int(c[k - 1]), int(c[k])});
        if (paint.there()) face.push_back(paint.of(in, e, record));
      }
    }
  }
  if (out.mesh.triangles.empty()) in.fail_file("has no faces; export the painted mesh, not its points only");
  if (face.empty()) {
    if (corner.empty()) in.fail_file("has no colours (red, green, blue) at faces or vertices; paint the zones first");
    for (const auto& t : out.mesh.triangles) face.push_back(of_most(corner[t[0]], corner[t[1]], corner[t[2]]));
  }
  out.paint = std::move(face);
  return out;
}

}  // namespace gapfront::scan
