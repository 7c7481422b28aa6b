// Pieces of the result files. Lengths in mm, with inch twins where people read them.
#pragma once
#include <cmath>
#include <limits>
#include <nlohmann/json.hpp>
#include <vector>

#include "gapfront/geometry.hpp"

namespace gapfront::report {

using Json = nlohmann::ordered_json;

/// Of result.json; DEVELOPERS.md says when it rises. 1: until keys of the probabilities, the mean's budget and what
/// holds the mold shut became required.
inline constexpr int result_version = 3;

// JSON has no infinity; "never" and "not measured" are null. Six decimals of a mm are a nanometre: enough, and
// short enough that files stay readable.
inline Json number(double v, double per_unit = 1e6) {
  if (!std::isfinite(v)) return nullptr;
  return std::round(v * per_unit) / per_unit + 0.0;  // + 0.0: no negative zero
}
inline Json point(const Vec3& p) { return Json::array({number(p.x()), number(p.y()), number(p.z())}); }
inline Json points(const std::vector<Vec3>& list) {
  Json out = Json::array();
  for (const auto& p : list) out.push_back(point(p));
  return out;
}
inline Json mesh(const Mesh& m) {
  Json triangles = Json::array();
  for (const auto& t : m.triangles) triangles.push_back(Json::array({t[0], t[1], t[2]}));
  return {{"nodes_mm", points(m.points)}, {"triangles", triangles}};
}
inline Json column(const std::vector<double>& values) {
  Json out = Json::array();
  for (const double v : values) out.push_back(number(v));
  return out;
}

// And back.
inline double real(const Json& j) { return j.is_null() ? std::numeric_limits<double>::quiet_NaN() : j.get<double>(); }
inline Vec3 vec(const Json& j) { return {real(j.at(0)), real(j.at(1)), real(j.at(2))}; }
inline std::vector<Vec3> vecs(const Json& j) {
  std::vector<Vec3> out;
  for (const auto& p : j) out.push_back(vec(p));
  return out;
}
inline std::vector<double> reals(const Json& j) {
  std::vector<double> out;
  for (const auto& v : j) out.push_back(real(v));
  return out;
}

}  // namespace gapfront::report
