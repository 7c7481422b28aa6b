#include "gapfront/readings.hpp"
#include <Eigen/Cholesky>
#include <Eigen/Geometry>
#include <algorithm>
#include <cmath>
#include <limits>
#include "cavity/sheet_field.hpp"
#include "core/area_mean.hpp"
#include "core/linear.hpp"
#include "core/triangle_tree.hpp"
#include "gapfront/error.hpp"

namespace gapfront::cavity {
namespace {

using Weights = Eigen::SparseMatrix<double, Eigen::RowMajor>;

// The field's length is looked for from where the elements resolve it to where it is a plane over the sheet; its size
// from a twentieth of what the readings show (or of their u) to five times that. Grids that are finer by half change U
// by less than 2 % (measured on the test's molds).
constexpr int kLengths = 7, kSizes = 15;
constexpr double kEdges = 3, kSheets = 1.5, kSmallest = 0.05, kLargest = 5;
// What is less likely by e⁻⁸ changes no figure.
constexpr double kUnlikely = 8;
// A constant that nothing is known of, mm: far beyond any gap, near enough for the arithmetic.
constexpr double kAnything = 100;
constexpr int kLeastAlone = 5, kLeastBeside = 2;

/// Readings on the sheet: y = weights · (H β + field) + error, β and the field's scale standard normal.
struct Observed {
  Weights weights;        // a row per reading, over the nodes
  Eigen::VectorXd y, r;   // what was read beyond the prior, and the variance of its error, mm, mm²
  Eigen::MatrixXd basis;  // H: per node, columns of standard deviation
};

/// What is known of the sum at each node.
struct Posterior {
  Eigen::VectorXd mean, variance;
  double length = 0, sigma = 0;  // most likely
};

/// Averages over length and size by their likelihood, as they come: weights relative to the most likely so far.
class Average {
 public:
  explicit Average(Eigen::Index n) : first_(Eigen::VectorXd::Zero(n)), second_(first_) {}
  bool matters(double log_weight) const { return log_weight > most_ - kUnlikely; }
  void add(double log_weight, const Eigen::VectorXd& mean, const Eigen::VectorXd& variance) {
    if (log_weight > most_) {
      const double less = std::exp(most_ - log_weight);
      first_ *= less, second_ *= less, sum_ *= less, most_ = log_weight;
    }
    const double w = std::exp(log_weight - most_);
    sum_ += w, first_ += w * mean, second_ += w * (variance + mean.cwiseAbs2());
  }
  Posterior result() const {
    const Eigen::VectorXd mean = first_ / sum_;
    return {mean, (second_ / sum_ - mean.cwiseAbs2()).cwiseMax(0)};
  }

