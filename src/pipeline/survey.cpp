#include "gapfront/survey.hpp"

#include <Eigen/Eigenvalues>
#include <algorithm>
#include <cmath>

#include "core/linear.hpp"
#include "core/statistics.hpp"
#include "gapfront/align.hpp"
#include "gapfront/error.hpp"
#include "gapfront/inspection.hpp"
#include "gapfront/units.hpp"
#include "pipeline/by_readings.hpp"
#include "pipeline/features.hpp"
#include "pipeline/halves.hpp"

namespace gapfront::pipeline {
namespace {

/// At most `most` points, evenly through the file (scans are stored in no particular order of place).
std::vector<Vec3> thinned(const std::vector<Vec3>& points, std::size_t most) {
  const std::size_t step = std::max<std::size_t>(1, points.size() / most);
  std::vector<Vec3> out;
  for (std::size_t i = 0; i < points.size(); i += step) out.push_back(points[i]);
  return out;
}

struct Facing {
  bool closed = false;
  double gap = 0;
};

/// Distance of a place from the face that the points near `at` carry, along its normal: from point to point it would be
/// wider by what points stand apart. Negative where they carry none.
double to_face(const Surface& face, const Vec3& place, const Vec3& at) {
  // Some twenty points, which say which way the face looks; the fit does the rest.
  Vec3 mean = Vec3::Zero();
  const auto near = face.within(at, 2.6 * face.spacing());
  for (const int i : near) mean += face.points()[i] / double(near.size());
  if (near.size() < 4) return -1;
  Eigen::Matrix3d scatter = Eigen::Matrix3d::Zero();
  for (const int i : near) scatter += (face.points()[i] - mean) * (face.points()[i] - mean).transpose();
  Eigen::SelfAdjointEigenSolver<Eigen::Matrix3d> axes;
  axes.computeDirect(scatter);
  const Vec3 n = axes.eigenvectors().col(0), hint = n.dot(place - mean) < 0 ? Vec3(-n) : n;
  const LocalFit fit = cavity::fit_local(face, place, hint, 0);
  return fit.ok ? (place - fit.point).norm() : -1;
}

/// Face to face: most points of the upper half have a point of the lower half nearby, no nearer than a cavity is
/// thin. Distances under 0.5 mm are taken for mating flanges and left out of the guess; a distance over 5 % of the
/// tool's size, and no longer than points stand apart, is no cavity.
Facing facing(const Surface& lower, const std::vector<Vec3>& upper, double size) {
  std::vector<double> d;
  std::size_t near = 0, all = 0;
  // The middle of a square of points is 0.71 spacings from its corners.
  const double reach = 0.05 * size + 0.71 * lower.spacing();
  for (const auto& p : thinned(upper, 2000)) {  // 2000: a median good to about 2 % of its spread
    ++all;
    const Surface::Found nearest = lower.nearest(p);
    if (nearest.distance > reach) continue;
    ++near;
    if (const double x = to_face(lower, p, nearest.point); x >= 0.5 && x < 0.05 * size) d.push_back(x);
  }
  Facing out;
  if (near < 0.6 * all || d.size() < 0.2 * all) return out;
  out.closed = true;
  out.gap = std::max(0.1, std::round(10 * median(std::move(d))) / 10);
  return out;
}

std::string unit_name(double mm) {
  for (const auto& name : length_units())
    if (*length_unit(name) == mm) return name;
  return "mm";
}

void scale(SurveyedScan& s, double factor) {
  for (Vec3& p : s.scan.cloud.points) p *= factor;
  s.scan.unit *= factor;
  s.clean.spacing *= factor, s.clean.noise *= factor;
  s.facts.spacing *= factor, s.facts.noise *= factor;
  s.facts.low *= factor, s.facts.high *= factor;
  for (ScanFeature& f : s.scan.features)
    for (Vec3& p : f.points) p *= factor;
  for (auto& h : s.facts.holes) h.centre *= factor, h.area *= factor * factor;
}

Surface surface_in(const SurveyedScan& s, const Rigid& motion) {
  std::vector<Vec3> points = s.scan.cloud.points;
  for (Vec3& p : points) p = motion * p;
  return Surface(std::move(points), {.spacing = s.clean.spacing, .noise = s.clean.noise});
}

/// Origin in the middle of the line, Z out of the flange, X along the line's longer extent.
Rigid frame_on(const SealProposal& seal) {
  const Vec3 z = seal.plane_normal.normalized();
  Vec3 middle = seal.plane_at;
  Vec3 x = std::abs(z.x()) < 0.9 ? Vec3::UnitX() : Vec3::UnitY();
  if (seal.ok()) {
    // By length, not by corner: a straight side has two corners and a round one many.
    double length = 0;
    middle.setZero();
    const std::size_t n = seal.line.size();
    for (std::size_t k = 0; k < n; ++k) {
      const Vec3 &a = seal.line[k], &b = seal.line[(k + 1) % n];
      middle += (b - a).norm() * (a + b) / 2, length += (b - a).norm();
    }
    middle /= length;
    Eigen::Matrix3d scatter = Eigen::Matrix3d::Zero();
    for (std::size_t k = 0; k < n; ++k) {
      const Vec3 &a = seal.line[k], &b = seal.line[(k + 1) % n];
      const Vec3 d = (a + b) / 2 - middle;
      scatter += (b - a).norm() * d * d.transpose();
    }
    const Vec3 along = spectrum_of(scatter).eigenvectors().col(2);
    // Of the two senses, the one that goes with the scan's own axes.
    int largest = 0;
    along.cwiseAbs().maxCoeff(&largest);
    x = along[largest] < 0 ? Vec3(-along) : along;
  }
  x = (x - z * z.dot(x)).normalized();
  Rigid tool = Rigid::Identity();
  tool.linear() << x.transpose(), z.cross(x).transpose(), z.transpose();
  tool.translation() = -(tool.linear() * middle);
  return tool;
}

SealProposal carried(SealProposal seal, const Rigid& motion) {
  for (Vec3& p : seal.line) p = motion * p;
  seal.plane_at = motion * seal.plane_at;
  seal.plane_normal = motion.linear() * seal.plane_normal;
  return seal;
}

/// 1.5 diameters: the ball and the seat it stands in.
std::vector<Mask> around(const std::vector<Target>& balls) {
  std::vector<Mask> out;
  for (const Target& t : balls)
    if (t.lower && t.ball) out.push_back({t.name, t.lower->at, 1.5 * *t.ball});
  return out;
}

SurveyedScan surveyed(Scan scan, const Progress& progress) {
  SurveyedScan s;
  s.scan = std::move(scan);
  if (s.scan.cloud.points.empty()) throw Error(Fault::input, s.scan.path + ": no usable points; export the scan again");
  s.clean = scan::clean(s.scan, {}, progress);
  s.facts = scan::look(s.scan, s.clean, progress);
  if (!s.scan.unit_declared)
    if (const auto likely = length_unit(s.facts.likely_unit); likely && *likely != 1) scale(s, *likely);
  s.unit = unit_name(s.scan.unit);
  const Sampling sampling{.spacing = s.clean.spacing, .noise = s.clean.noise};
  s.balls = align::search_balls(s.scan.cloud.points, sampling);
  s.dowels = align::search_dowels(s.scan.cloud.points, sampling);
  return s;
}

}  // namespace

SurveyedScan survey_scan(const std::filesystem::path& file, const ReadOptions& read, const Progress& progress) {
  return surveyed(scan::read_scan(file, read, progress), progress);
}

Survey survey_pair(const std::filesystem::path& lower, const std::filesystem::path& upper, const ReadOptions& read,
                   const Progress& progress) {
  SurveyedScan low = survey_scan(lower, read, progress);
  return survey_pair(std::move(low), survey_scan(upper, read, progress));
}

Survey survey_pair(SurveyedScan lower, SurveyedScan upper) {
  Survey s;
  s.lower = std::move(lower), s.upper = std::move(upper);
  scan::check_pair(s.lower.scan, s.upper.scan);
  const BallPairs pairs = align::pair_balls(s.lower.balls, s.upper.balls);
  s.matches = pairs.ways, s.balls = pairs.targets;
  pair_features(s);
  const Surface low = surface_in(s.lower, Rigid::Identity());
  const double size = (s.lower.facts.high - s.lower.facts.low).norm();
  if (const Facing f = facing(low, s.upper.scan.cloud.points, size); f.closed) {
    s.face_to_face = s.closed = true, s.gap = f.gap, s.datum.clear();
    // Balls that are not at the same place in both are no part of how these scans lie.
    const auto apart = [](const Target& t) { return (t.lower->at - t.upper->at).norm() > 1; };
    if (std::any_of(s.balls.begin(), s.balls.end(), apart)) s.balls.clear();
  } else if (!s.balls.empty() || !s.datum.empty()) {
    try {
      const Alignment a = align::register_halves(s.lower.scan, s.upper.scan, closing_options(s),
                                                 {.lower = s.lower.clean.noise, .upper = s.upper.clean.noise});
      s.closing = a.lower_to_tool.motion.inverse() * a.upper_to_tool.motion, s.ball_misfit = a.fit_rms, s.closed = true;
      if (!s.datum.empty()) s.to_tool = a.lower_to_tool.motion;
    } catch (const Error& e) {
      if (e.fault == Fault::cancelled) throw;
      s.why_open = Message("list.plain", {arg::name(e.what())});
    }
  } else if (s.matches > 1) {
    s.why_open = Message("survey.balls-match-ways", {arg::number(s.matches)});
  } else {
    s.why_open = Message("survey.no-three-match", {arg::number(static_cast<double>(s.lower.balls.size())),
                                                   arg::number(static_cast<double>(s.upper.balls.size()))});
  }
  if (!s.closed) return s;
  s.dowels = align::pair_dowels(s.lower.dowels, s.upper.dowels, s.closing);
  const Surface up = surface_in(s.upper, s.closing);
  if (!s.face_to_face) s.gap = facing(low, up.points(), size).gap;
  const auto masks = around(s.balls);
  if (!s.datum.empty()) {  // the tool frame is the datum system's
    s.seal = cavity::propose_seal_in_frame(surface_in(s.lower, s.to_tool), surface_in(s.upper, s.to_tool * s.closing),
                                           masks);
    return s;
  }
  s.seal = s.face_to_face ? cavity::propose_seal_in_frame(low, up, masks) : cavity::propose_seal(low, up, masks);
  if (!s.face_to_face && s.seal.plane_normal.norm() > 0) {
    s.to_tool = frame_on(s.seal), s.framed = true;
    s.seal = carried(s.seal, s.to_tool);
  }
  return s;
}

Survey survey_job(const Job& job, const Progress& progress) {
  // A job's scans without a unit are in mm; only a scan without a job is guessed at.
  const auto read = [&](const HalfInput& half) {
    HalfScans scans =
        read_half(half, [&](const std::filesystem::path& file) { return scan::read_scans(file, half.read, progress); });
    scans.first.unit_declared = true;
    if (scans.further.empty()) return surveyed(std::move(scans.first), progress);
    return surveyed(align::join_patches(std::move(scans.first), std::move(scans.further), progress).scan, progress);
  };
  Survey s;
  s.lower = read(job.lower);
  // Of readings alone there is no upper scan; the stand-in says which side it is on.
  s.by_readings = by_readings_alone(job);
  s.upper = s.by_readings ? surveyed(upper_stand_in(s.lower.scan, job), progress) : read(job.upper);
  scan::check_pair(s.lower.scan, s.upper.scan);
  const BallPairs pairs = align::pair_balls(s.lower.balls, s.upper.balls);
  s.matches = pairs.ways, s.balls = pairs.targets;
  pair_features(s);
  try {
    std::vector<ExtraInput> unused;
    NominalFiles files = read_nominal_files(job, false, unused);
    AlignOptions options = job.align;
    if (files.lower) options.nominal_lower = std::move(files.lower);
    if (files.upper) options.nominal_upper = std::move(files.upper);
    const Alignment a = align::register_halves(s.lower.scan, s.upper.scan, options,
                                               {.lower = s.lower.clean.noise, .upper = s.upper.clean.noise}, progress);
    s.to_tool = a.lower_to_tool.motion, s.closing = s.to_tool.inverse() * a.upper_to_tool.motion;
    s.ball_misfit = a.fit_rms, s.closed = true;
  } catch (const Error& e) {
    if (e.fault == Fault::cancelled) throw;
    s.why_open = Message("list.plain", {arg::name(e.what())});
    return s;
  }
  if (s.by_readings) return s;  // no gap and no seal line can be seen on a stand-in
  const Surface low = surface_in(s.lower, s.to_tool), up = surface_in(s.upper, s.to_tool * s.closing);
  s.gap = facing(low, up.points(), (s.lower.facts.high - s.lower.facts.low).norm()).gap;
  std::vector<Target> placed = s.balls;
  for (Target& t : placed) t.lower->at = s.to_tool * t.lower->at;
  s.seal = cavity::propose_seal_in_frame(low, up, around(placed));
  return s;
}

std::string draft_job(const std::filesystem::path& lower, const std::filesystem::path& upper,
                      const std::filesystem::path& relative_to) {
  return draft_job(survey_pair(lower, upper), relative_to);
}

}  // namespace gapfront::pipeline
