// Poses from any start by voting with point-pair features, checked by consensus.
#include <algorithm>
#include <array>
#include <cmath>
#include <numeric>

#include "core/linear.hpp"
#include "core/parallel.hpp"
#include "core/point_tree.hpp"
#include "gapfront/error.hpp"
#include "gapfront/pose.hpp"

namespace gapfront::align {
namespace {

// Angles and turns in steps of 12°, distances in steps of a twentieth of the size: noise of some degrees in a normal
// still falls into the same or the next step (the steps of Drost et al. 2010).
constexpr double kAngle = 12 * M_PI / 180;
constexpr int kTurns = 30, kDistances = 20, kQuarter = 8, kHalf = 15;
constexpr int kCells = kDistances * kQuarter * kQuarter * kHalf;
// Points of the moving surface that vote (each alone would do if it lies on the overlap), and best poses kept of each.
constexpr int kReferences = 100, kPeaks = 4;

/// Direction n turned to +X.
Eigen::Matrix3d to_x(const Vec3& n) { return rotation_between(n, Vec3::UnitX()); }

double turn_of(const Eigen::Matrix3d& turn, const Vec3& d) {
  const Vec3 q = turn * d;
  return std::atan2(-q.z(), q.y());  // turning by this about X brings q to the half-plane z = 0, y > 0
}

struct Feature {
  int cell = -1;
  bool flipped = false;  // the first normal was turned to look along the pair
};

/// Normals have no sign of their own here: each is taken on the side of the other point.
Feature feature_of(const Vec3& a, const Vec3& na, const Vec3& b, const Vec3& nb, double step) {
  const Vec3 d = b - a;
  const double length = d.norm();
  Feature f;
  if (length < step) return f;  // too near: its angles are noise
  const double ca = na.dot(d) / length, cb = nb.dot(d) / length;
  const int distance = static_cast<int>(length / step);
  if (distance >= kDistances) return f;
  const double turn = na.dot(nb) * (ca < 0 ? -1 : 1) * (cb < 0 ? -1 : 1);
  const auto angle = [](double c) { return std::acos(std::clamp(c, -1.0, 1.0)); };
  // Two points of one plane are everywhere on a mold and say next to nothing.
  if (std::abs(ca) < 0.1 && std::abs(cb) < 0.1 && std::abs(turn) > 0.99) return f;
  const int ia = std::min(kQuarter - 1, static_cast<int>(angle(std::abs(ca)) / kAngle));
  const int ib = std::min(kQuarter - 1, static_cast<int>(angle(std::abs(cb)) / kAngle));
  const int in = std::min(kHalf - 1, static_cast<int>(angle(turn) / kAngle));
  f.cell = ((distance * kQuarter + ia) * kQuarter + ib) * kHalf + in;
  f.flipped = ca < 0;
  return f;
}

/// Every n-th, so that about `count` are left, evenly over the voxel order.
SurfacePoints picked(const SurfacePoints& s, std::size_t count) {
  if (s.points.size() <= count) return s;
  SurfacePoints out;
  for (std::size_t i = 0; i < count; ++i) {
    const std::size_t k = i * s.points.size() / count;
    out.points.push_back(s.points[k]);
    out.normals.push_back(s.normals[k]);
    out.weights.push_back(1);
  }
  return out;
}

/// A place of fewer points than a quarter of what most points have about them is stray readings or a rim. Without this,
/// strays all over a volume soon take more places than the surface itself.
SurfacePoints dense_places(const SurfacePoints& thinned) {
  constexpr double kLeast = 0.25;
  std::vector<double> held;  // relative: a weight is n/(n + usual)
  for (double w : thinned.weights) held.push_back(w / (1 - w));
  auto sorted = held;
  std::sort(sorted.begin(), sorted.end());
  const double all = std::accumulate(held.begin(), held.end(), 0.0);
  double usual = 0, sum = 0;
  for (double h : sorted)
    if (sum += h; sum <= all / 2) usual = h;
  std::vector<Vec3> points;
  for (std::size_t i = 0; i < held.size(); ++i)
    if (held[i] >= kLeast * usual) points.push_back(thinned.points[i]);
  return points.size() == held.size() ? thinned : thin_surface(points, 0);
}

/// Thinned to about `count` points, evenly over the surface.
SurfacePoints coarse(const SurfacePoints& s, std::size_t count) {
  SurfacePoints out = s;
  double voxel = s.spacing;
  for (int k = 0; k < 10 && out.points.size() > 1.3 * count; ++k) {
    voxel *= std::max(1.1, std::sqrt(double(out.points.size()) / count));  // the number of a surface's places
    out = dense_places(thin_surface(s.points, voxel));
  }
  return out;
}

struct Entry {
  int reference;
  bool flipped;
  float turn[2];  // of the pair with the normal as it is, and turned round
};

/// All pairs of the fixed surface, by feature (compressed rows).
struct PairTable {
  std::vector<int> start;
  std::vector<Entry> entries;
};

PairTable pair_table(const SurfacePoints& s, double step) {
  const int n = static_cast<int>(s.points.size());
  std::vector<Eigen::Matrix3d> up(n), down(n);
  for (int i = 0; i < n; ++i) up[i] = to_x(s.normals[i]), down[i] = to_x(-s.normals[i]);
  PairTable table;
  table.start.assign(kCells + 1, 0);
  std::vector<Feature> features(std::size_t(n) * n);
  for (int i = 0; i < n; ++i)
    for (int j = 0; j < n; ++j)
      if (i != j) {
        Feature& f = features[std::size_t(i) * n + j];
        f = feature_of(s.points[i], s.normals[i], s.points[j], s.normals[j], step);
        if (f.cell >= 0) ++table.start[f.cell + 1];
      }
  for (int c = 0; c < kCells; ++c) table.start[c + 1] += table.start[c];
  table.entries.resize(table.start.back());
  std::vector<int> next(table.start.begin(), table.start.end() - 1);
  for (int i = 0; i < n; ++i)
    for (int j = 0; j < n; ++j)
      if (const Feature& f = features[std::size_t(i) * n + j]; f.cell >= 0) {
        const Vec3 d = s.points[j] - s.points[i];
        table.entries[next[f.cell]++] = {i, f.flipped, {float(turn_of(up[i], d)), float(turn_of(down[i], d))}};
      }
  return table;
}

struct Guess {
  Rigid motion;
  double votes;
};

/// The poses that most pairs of one reference point speak for.
std::vector<Guess> vote(const PairTable& table, const SurfacePoints& fixed, const SurfacePoints& moving, int reference,
                        double step) {
  const Eigen::Matrix3d own = to_x(moving.normals[reference]);
  const std::size_t n = fixed.points.size();
  std::vector<int> votes(n * 2 * kTurns, 0);
  for (std::size_t j = 0; j < moving.points.size(); ++j) {
    const Feature f =
        feature_of(moving.points[reference], moving.normals[reference], moving.points[j], moving.normals[j], step);
    if (f.cell < 0) continue;
    const double turn = turn_of(own, moving.points[j] - moving.points[reference]);
    for (int k = table.start[f.cell]; k < table.start[f.cell + 1]; ++k) {
      const Entry& e = table.entries[k];
      const int sign = e.flipped != f.flipped;
      double t = (turn - e.turn[sign]) / (2 * M_PI);
      t -= std::floor(t);
      ++votes[(std::size_t(e.reference) * 2 + sign) * kTurns + std::min(kTurns - 1, static_cast<int>(t * kTurns))];
    }
  }
  // Neighbouring turns share a peak.
  std::vector<std::pair<int, std::size_t>> peaks;
  for (std::size_t row = 0; row < 2 * n; ++row)
    for (int t = 0; t < kTurns; ++t) {
      const int* v = &votes[row * kTurns];
      const int sum = 2 * v[t] + v[(t + 1) % kTurns] + v[(t + kTurns - 1) % kTurns];
      peaks.push_back({-sum, row * kTurns + t});
    }
  std::partial_sort(peaks.begin(), peaks.begin() + kPeaks, peaks.end());
  std::vector<Guess> out;
  for (int k = 0; k < kPeaks; ++k) {
    const auto [negative, at] = peaks[k];
    const std::size_t row = at / kTurns, model = row / 2;
    const double turn = (at % kTurns + 0.5) * 2 * M_PI / kTurns;
    const Vec3 n = row % 2 ? Vec3(-fixed.normals[model]) : fixed.normals[model];
    Guess g{Rigid::Identity(), double(-negative)};
    g.motion.linear() = to_x(n).transpose() * Eigen::AngleAxisd(turn, Vec3::UnitX()).toRotationMatrix() * own;
    g.motion.translation() = fixed.points[model] - g.motion.linear() * moving.points[reference];
    out.push_back(g);
  }
  return out;
}

/// Share of the moving points on the fixed surface; within `tolerance` of its tangent planes, nearer counting more.
double score_of(const PointTree& tree, const SurfacePoints& fixed, const SurfacePoints& moving, const Rigid& motion,
                double reach, double tolerance) {
  double sum = 0;
  for (std::size_t i = 0; i < moving.points.size(); ++i) {
    const Vec3 x = motion * moving.points[i];
    const auto [j, square] = tree.nearest(x, reach);
    if (j < 0) continue;
    const double cosine = std::abs(fixed.normals[j].dot(motion.linear() * moving.normals[i]));
    const double e = fixed.normals[j].dot(x - fixed.points[j]) / tolerance;
    if (cosine > 0.8 && e * e < 1) sum += 1 - e * e;
  }
  return sum / std::max<std::size_t>(1, moving.points.size());
}

void sort_by_score(std::vector<PoseCandidate>& all) {
  std::stable_sort(all.begin(), all.end(), [](const auto& a, const auto& b) { return a.score > b.score; });
}

/// Best first, without those that are nearly a better one.
std::vector<PoseCandidate> distinct(std::vector<PoseCandidate> all, const Vec3& centre, double size, std::size_t most) {
  sort_by_score(all);
  std::vector<PoseCandidate> out;
  for (const PoseCandidate& c : all) {
    const bool known = std::any_of(out.begin(), out.end(), [&](const PoseCandidate& o) {
      const Eigen::AngleAxisd turn(Eigen::Matrix3d(o.motion.linear().transpose() * c.motion.linear()));
      return turn.angle() < 5 * M_PI / 180 && (o.motion * centre - c.motion * centre).norm() < 0.05 * size;
    });
    if (!known) out.push_back(c);
    if (out.size() == most) break;
  }
  return out;
}

std::vector<PoseCandidate> search_once(const SurfacePoints& fixed_all, const SurfacePoints& moving_all,
                                       const SearchOptions& options, const Progress& progress) {
  const std::size_t count = std::max(50, options.points);
  const SurfacePoints fixed = coarse(fixed_all, count), moving = coarse(moving_all, count);
  if (fixed.points.size() < 20 || moving.points.size() < 20)
    throw Error(Fault::measurement, "registration: too few points to search a pose; scan more densely");
  Vec3 low = fixed.points.front(), high = low, centre = Vec3::Zero();
  for (const Vec3& p : fixed.points) low = low.cwiseMin(p), high = high.cwiseMax(p);
  for (const Vec3& p : moving.points) centre += p / moving.points.size();
  const double size = (high - low).norm(), step = size / kDistances;

  const PairTable table = pair_table(fixed, step);
  const int references = std::min<int>(kReferences, static_cast<int>(moving.points.size()));
  std::vector<std::vector<Guess>> found(references);
  parallel_for(
      references,
      [&](std::size_t k) {
        const int reference = static_cast<int>((k * moving.points.size() + options.seed % 97) / references) %
                              static_cast<int>(moving.points.size());
        found[k] = vote(table, fixed, moving, reference, step);
      },
      1);
  report_progress(progress, "search", 0.5);

  // A rough look at all of them: votes are off by half a step in place and turn, so tolerance is wide.
  const PointTree coarse_tree(fixed.points);
  const SurfacePoints few = picked(moving, 200);
  std::vector<PoseCandidate> guesses;
  for (const auto& of_one : found)
    for (const Guess& g : of_one) guesses.push_back({g.motion, 0});
  parallel_for(
      guesses.size(),
      [&](std::size_t k) {
        guesses[k].score =
            score_of(coarse_tree, fixed, few, guesses[k].motion, 2.5 * fixed.spacing, 1.5 * fixed.spacing);
      },
      8);
  guesses = distinct(std::move(guesses), centre, size, 60);

  const PoseRefiner rough(fixed);
  const SurfacePoints some = picked(moving, 400);
  parallel_for(
      guesses.size(),
      [&](std::size_t k) {
        RefineOptions o;
        o.reach = 5 * fixed.spacing, o.iterations = 15;
        guesses[k].motion = rough.refine(some, guesses[k].motion, o).motion;
        guesses[k].score =
            score_of(coarse_tree, fixed, moving, guesses[k].motion, 1.5 * fixed.spacing, 0.5 * fixed.spacing);
      },
      1);
  guesses = distinct(std::move(guesses), centre, size, options.candidates);

  // The fine surfaces decide: differences far below the coarse spacing tell a symmetric tool's poses apart.
  const PoseRefiner fine(fixed_all);
  const PointTree fine_tree(fixed_all.points);
  const SurfacePoints many = picked(moving_all, 4000);
  // Thrice the planes' misfit takes in nearly all good partners; a twentieth of the spacing where data are exact.
  const double tolerance = 3 * std::max({fixed_all.curve, moving_all.curve, 0.05 * fixed_all.spacing});
  parallel_for(
      guesses.size(),
      [&](std::size_t k) {
        RefineOptions o;
        o.reach = 2 * fixed.spacing, o.iterations = 25;
        guesses[k].motion = fine.refine(many, guesses[k].motion, o).motion;
        guesses[k].score = score_of(fine_tree, fixed_all, many, guesses[k].motion, 2.5 * fixed_all.spacing, tolerance);
      },
      1);
  report_progress(progress, "search", 1);
  return distinct(std::move(guesses), centre, size, options.candidates);
}

}  // namespace

std::vector<PoseCandidate> find_poses(const SurfacePoints& fixed, const SurfacePoints& moving,
                                      const SearchOptions& options, const Progress& progress) {
  // A right pose scores above a half even when a tenth of the points are outliers (0.8 on the demo halves); a wrong one
  // stays below a tenth, but for a panel that is nearly the same after half a turn (up to 0.65). So a low score says
  // that the search failed, and then it looks again, more finely: half as many points again, thrice.
  constexpr double kConvincing = 0.3;
  std::vector<PoseCandidate> best;
  SearchOptions now = options;
  for (int attempt = 0; attempt < 4; ++attempt) {
    auto found = search_once(fixed, moving, now, progress);
    if (best.empty() || (!found.empty() && found.front().score > best.front().score)) best = std::move(found);
    if (!best.empty() && best.front().score > kConvincing) break;
    now.points += now.points / 2;
    now.seed += 31;
  }
  return best;
}

double ambiguity(const std::vector<PoseCandidate>& all) {
  return all.size() < 2 || all[0].score <= 0 ? 0 : all[1].score / all[0].score;
}

}  // namespace gapfront::align