 private:
  Eigen::VectorXd first_, second_;
  double sum_ = 0, most_ = -std::numeric_limits<double>::infinity();
};

double spread_of(const Observed& o) {
  const double mean = o.y.mean();
  return std::sqrt(std::max((o.y.array() - mean).square().mean(), o.r.mean()));
}

double size_of(const Mesh& mesh) {
  Eigen::AlignedBox3d box;
  for (const Vec3& p : mesh.points) box.extend(p);
  return box.diagonal().norm();
}

/// As `field_correlations`, by the straight distance: Matérn of order 1, κd K₁(κd) with κ = √8/length (as there).
Eigen::MatrixXd straight_correlations(const Sheet& sheet, const Weights& places, double length) {
  Eigen::MatrixXd out(places.cols(), places.rows());
  for (Eigen::Index k = 0; k < places.rows(); ++k) {
    Vec3 at = Vec3::Zero();
    for (Weights::InnerIterator w(places, k); w; ++w) at += w.value() * sheet.mesh.points[std::size_t(w.col())];
    for (Eigen::Index i = 0; i < places.cols(); ++i) {
      const double x = std::sqrt(8.0) / length * (sheet.mesh.points[std::size_t(i)] - at).norm();
      out(i, k) = x < 1e-6 ? 1 : x > 30 ? 0 : x * std::cyl_bessel_k(1.0, x);
    }
  }
  return out;
}

Posterior solve(const Sheet& sheet, const Observed& o, Distance distance = Distance::along_sheet) {
  const bool along = distance == Distance::along_sheet;
  const Elements elements = along ? elements_of(sheet.mesh) : Elements();
  const double shortest = kEdges * sheet.edge_p50, longest = std::max(kSheets * size_of(sheet.mesh), 2 * shortest);
  const double spread = spread_of(o);
  const Eigen::MatrixXd basis_there = o.weights * o.basis;
  const Eigen::MatrixXd known = basis_there * basis_there.transpose() + Eigen::MatrixXd(o.r.asDiagonal());
  const Eigen::MatrixXd known_with = o.basis * basis_there.transpose();
  const Eigen::VectorXd known_variance = o.basis.rowwise().squaredNorm();
  Average average(o.basis.rows());
  double best = -std::numeric_limits<double>::infinity(), best_length = 0, best_sigma = 0;
  for (int a = 0; a < kLengths; ++a) {
    const double length = shortest * std::pow(longest / shortest, double(a) / (kLengths - 1));
    const Eigen::MatrixXd with =
        along ? field_correlations(elements, o.weights, length) : straight_correlations(sheet, o.weights, length);
    const Eigen::MatrixXd among = o.weights * with;
    for (int b = 0; b < kSizes; ++b) {
      const double sigma = spread * kSmallest * std::pow(kLargest / kSmallest, double(b) / (kSizes - 1));
      const Eigen::LLT<Eigen::MatrixXd> llt(known + sigma * sigma * among);
      const Eigen::VectorXd alpha = llt.solve(o.y);
      const double likelihood = -0.5 * o.y.dot(alpha) - Eigen::MatrixXd(llt.matrixL()).diagonal().array().log().sum();
      if (likelihood > best) best = likelihood, best_length = length, best_sigma = sigma;
      const double weight = likelihood;  // beforehand all lengths and sizes alike, by their logarithms
      if (!average.matters(weight)) continue;
      const Eigen::MatrixXd k = known_with + sigma * sigma * with;
      const Eigen::VectorXd gone = llt.matrixL().solve(k.transpose()).colwise().squaredNorm();
      average.add(weight, k * alpha, ((known_variance.array() + sigma * sigma).matrix() - gone).cwiseMax(0));
    }
  }
  Posterior out = average.result();
  out.length = best_length, out.sigma = best_sigma;
  return out;
}

/// The readings that lie on the sheet, as weights over the nodes; `usable` says of each node whether it may carry one.
struct Laid {
  std::vector<const SpotReading*> readings;
  Weights weights;
  ReadingsField field;
};

Laid lay(const Sheet& sheet, const std::vector<SpotReading>& readings, const std::vector<char>& usable) {
  Laid out;
  const TriangleTree tree(sheet.mesh);
  std::vector<Eigen::Triplet<double>> entries;
  for (const SpotReading& r : readings) {
    if (!r.at.allFinite() || !(r.thickness > 0) || !std::isfinite(r.thickness) || !(r.U > 0) || !std::isfinite(r.U))
      throw Error(Fault::input, "reading " + r.name + ": its place, thickness or U is no positive number; correct it");
    const auto hit = tree.nearest(r.at);
    const auto& t = sheet.mesh.triangles[hit.triangle];
    const Vec3 &p = sheet.mesh.points[t[0]], &q = sheet.mesh.points[t[1]], &s = sheet.mesh.points[t[2]];
    const Vec3 n = (q - p).cross(s - p);
    // It may be placed on either face: two edges, as spot readings are found.
    const double reach = 2 * std::max({(q - p).norm(), (s - q).norm(), (p - s).norm()});
    double w[3] = {(s - q).cross(hit.point - q).dot(n), (p - s).cross(hit.point - s).dot(n),
                   (q - p).cross(hit.point - p).dot(n)};
    double sum = 0;
    for (int k = 0; k < 3; ++k) w[k] = usable[t[k]] ? std::max(0.0, w[k]) : 0, sum += w[k];
    if (hit.distance > reach || !(sum > 0)) {
      out.field.left_out.push_back(r.name);
      continue;
    }
    for (int k = 0; k < 3; ++k)
      if (w[k] > 0) entries.emplace_back(int(out.readings.size()), t[k], w[k] / sum);
    out.readings.push_back(&r);
  }
  out.field.used = int(out.readings.size());
  out.weights.resize(out.field.used, Eigen::Index(sheet.size()));
  out.weights.setFromTriplets(entries.begin(), entries.end());
  return out;
}

double farthest_from(const Sheet& sheet, const std::vector<const SpotReading*>& readings) {
  double most = 0;
  for (const Vec3& p : sheet.mesh.points) {
    double nearest = std::numeric_limits<double>::infinity();
    for (const SpotReading* r : readings) nearest = std::min(nearest, (p - r->at).squaredNorm());
    most = std::max(most, nearest);
  }
  return std::sqrt(most);
}

[[noreturn]] void too_few(int used, int least) {
  throw Error(Fault::measurement, "readings: only " + std::to_string(used) + " of them lie on the sheet; at least " +
                                      std::to_string(least) + " are needed: check their places and the unit");
}

void finish(Laid& laid, const Sheet& sheet, const Posterior& p) {
  laid.field.length = p.length, laid.field.sigma = p.sigma;
  laid.field.farthest = farthest_from(sheet, laid.readings);
}

}  // namespace

ReadingsMap map_by_readings(const Sheet& sheet, const std::vector<double>& nominal,
                            const std::vector<SpotReading>& readings, double coverage) {
  if (nominal.size() != sheet.size())
    throw Error(Fault::input, "readings: the nominal gap belongs to another sheet; give one value per node");
  const auto n = Eigen::Index(sheet.size());
  Laid laid = lay(sheet, readings, std::vector<char>(sheet.size(), 1));
  if (laid.field.used < kLeastAlone) too_few(laid.field.used, kLeastAlone);
  Observed o{laid.weights, Eigen::VectorXd(laid.field.used), Eigen::VectorXd(laid.field.used),
             Eigen::MatrixXd::Constant(n, 1, kAnything)};
  const Eigen::VectorXd nominal_there = laid.weights * Eigen::Map<const Eigen::VectorXd>(nominal.data(), n);
  for (int k = 0; k < laid.field.used; ++k) {
    o.y[k] = laid.readings[k]->thickness - nominal_there[k];
    o.r[k] = std::pow(laid.readings[k]->U / coverage, 2);
  }
  const Posterior p = solve(sheet, o);
  finish(laid, sheet, p);
  ReadingsMap out;
  out.field = laid.field;
  out.gap.coverage = coverage;
  out.gap.nodes.resize(sheet.size());
  for (Eigen::Index i = 0; i < n; ++i) {
    NodeGap& g = out.gap.nodes[i];
    g.measured = !is_masked(sheet, i);
    g.gap = g.along_normal = nominal[i] + p.mean[i];
    g.direction = sheet.normals[i], g.mid = sheet.mesh.points[i] + 0.5 * g.gap * g.direction;
    // Neighbours err alike over the field's length: common to all of a mean, which is never too little.
    g.u_instrument = std::sqrt(p.variance[i]), g.U = coverage * g.u_instrument;
  }
  return out;
}

ReadingsField update_by_readings(const Sheet& sheet, GapMap& map, const std::vector<SpotReading>& readings,
                                 Distance distance) {
  if (map.nodes.size() != sheet.size())
    throw Error(Fault::input, "readings: the gap map belongs to another sheet; measure the gap on this one");
  const auto n = Eigen::Index(sheet.size());
  std::vector<char> usable(sheet.size());
  Eigen::VectorXd gap(n), fits(n);
  // What all of the map may be off by: registration by its covariance (or as one number), instrument, temperature.
  Eigen::MatrixXd basis = Eigen::MatrixXd::Zero(n, 9 + map.shapes.cols());
  const Matrix6 root = root_of(map.registration);
  for (Eigen::Index i = 0; i < n; ++i) {
    const NodeGap& g = map.nodes[i];
    usable[i] = g.measured, gap[i] = g.measured ? g.gap : 0;
    fits[i] = std::pow(g.u_lower, 2) + std::pow(g.u_upper, 2);
    if (!g.measured) continue;
    if (map.registration.isZero())
      basis(i, 6) = g.u_registration;
    else
      basis.row(i).head<6>() = registration_row(sheet, map, int(i)).transpose() * root;
    basis(i, 7) = map.common_instrument(std::size_t(i)), basis(i, 8) = g.u_temperature;
    if (map.shapes.cols() > 0) basis.row(i).tail(map.shapes.cols()) = map.shapes.row(i);
  }
  Laid laid = lay(sheet, readings, usable);
  if (laid.field.used < kLeastBeside) too_few(laid.field.used, kLeastBeside);
  Observed o{laid.weights, Eigen::VectorXd(laid.field.used), Eigen::VectorXd(laid.field.used), std::move(basis)};
  const Eigen::VectorXd gap_there = laid.weights * gap, fits_there = laid.weights * fits;
  for (int k = 0; k < laid.field.used; ++k) {
    o.y[k] = laid.readings[k]->thickness - gap_there[k];
    o.r[k] = std::pow(laid.readings[k]->U / map.coverage, 2) + fits_there[k];
  }
  const Posterior p = solve(sheet, o, distance);
  finish(laid, sheet, p);
  for (Eigen::Index i = 0; i < n; ++i) {
    NodeGap& g = map.nodes[i];
    if (!g.measured) continue;
    g.gap += p.mean[i], g.along_normal += p.mean[i], g.mid += 0.5 * p.mean[i] * g.direction;
    g.u_registration = g.u_temperature = 0, g.u_instrument = std::sqrt(p.variance[i]);
    g.U = map.coverage * std::sqrt(fits[i] + p.variance[i]);
  }
  map.registration.setZero(), map.shapes.resize(0, 0);  // it is in what the readings left open
  return laid.field;
}

}  // namespace gapfront::cavity
