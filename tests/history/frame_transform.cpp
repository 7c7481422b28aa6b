// What it costs to bring a re-inspection onto the baseline's sheet.
#include <catch2/catch.hpp>
#include <cmath>
#include <random>

#include "../flow/sheets.hpp"
#include "core/rigid_motion.hpp"
#include "history/drift.hpp"

using namespace gapfront;

namespace {

const std::vector<Vec3> kPlaces{{-170, -120, 0}, {170, -120, 0}, {170, 120, 0}, {-170, 120, 20}, {0, 130, 10}};

/// Flat face, 300 × 200 mm.
const Sheet& carried_face() {
  static const Sheet s = cavity::make_sheet(
      test::grid(18, 12, [](double u, double v) { return Vec3(300 * u - 150, 200 * v - 100, 0); }).mesh);
  return s;
}
/// A wedge with a hump: its gap slopes by 0.02 along X and by more about the hump.
double gap_at(const Vec3& p) {
  return 3 + 0.02 * p.x() + 0.8 * std::exp(-(p - Vec3(40, 10, 0)).squaredNorm() / (2 * 50 * 50));
}

Record record(const std::vector<Vec3>& targets, double u) {
  Record r;
  for (const Vec3& p : carried_face().mesh.points) {
    NodeGap n;
    n.measured = true, n.gap = gap_at(p), n.mid = p;
    r.gap.nodes.push_back(n);
  }
  for (std::size_t k = 0; k < targets.size(); ++k)
    r.datums.push_back({"B" + std::to_string(k), targets[k], targets[k], u, u});
  return r;
}

}  // namespace

TEST_CASE("The uncertainty of carrying a scan onto the common sheet is the scatter of the gap over 4000 draws") {
  // Truth by drawing: the targets are found with errors, the scan is carried by the fit to them, and the gap is read
  // where a node then lies on the tool. Over 4000 draws a scatter is known to 1/√8000 = 1.1 %, at the worst of some 150
  // nodes to three times that; the slope of the hump is that of the mesh (17 mm), whose truncation, edge²/(6·50²), is
  // 2 %: together 6 %.
  const double u = 0.05;
  std::mt19937_64 random(1);
  std::normal_distribution<double> normal(0, u);
  const auto carry = history::frame_transform(carried_face(), record(kPlaces, u), record(kPlaces, u));
  REQUIRE(carry.targets == 5);
  std::vector<int> nodes;
  for (int i = 0; i < static_cast<int>(carried_face().size()); ++i)
    if (carried_face().mesh.points[i].cwiseAbs().x() < 140 && carried_face().mesh.points[i].cwiseAbs().y() < 90)
      nodes.push_back(i);
  std::vector<double> square(carried_face().size(), 0);
  double mean_square = 0;
  const int draws = 4000;
  for (int k = 0; k < draws; ++k) {
    std::vector<Pair> pairs;
    for (const Vec3& p : kPlaces) {
      const Vec3 now(normal(random), normal(random), normal(random)),
          then(normal(random), normal(random), normal(random));
      pairs.push_back({p + now, p + then, u * u * Eigen::Matrix3d::Identity(), u * u * Eigen::Matrix3d::Identity()});
    }
    const Rigid back = fit_pairs(pairs).motion.inverse();
    double sum = 0;
    for (const int i : nodes) {
      const double e = gap_at(back * carried_face().mesh.points[i]) - gap_at(carried_face().mesh.points[i]);
      square[i] += e * e / draws, sum += e / double(nodes.size());
    }
    mean_square += sum * sum / draws;
  }
  for (const int i : nodes) CHECK(carry.u({{i, 1.0}}) == Approx(std::sqrt(square[i])).epsilon(0.06));
  std::vector<std::pair<int, double>> mean;
  for (const int i : nodes) mean.push_back({i, 1.0 / double(nodes.size())});
  CHECK(carry.u(mean) == Approx(std::sqrt(mean_square)).epsilon(0.06));  // one motion for all: it does not average out
}

TEST_CASE("Where the gap is the same all over, carrying costs nothing") {
  Record a = record(kPlaces, 0.05), b = a;
  for (auto* r : {&a, &b})
    for (auto& n : r->gap.nodes) n.gap = 3;
  const auto drift = history::drift_of(carried_face(), a, b);
  CHECK(drift.carry.u({{20, 1.0}}) == 0);
}

TEST_CASE("With fewer than three common targets the halves' own registration stands in") {
  Record a = record({kPlaces[0], kPlaces[1]}, 0.05), b = a;
  for (auto* r : {&a, &b}) r->gap.registration.diagonal() << 1e-4, 1e-4, 1e-4, 0, 0, 0;
  const auto carry = history::frame_transform(carried_face(), a, b);
  CHECK(carry.targets == 0);
  // Far from the hump only the wedge slopes: 0.02 × √2 × 0.01 mm.
  int far = 0;
  while ((carried_face().mesh.points[far] - Vec3(-100, -50, 0)).norm() > 1e-9) ++far;
  CHECK(carry.u({{far, 1.0}}) == Approx(0.02 * std::sqrt(2.0) * 0.01).epsilon(0.1));
}
