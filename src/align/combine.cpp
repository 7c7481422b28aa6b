#include "align/combine.hpp"

#include <algorithm>

#include "align/flange.hpp"
#include "align/targets.hpp"
#include "core/linear.hpp"
#include "core/rigid_motion.hpp"
#include "gapfront/align.hpp"
#include "gapfront/check.hpp"
#include "gapfront/error.hpp"

namespace gapfront {

bool align::uses(const AlignOptions& options, AlignMethod method) {
  return std::find(options.methods.begin(), options.methods.end(), method) != options.methods.end();
}

void check_options(const AlignOptions& options) {
  if (options.methods.empty()) throw Error(Fault::input, "align: no method given; give \"targets\" or another");
  if (align::uses(options, AlignMethod::given) && align::uses(options, AlignMethod::nominal))
    throw Error(Fault::input,
                "align: \"given\" leaves the scans where they are and \"nominal\" moves them; choose one");
  // A cavity as wide as the stand-off would be taken for land, and its error fitted away.
  if (align::uses(options, AlignMethod::flange) && options.flange.empty() && options.stand_off > 0)
    throw Error(
        Fault::input,
        "align: with a stand-off the lands cannot be told from the cavity; give [[align.flange]] with polygon, box "
        "or path");
  if (align::uses(options, AlignMethod::datum) &&
      (align::uses(options, AlignMethod::given) || align::uses(options, AlignMethod::nominal)))
    throw Error(Fault::input,
                "align: \"datum\" lays the tool frame, and \"given\" and \"nominal\" take another; choose one of them");
  for (const DatumKind kind : {DatumKind::plane, DatumKind::line, DatumKind::point})
    if (const auto of_kind = std::count_if(options.features.begin(), options.features.end(),
                                           [&](const auto& f) { return f.kind == kind; });
        align::uses(options, AlignMethod::datum) && of_kind != 1)
      throw Error(Fault::input,
                  "align: method \"datum\" takes one feature of each kind, plane, line and point; give three "
                  "[[align.feature]] with name and kind");
  align::check_targets(options.targets);
  for (const Target& t : options.targets)
    if (t.dowel && options.stand_off > 0)
      throw Error(Fault::input, "target " + t.name +
                                    ": a dowel is taken where its axis crosses the land, and with a stand-off that is "
                                    "not one place in both halves; leave out dowel and give the places and u");
}

}  // namespace gapfront

