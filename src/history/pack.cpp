#include "history/pack.hpp"

#include <bit>
#include <cstdint>
#include <cstring>
#include <stdexcept>

namespace gapfront::history {
namespace {

static_assert(std::endian::native == std::endian::little, "the bytes are written as they lie in memory");

struct Writer {
  std::string out;
  void operator()(double v) { out.append(reinterpret_cast<const char*>(&v), sizeof v); }
  void operator()(const Vec3& v) { (*this)(v.x()), (*this)(v.y()), (*this)(v.z()); }
  void operator()(std::uint64_t v) { out.append(reinterpret_cast<const char*>(&v), sizeof v); }
};
struct Reader {
  std::string_view in;
  template <class T>
  T next() {
    T v;
    if (in.size() < sizeof v) throw std::length_error("stored fields end early");
    std::memcpy(&v, in.data(), sizeof v);
    in.remove_prefix(sizeof v);
    return v;
  }
  void operator()(double& v) { v = next<double>(); }
  void operator()(Vec3& v) {
    for (int k = 0; k < 3; ++k) v[k] = next<double>();
  }
  std::size_t count() { return next<std::uint64_t>(); }
};

/// Everything of a node, for writing and for reading alike.
template <class Node, class F>
void each(Node& n, F& f) {
  f(n.gap), f(n.along_normal), f(n.mid), f(n.direction);
  f(n.u_lower), f(n.u_upper), f(n.u_instrument), f(n.u_registration), f(n.u_temperature), f(n.U);
}

}  // namespace

std::string pack_mesh(const Mesh& mesh) {
  Writer w;
  w(static_cast<std::uint64_t>(mesh.points.size())), w(static_cast<std::uint64_t>(mesh.triangles.size()));
  for (const Vec3& p : mesh.points) w(p);
  for (const auto& t : mesh.triangles)
    for (const int k : t) w(static_cast<std::uint64_t>(k));
  return w.out;
}

Mesh unpack_mesh(std::string_view bytes) {
  Reader r{bytes};
  Mesh mesh;
  const auto points = r.count(), triangles = r.count();
  const std::size_t most = bytes.size() / 24;  // a larger count would wrap in the sum below
  if (points > most || triangles > most || bytes.size() != 16 + 24 * (points + triangles))
    throw std::length_error("a stored mesh has the wrong length");
  mesh.points.resize(points), mesh.triangles.resize(triangles);
  for (Vec3& p : mesh.points) r(p);
  for (auto& t : mesh.triangles)
    for (int& k : t) {
      const std::uint64_t node = r.count();
      if (node >= points) throw std::length_error("a stored mesh names a node that it does not have");
      k = static_cast<int>(node);
    }
  return mesh;
}

std::string pack_fit_areas(const Record& record) {
  Writer w;
  for (const NodeGap& n : record.gap.nodes) w(n.fit_area);
  return w.out;
}

void unpack_fit_areas(std::string_view bytes, Record& record) {
  if (bytes.empty()) return;
  if (bytes.size() != 8 * record.gap.nodes.size()) throw std::length_error("stored fit areas have the wrong length");
  Reader r{bytes};
  for (NodeGap& n : record.gap.nodes) r(n.fit_area);
}

std::string pack_fields(const Record& record) {
  Writer w;
  w(static_cast<std::uint64_t>(record.gap.nodes.size()));
  w(record.gap.coverage), w(record.gap.unmeasured_area), w(record.gap.pivot);
  for (int i = 0; i < 36; ++i) w(record.gap.registration.data()[i]);
  for (std::size_t i = 0; i < record.gap.nodes.size(); ++i) {
    const NodeGap& n = record.gap.nodes[i];
    w(n.measured ? 1.0 : 0.0), w(record.arrival.at(i));
    each(n, w);
  }
  return w.out;
}

void unpack_fields(std::string_view bytes, Record& record) {
  Reader r{bytes};
  const std::size_t nodes = r.count();
  if (nodes > bytes.size() / 8) throw std::length_error("stored fields end early");
  record.gap.nodes.resize(nodes);
  r(record.gap.coverage), r(record.gap.unmeasured_area), r(record.gap.pivot);
  for (int i = 0; i < 36; ++i) r(record.gap.registration.data()[i]);
  record.arrival.resize(record.gap.nodes.size());
  for (std::size_t i = 0; i < record.gap.nodes.size(); ++i) {
    double measured;
    r(measured), r(record.arrival[i]);
    record.gap.nodes[i].measured = measured != 0;
    each(record.gap.nodes[i], r);
  }
  if (!r.in.empty()) throw std::length_error("stored fields are too long");
}

}  // namespace gapfront::history
