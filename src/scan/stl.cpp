// STL, text and binary (80 bytes of comment, a count, 50 bytes per triangle, little-endian): the corners of the
// triangles, each place once, with the area-weighted normal of the triangles that meet there.
#include <bit>
#include "scan/formats.hpp"

namespace gapfront::reading {
namespace {

/// Corners by exact position: an open-addressing table of point indices (4 bytes a slot, no node allocations).
class Corners {
 public:
  std::uint32_t place(const Vec3f& p) {
    if (points.size() * 2 >= slots_.size()) grow();
    std::size_t s = hash(p) & (slots_.size() - 1);
    while (slots_[s] != kFree) {
      if (points[slots_[s]] == p) return slots_[s];
      s = (s + 1) & (slots_.size() - 1);
    }
    slots_[s] = std::uint32_t(points.size());
    points.push_back(p);
    normals.push_back(Vec3f::Zero());
    return slots_[s];
  }
  std::vector<Vec3f> points, normals;

 private:
  static constexpr std::uint32_t kFree = 0xffffffffu;
  static std::uint64_t hash(const Vec3f& p) {
    std::uint64_t h = 0;
    for (int k = 0; k < 3; ++k) {  // + 0.f: minus zero is the same place as zero
      h = (h ^ std::bit_cast<std::uint32_t>(p[k] + 0.f)) * 0x9E3779B97F4A7C15ull;
      h ^= h >> 29;
    }
    return h;
  }
  void grow() {
    slots_.assign(slots_.empty() ? 1024 : slots_.size() * 2, kFree);
    for (std::uint32_t i = 0; i < points.size(); ++i) {
      std::size_t s = hash(points[i]) & (slots_.size() - 1);
      while (slots_[s] != kFree) s = (s + 1) & (slots_.size() - 1);
      slots_[s] = i;
    }
  }
  std::vector<std::uint32_t> slots_;
};

void add_triangle(Corners& corners, const Vec3f (&t)[3], std::uint64_t& broken) {
  std::uint32_t at[3];
  bool finite = true;
  for (int k = 0; k < 3; ++k) {
    if (t[k].allFinite()) {
      at[k] = corners.place(t[k]);
    } else {
      finite = false;
      ++broken;
    }
  }
  if (!finite) return;
  const Vec3f area = (t[1] - t[0]).cross(t[2] - t[0]);
  for (std::uint32_t i : at) corners.normals[i] += area;
}

void hand_over(const Corners& corners, Sink& sink) {
  sink.reserve(corners.points.size(), corners.points.size(), true);
  for (std::size_t i = 0; i < corners.points.size(); ++i)
    sink.add(corners.points[i].cast<double>(), corners.normals[i]);
}

void read_ascii(Input& in, Sink& sink) {
  sink.scan().format = "STL ascii";
  Corners corners;
  std::string_view line;
  Vec3f t[3];
  int k = 0;
  bool ended = false;
  while (in.line(line)) {
    const auto w = words(line);
    if (w.empty()) continue;
    if (w[0] == "vertex") {
      double v[3];
      for (int j = 0; j < 3; ++j)
        if (w.size() != 4 || !parse_number(w[j + 1], v[j]))
          in.fail_line("expected \"vertex x y z\", found " + quote(line) + "; correct the line or export again");
      if (k > 2) in.fail_line("more than three corners in one facet; export the mesh again");
      t[k++] = Vec3f(float(v[0]), float(v[1]), float(v[2]));
    } else if (w[0] == "endfacet") {
      if (k != 3) in.fail_line("a facet with " + std::to_string(k) + " corners instead of 3; export the mesh again");
      add_triangle(corners, t, sink.scan().nonfinite_dropped);
      k = 0;
    } else if (w[0] == "endsolid") {
      ended = true;
    } else if (w[0] != "facet" && w[0] != "outer" && w[0] != "endloop" && w[0] != "solid") {
      in.fail_line("not an STL line: " + quote(line) + "; correct the line or export again");
    }
  }
  if (!ended) in.fail_line("the file ends without endsolid: it is cut off; copy or export it again");
  hand_over(corners, sink);
}

void read_binary(Input& in, Sink& sink) {
  sink.scan().format = "STL binary";
  const char* head = in.take(84);
  if (!head) in.fail_byte(in.size(), "the file ends within the 84-byte STL header; export it again");
  const auto count = std::uint64_t(number_at(head + 80, Number::u32, false));
  if (count == 0) in.fail_file("the STL header promises no triangles; export the mesh again");
  Corners corners;
  for (std::uint64_t i = 0; i < count; ++i) {
    const char* record = in.take(50);
    if (!record)
      in.fail_byte(in.size(), "the file ends early: " + std::to_string(count) + " triangles promised, " +
                                  std::to_string(i) + " present; copy or export the file again");
    Vec3f t[3];
    for (int k = 0; k < 9; ++k) t[k / 3][k % 3] = float(number_at(record + 12 + 4 * k, Number::f32, false));
    add_triangle(corners, t, sink.scan().nonfinite_dropped);
  }
  hand_over(corners, sink);
}

}  // namespace

void read_stl(Input& in, Sink& sink) {
  const std::string_view head = in.peek(1024);
  const bool text = head.find("facet") != head.npos || head.find("endsolid") != head.npos;
  if (head.starts_with("solid") && text && !is_binary_stl(in))
    read_ascii(in, sink);
  else
    read_binary(in, sink);
}

}  // namespace gapfront::reading
