#include "align/long_errors.hpp"

#include <Eigen/Cholesky>
#include <Eigen/LU>
#include <algorithm>
#include <array>
#include <cmath>

#include "align/target_test.hpp"
#include "core/distributions.hpp"

namespace gapfront::align {
namespace {

// Lengths tried, of the targets' greatest distance. Shorter ones leave targets independent, as the shortest nearly
// does; longer ones bend too little between them to be told.
constexpr std::array<double, 4> kLengthsOfSize{0.15, 0.3, 0.6, 1.0};
// Sizes tried: from a fifth of the residuals' RMS to ten times it, for a long field hides most of itself in the fit.
constexpr int kSizes = 30;
constexpr double kLeastOfRms = 0.2, kMostOfRms = 10;
constexpr double kBeyondChance = 3;  // sigma: one false alarm in 740 jobs
// Lands carry in thousands of places; so many stand for them.
constexpr std::size_t kLandSupports = 60;

/// A target that both scans show and that the fit used.
struct Used {
  Vec3 at, miss;          ///< tool frame; upper − lower after the fit
  Eigen::Matrix3d cov;    ///< of the miss, with the fields in it
  bool from_scan = true;  ///< both places were found in the scans
};

std::vector<Used> used_of(const std::vector<LocatedTarget>& targets, const TargetFit& fit,
                          const ScanToTool& lower_to_tool) {
  std::vector<Used> out;
  const Eigen::Matrix3d up = fit.fit.motion.linear(), low = lower_to_tool.motion.linear();
  for (const LocatedTarget& t : targets) {
    if (!t.lower || !t.upper || std::count(fit.left_out.begin(), fit.left_out.end(), t.name) > 0) continue;
    const Vec3 at = lower_to_tool * ScanPlace{t.lower->at};
    out.push_back({at, fit.fit.motion * t.upper->at - at,
                   up * t.upper->cov * up.transpose() + low * t.lower->cov * low.transpose(),
                   !t.lower->declared && !t.upper->declared});
  }
  return out;
}

/// Restricted log-likelihood of the misses under own covariances and a field, the closed position fitted.
double likelihood(const std::vector<Used>& used, double own_less, const Vec3& pivot, double variance, double length) {
  const auto n = Eigen::Index(used.size());
  Eigen::MatrixXd v = Eigen::MatrixXd::Zero(3 * n, 3 * n), j(3 * n, 6);
  Eigen::VectorXd d(3 * n);
  for (Eigen::Index a = 0; a < n; ++a) {
    d.segment<3>(3 * a) = used[a].miss;
    j.middleRows<3>(3 * a) = motion_jacobian(used[a].at, pivot);
    v.block<3, 3>(3 * a, 3 * a) = used[a].cov - own_less * Eigen::Matrix3d::Identity();
    for (Eigen::Index b = 0; b < n; ++b)
      v.block<3, 3>(3 * a, 3 * b) += variance *
                                     std::exp(-0.5 * (used[a].at - used[b].at).squaredNorm() / (length * length)) *
                                     Eigen::Matrix3d::Identity();
  }
  const Eigen::LLT<Eigen::MatrixXd> root(v);
  const Eigen::MatrixXd wj = root.solve(j);
  const Eigen::LLT<Eigen::MatrixXd> normal(j.transpose() * wj);
  const Eigen::VectorXd wd = root.solve(d), pull = j.transpose() * wd;
  const auto log_det = [](const Eigen::LLT<Eigen::MatrixXd>& l) {
    return 2 * l.matrixLLT().diagonal().array().log().sum();
  };
  return -0.5 * (log_det(root) + log_det(normal) + d.dot(wd) - pull.dot(normal.solve(pull)));
}

/// Posterior mean of the field's variance at each length, times the chance of that length.
std::vector<SharedNoise> posterior(const std::vector<Used>& used, double own_less, const Vec3& pivot) {
  double size = 0, rms = 0;
  for (const Used& a : used) {
    rms += a.miss.squaredNorm() / (3 * double(used.size()));
    for (const Used& b : used) size = std::max(size, (a.at - b.at).norm());
  }
  rms = std::sqrt(rms);
  struct Tried {
    std::size_t length;
    double variance, log_p;
  };
  std::vector<Tried> tried;
  double top = -1e300;
  for (std::size_t l = 0; l < kLengthsOfSize.size(); ++l)
    for (int k = 0; k < kSizes; ++k) {
      const double s = rms * kLeastOfRms * std::pow(kMostOfRms / kLeastOfRms, k / double(kSizes - 1));
      tried.push_back({l, s * s, likelihood(used, own_less, pivot, s * s, size * kLengthsOfSize[l])});
      top = std::max(top, tried.back().log_p);
    }
  std::array<double, kLengthsOfSize.size()> variance{};
  double sum = 0;
  for (const Tried& t : tried) {
    const double w = std::exp(t.log_p - top);
    sum += w, variance[t.length] += w * t.variance;
  }
  std::vector<SharedNoise> out;
  for (std::size_t l = 0; l < variance.size(); ++l)
    out.push_back({std::sqrt(variance[l] / sum), size * kLengthsOfSize[l]});
  return out;
}

}  // namespace

std::vector<SharedNoise> fields_between(const ScanErrors& lower, const ScanErrors& upper) {
  std::vector<SharedNoise> out = lower.fields;
  for (const SharedNoise& f : upper.fields) {
    // To a tenth of the length they are one: a field of that length has no other shape.
    const auto same = std::find_if(out.begin(), out.end(), [&](const SharedNoise& o) {
      return std::abs(o.length - f.length) <= 0.1 * std::max(o.length, f.length);
    });
    if (same == out.end())
      out.push_back(f);
    else
      same->sigma = std::hypot(same->sigma, f.sigma);
  }
  return out;
}

double field_variance(const std::vector<SharedNoise>& fields) {
  double out = 0;
  for (const SharedNoise& f : fields) out += f.sigma * f.sigma;
  return out;
}

double share_of_upper(const ScanErrors& lower, const ScanErrors& upper) {
  const double high = field_variance(upper.fields), both = field_variance(lower.fields) + high;
  return both > 0 ? high / both : 0.5;
}

const SharedNoise& stronger(const SharedNoise& a, const SharedNoise& b) { return b.sigma > a.sigma ? b : a; }

void count_fields(std::vector<LocatedTarget>& targets, double variance_of_one_half) {
  for (LocatedTarget& t : targets)
    for (auto* half : {&t.lower, &t.upper})
      if (*half && !(*half)->declared) (*half)->cov += variance_of_one_half * Eigen::Matrix3d::Identity();
}

void count_places(std::vector<LocatedTarget>& targets, const ScanErrors& lower, const ScanErrors& upper) {
  for (LocatedTarget& t : targets) {
    const auto add = [](std::optional<Located>& at, double u) {
      if (at && !at->declared) at->cov += u * u * Eigen::Matrix3d::Identity();
    };
    add(t.lower, lower.place), add(t.upper, upper.place);
  }
}

std::vector<SharedNoise> fields_by_targets(const std::vector<LocatedTarget>& targets, const TargetFit& fit,
                                           const ScanToTool& lower_to_tool, const AlignOptions& options,
                                           const std::vector<SharedNoise>& declared) {
  const std::vector<Used> used = used_of(targets, fit, lower_to_tool);
  const double dof = 3.0 * double(used.size()) - 6;
  if (used.size() < kEnoughTargets || !fit.test.declared || !(fit.fit.chi2 > chi2_limit(dof, kBeyondChance))) return {};
  if (std::any_of(used.begin(), used.end(), [](const Used& u) { return !u.from_scan; })) return {};
  if (disagree(fit.test, seat_play(fit.test, options))) return {};
  const auto seen = posterior(used, field_variance(declared), fit.fit.pivot);
  return field_variance(seen) > field_variance(declared) ? seen : std::vector<SharedNoise>();
}

std::vector<Support> supports_of(const std::vector<LocatedTarget>& targets, const TargetFit& fit,
                                 const ScanToTool& lower_to_tool) {
  const std::vector<Used> used = used_of(targets, fit, lower_to_tool);
  Matrix6 normal = Matrix6::Zero();
  for (const Used& u : used) {
    const auto j = motion_jacobian(u.at, fit.fit.pivot);
    normal += j.transpose() * u.cov.inverse() * j;
  }
  const Eigen::LDLT<Matrix6> root(normal);
  std::vector<Support> out;
  for (const Used& u : used)
    if (u.from_scan)
      out.push_back({u.at, -root.solve(motion_jacobian(u.at, fit.fit.pivot).transpose() * u.cov.inverse())});
  return out;
}

std::vector<Support> supports_of(const FlangeFit& fit) {
  std::vector<const LandPlace*> places;
  const std::size_t step = fit.carrying.size() / kLandSupports + 1;
  for (std::size_t k = 0; k < fit.carrying.size(); k += step) places.push_back(&fit.lands.places[fit.carrying[k]]);
  const LandFrame& frame = fit.lands.frame;
  // Sinking and the two turns across the axis.
  Eigen::Matrix<double, 6, 3> motions = Eigen::Matrix<double, 6, 3>::Zero();
  motions.col(0).head<3>() = frame.axis;
  motions.col(1).tail<3>() = frame.e1 / frame.size, motions.col(2).tail<3>() = frame.e2 / frame.size;
  const auto row = [&](const LandPlace& p) -> Vec3 {
    return (p.normal.transpose() * motion_jacobian(p.at, frame.centre) * motions).transpose();
  };
  Eigen::Matrix3d normal = Eigen::Matrix3d::Zero();
  for (const LandPlace* p : places) normal += row(*p) * row(*p).transpose() / (p->u * p->u);
  const Eigen::LDLT<Eigen::Matrix3d> root(normal);
  std::vector<Support> out;
  for (const LandPlace* p : places)
    out.push_back({p->at, -motions * root.solve(row(*p) / (p->u * p->u)) * p->normal.transpose()});
  return out;
}

}  // namespace gapfront::align
