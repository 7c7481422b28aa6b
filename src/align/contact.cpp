#include "align/contact.hpp"

#include <Eigen/Eigenvalues>
#include <Eigen/LU>
#include <algorithm>
#include <array>
#include <cmath>

#include "core/distributions.hpp"
#include "core/rigid_motion.hpp"

namespace gapfront::align {
namespace {

// A place within three sigma of contact counts as carrying: of places that do carry, 1 in 740 is left out.
constexpr double kCarry = 3;
// Farther than any land moves: a rest at this distance means that nothing holds the body there, mm.
constexpr double kFar = 1e4;

/// Deepest that one of n honest places looks to be entered: once in a hundred closures is any of them beyond.
double deepest_noise(std::size_t n) { return normal_limit(0.01 / double(n)); }

struct Rest {
  Vec3 motion = Vec3::Zero();
  Eigen::Matrix3d covariance = Eigen::Matrix3d::Zero();
  std::vector<int> carrying;
  bool settled = false;
};

/// Places within three sigma of contact, or entered, fitted by least squares until the same ones carry again.
Rest averaged(const std::vector<ContactPlace>& places, Vec3 motion) {
  Rest rest;
  double chi2 = 0;
  for (int round = 0; round < 30; ++round) {
    std::vector<int> carrying;
    Eigen::Matrix3d information = Eigen::Matrix3d::Zero();
    Vec3 pull = Vec3::Zero();
    chi2 = 0;
    for (std::size_t i = 0; i < places.size(); ++i) {
      const ContactPlace& p = places[i];
      const double left = p.clearance + p.row.dot(motion), w = 1 / (p.u * p.u);
      if (p.rough || left > kCarry * p.u) continue;
      carrying.push_back(static_cast<int>(i));
      information += w * p.row * p.row.transpose();
      pull += w * left * p.row;
      chi2 += w * left * left;
    }
    rest.settled = round > 0 && carrying == rest.carrying;
    if (rest.settled) break;
    rest.carrying = carrying;
    const Eigen::FullPivLU<Eigen::Matrix3d> solver(information);
    // Only rough places, or too few: the rest stays where they hold it, known to the roughest of them.
    if (!solver.isInvertible()) {
      double u = 0;
      for (const ContactPlace& p : places) u = std::max(u, p.u);
      rest.motion = motion, rest.settled = true;
      rest.covariance = u * u * Eigen::Matrix3d::Identity();
      return rest;
    }
    rest.covariance = solver.inverse();
    motion -= rest.covariance * pull;
    // One place that comes and goes is no matter: a tenth of the motion's own uncertainty.
    rest.settled = pull.dot(rest.covariance * pull) < 0.01;
  }
  rest.motion = motion;
  const double dof = static_cast<double>(rest.carrying.size()) - 3;
  if (dof > 0 && chi2 > chi2_limit(dof, 3))
    rest.covariance *= chi2 / dof;  // Birge ratio: the lands are less even than the noise explains
  return rest;
}

}  // namespace

bool lowest_point(const Vec3& load, const std::vector<Vec3>& rows, const std::vector<double>& bounds, double far,
                  Vec3& q) {
  // Three walls at −far in the load's directions are a dual-feasible start: the load is a positive sum of their rows.
  struct Held {
    Vec3 row;
    double bound;
    int index;
  };
  std::array<Held, 3> base;
  for (int k = 0; k < 3; ++k) base[k] = {(load(k) < 0 ? -1 : 1) * Vec3::Unit(k), -far, -1};
  // Each pivot raises the lowest point; a few tens are usual, and the limit only stops a dance of rounding.
  for (int pivot = 0; pivot < 1000; ++pivot) {
    Eigen::Matrix3d a;
    Vec3 b;
    for (int k = 0; k < 3; ++k) a.row(k) = base[k].row.transpose(), b(k) = base[k].bound;
    const Eigen::FullPivLU<Eigen::Matrix3d> lu(a);
    q = lu.solve(b);
    int worst = -1;
    double depth = 1e-10 * (1 + q.norm());  // what the small solves leave
    for (std::size_t i = 0; i < rows.size(); ++i)
      if (const double d = bounds[i] - rows[i].dot(q); d > depth) worst = static_cast<int>(i), depth = d;
    if (worst < 0) break;
    // The entering row as a sum of the three held; the one that leaves keeps all multipliers of the load positive.
    const Eigen::FullPivLU<Eigen::Matrix3d> dual(a.transpose());
    const Vec3 multiplier = dual.solve(load), coefficient = dual.solve(rows[worst]);
    int leaves = -1;
    double minimum = 0;
    for (int k = 0; k < 3; ++k) {
      if (coefficient(k) <= 1e-12) continue;
      const double ratio = std::max(0.0, multiplier(k)) / coefficient(k);
      if (leaves < 0 || ratio < minimum) leaves = k, minimum = ratio;
    }
    if (leaves < 0) return false;
    base[leaves] = {rows[worst], bounds[worst], worst};
  }
  return base[0].index >= 0 && base[1].index >= 0 && base[2].index >= 0;
}

ContactFit set_down(const std::vector<ContactPlace>& places, double load_play) {
  const double deepest = deepest_noise(places.size());
  std::vector<Vec3> rows;
  std::vector<double> bounds;
  Vec3 centre = Vec3::Zero();
  for (const ContactPlace& p : places) {
    rows.push_back(p.row);
    bounds.push_back(-deepest * p.u - p.clearance);
    centre += p.row / places.size();
  }
  ContactFit fit;
  std::vector<Rest> rests;
  // Centre, then two rings of eight: enough to meet every rest whose share of the load's play is above a tenth.
  for (int k = 0; k < 17; ++k) {
    const double turn = 2 * M_PI * k / 8, far = k == 0 ? 0 : k <= 8 ? load_play : load_play / 2;
    Vec3 motion;
    if (!lowest_point(centre + far * Vec3(0, std::cos(turn), std::sin(turn)), rows, bounds, kFar, motion)) {
      fit.tips = true;
      return fit;
    }
    rests.push_back(averaged(places, motion));
    fit.settled = fit.settled && rests.back().settled;
  }
  fit.carrying = rests.front().carrying;
  // The two rests that differ most, over all places. Rests that differ by less than their noise are one rest.
  std::size_t one = 0, other = 0;
  for (std::size_t a = 0; a < rests.size(); ++a)
    for (std::size_t b = 0; b < a; ++b) {
      const Vec3 apart = rests[a].motion - rests[b].motion;
      const Eigen::Matrix3d noise = rests[a].covariance + rests[b].covariance;
      for (std::size_t i = 0; i < places.size(); ++i)
        if (const double d = std::abs(rows[i].dot(apart));
            d > fit.rock && d > 6 * std::sqrt(rows[i].dot(noise * rows[i])))
          fit.rock = d, fit.rock_place = static_cast<int>(i), one = a, other = b;
    }
  if (fit.rock > 0) {  // anywhere between the two: half their difference squared over three (GUM 4.3.7)
    const Vec3 apart = rests[one].motion - rests[other].motion;
    fit.motion = (rests[one].motion + rests[other].motion) / 2;
    fit.covariance = (rests[one].covariance + rests[other].covariance) / 2 + apart * apart.transpose() / 12;
    return fit;
  }
  for (const Rest& r : rests) fit.motion += r.motion / rests.size();
  for (const Rest& r : rests) {
    const Vec3 off = r.motion - fit.motion;
    fit.covariance += (r.covariance + off * off.transpose()) / rests.size();
  }
  return fit;
}

}  // namespace gapfront::align