namespace gapfront::align {
namespace {

// Eigenvalues below this share of the greatest (turns scaled to mm at 100 mm, a small tool) are silence, not knowledge:
// a factor of three million in uncertainty, a kilometre against a third of a millimetre.
constexpr double kUnobservable = 1e-13;
constexpr double kLever = 100;

struct Spectrum {
  Eigen::SelfAdjointEigenSolver<Matrix6> solver;
  Vector6 scale;
  bool observable(int k) const { return solver.eigenvalues()(k) > kUnobservable * solver.eigenvalues()(5); }
};

Spectrum knowledge_of(const Matrix6& information) {
  Spectrum s;
  s.scale << Vec3::Ones(), Vec3::Constant(1 / kLever);
  s.solver = spectrum_of(Matrix6(s.scale.asDiagonal() * information * s.scale.asDiagonal()));
  return s;
}

Matrix6 pseudo_inverse(const Matrix6& information) {
  const Spectrum s = knowledge_of(information);
  Matrix6 out = Matrix6::Zero();
  for (int k = 0; k < 6; ++k)
    if (s.observable(k)) {
      const Vector6 v = s.scale.asDiagonal() * s.solver.eigenvectors().col(k);
      out += v * v.transpose() / s.solver.eigenvalues()(k);
    }
  return out;
}

int rank_of(const Matrix6& information) {
  const Spectrum s = knowledge_of(information);
  int rank = 0;
  for (int k = 0; k < 6; ++k) rank += s.solver.eigenvalues()(5) > 0 && s.observable(k);
  return rank;
}

Vec3 middle_of_box(const std::vector<Vec3>& points) {
  if (points.empty()) return Vec3::Zero();
  Vec3 low = points.front(), high = low;
  for (const Vec3& p : points) low = low.cwiseMin(p), high = high.cwiseMax(p);
  return (low + high) / 2;
}

}  // namespace

PoseEstimate given_estimate(const std::vector<Vec3>& lower, const AlignOptions& options) {
  PoseEstimate e{"given", Rigid::Identity(), Matrix6::Zero(), middle_of_box(lower)};
  // A shift of the whole half; the turn that goes with it over half the tool's size is no larger.
  const double u = std::max(options.given_u.value_or(0), 1e-4);  // a tenth of a micrometre is exact enough
  double size = 1;
  for (const Vec3& p : lower) size = std::max(size, (p - e.pivot).norm());
  e.information.diagonal() << Vec3::Constant(1 / (u * u)), Vec3::Constant(size * size / (u * u));
  return e;
}

double max_move(const std::vector<Vec3>& lower, const Vector6& motion, const Vec3& pivot) {
  double most = 0;
  for (std::size_t i = 0, step = lower.size() / 2000 + 1; i < lower.size(); i += step)
    most = std::max(most, (motion_jacobian(lower[i], pivot) * motion).norm());
  return most;
}

Matrix6 move_information(const Matrix6& information, const Vec3& from, const Vec3& to) {
  Matrix6 back = Matrix6::Identity();  // a motion about `to` seen about `from`
  back.topRows<3>() = motion_jacobian(from, to);
  return back.transpose() * information * back;
}

Combination combine(const std::vector<PoseEstimate>& estimates, const Vec3& pivot) {
  Combination out;
  out.pivot = pivot;
  out.upper_to_tool = estimates.front().upper_to_tool;
  std::vector<Matrix6> information;
  int ranks = 0;
  for (const PoseEstimate& e : estimates) {
    information.push_back(move_information(e.information, e.pivot, pivot));
    out.information += information.back();
    ranks += rank_of(e.information);
  }
  const Matrix6 covariance = pseudo_inverse(out.information);
  std::vector<Vector6> apart(estimates.size());
  // Small motions do not quite add; the second round moves by the square of the first, the third by nothing.
  for (int round = 0; round < 4; ++round) {
    Vector6 sum = Vector6::Zero();
    for (std::size_t i = 0; i < estimates.size(); ++i) {
      apart[i] = motion_about(estimates[i].upper_to_tool * out.upper_to_tool.inverse(), pivot);
      sum += information[i] * apart[i];
    }
    if (round == 3) break;
    out.upper_to_tool = small_motion(covariance * sum, pivot) * out.upper_to_tool;
  }
  for (std::size_t i = 0; i < estimates.size(); ++i) {
    out.chi2_of.push_back(apart[i].dot(information[i] * apart[i]));
    out.chi2 += out.chi2_of.back();
    const Spectrum s = knowledge_of(information[i]);
    Vector6 along = Vector6::Zero();
    for (int k = 0; k < 6; ++k)
      if (s.observable(k)) {
        const Vector6 v = s.solver.eigenvectors().col(k);
        along += v * v.dot(s.scale.cwiseInverse().asDiagonal() * apart[i]);
      }
    out.difference.push_back(s.scale.asDiagonal() * along);
  }
  out.dof = ranks - rank_of(out.information);
  return out;
}

Message method_word(const std::string& method) {
  if (method == "targets") return Message("proof.targets");
  if (method == "flange") return Message("proof.flange");
  if (method == "nominal") return Message("proof.nominal");
  if (method == "given") return Message("proof.given");
  if (method == "datum") return Message("proof.datum");
  if (method == kDeclaredInPlane) return Message("proof.in-plane-declared");
  return Message("list.plain", {arg::name(method)});
}

}  // namespace gapfront::align
