// The balanced two-sided ball at every node of the sheet, and its uncertainty budget.
//
// The ball is tangent to the lower face at the node's own foot (its centre lies on the lower normal) and touches
// the upper face: the centre is then equally far from both faces along both perpendiculars. That is the medial
// ball of the cavity at that foot: there is one of it, and it moves smoothly with the node. For parallel and
// concentric faces it is the separation; for a wedge the circle inscribed at that foot.
#include <algorithm>
#include <cmath>
#include <optional>
#include "cavity/coverage.hpp"
#include "cavity/long_errors.hpp"
#include "cavity/made_up.hpp"
#include "cavity/patch.hpp"
#include "cavity/truncation.hpp"
#include "core/parallel.hpp"
#include "gapfront/check.hpp"
#include "gapfront/error.hpp"

namespace gapfront {

namespace {

using cavity::Foot;
using cavity::Patch;
using cavity::Scratch;

double square(double x) { return x * x; }

struct Raw {
  Vec3 point;
  double diameter;
};

/// Largest ball tangent at `foot` on the side of n that holds no raw point of `surface` (shrinking ball: Ma, Bae &
/// Choi 2012). Finds the face that is met first, whatever walls lie behind it; only a start for the fits.
std::optional<Raw> facing(const Surface& surface, const Vec3& foot, const Vec3& n, double maximum) {
  double r = maximum / 2;
  const double slight = 0.05 * surface.spacing() + 2 * surface.noise();
  std::optional<Raw> met;
  // Each step removes at least one point; 30 are never needed on a face (2 or 3 are usual).
  for (int i = 0; i < 30; ++i) {
    const Surface::Found near = surface.nearest(foot + r * n, r);
    if (near.index < 0 || near.distance >= r * (1 - 1e-9)) break;
    const Vec3 d = near.point - foot;
    const double along = d.dot(n), before = r;
    if (along <= 0) break;
    r = d.squaredNorm() / (2 * along);
    met = Raw{near.point, 2 * r};
    // What is left to find is in the face's own noise.
    if (before - r < slight) break;
  }
  return met;
}

/// Points of the upper face so far apart that a ball of the greatest gap passes between them, as a probe's do: one that
/// reaches 0.8 of their distance around itself at the nominal gap does not (in the middle of a square grid it is 0.71).
/// Its own diameter says nothing then; the height of the point that it meets is the start.
std::optional<Raw> facing_far_apart(const Surface& upper, const Vec3& foot, const Vec3& n, double nominal,
                                    double max_gap) {
  const double across2 = square(0.8 * upper.spacing());
  if (nominal * (max_gap - nominal) >= across2) return std::nullopt;
  auto met = facing(upper, foot, n, across2 / nominal + nominal);
  if (met) met->diameter = (met->point - foot).dot(n);
  if (met && met->diameter >= max_gap) met.reset();
  return met;
}

/// The upper face as seen from the lower foot: in front, or behind it when the halves interpenetrate.
std::optional<Raw> find_upper(const Surface& lower, const Surface& upper, const Vec3& foot, const Vec3& n,
                              double nominal, double max_gap) {
  // A ball twice as large as expected comes first: its centre is near the face, which is then found at once.
  std::optional<Raw> front = facing(upper, foot, n, std::min(2 * nominal, max_gap));
  if (!front) front = facing(upper, foot, n, max_gap);
  if (!front) front = facing_far_apart(upper, foot, n, nominal, max_gap);
  // Another wall of the lower half between the two ends: the upper face met is that of the next cavity.
  const auto crosses_lower = [&](double gap, double fraction) {
    return lower.nearest(foot + 0.5 * gap * n).distance < fraction * std::abs(gap);
  };
  // A ball in a fillet tighter than itself comes near its own face too, hence only beyond the plausible gap and
  // by a wide margin (a free ball has half its diameter to the lower face).
  if (front && front->diameter > 1.5 * nominal && crosses_lower(front->diameter, 0.25)) front.reset();
  std::optional<Raw> behind = facing(upper, foot, -n, std::min(nominal, max_gap));
  // Behind a thin rib of the lower half lies its other cavity: the rib's own other face gives that away.
  if (behind && behind->diameter > 2 * lower.spacing() && crosses_lower(-behind->diameter, 0.4)) behind.reset();
  if (behind && (!front || behind->diameter < front->diameter)) return Raw{behind->point, -behind->diameter};
  return front;
}

struct Ball {
  double radius;
  Foot upper;
};

/// Ball tangent at the lower foot that touches the upper patch, by Newton on distance(centre) − radius.
/// `beyond`: it would be larger than the maximum.
std::optional<Ball> touch(const Patch& upper, const Vec3& foot, const Vec3& n, double radius, double maximum,
                          bool& beyond) {
  for (int i = 0; i < 30; ++i) {
    const Foot f = cavity::foot_on(upper, foot + radius * n);
    const double slope = n.dot(f.normal) - 1, miss = f.distance - radius;
    if (slope > -0.5) return std::nullopt;  // less than 60° from facing the same way: no opposing face
    // A hundred-thousandth of a micrometre.
    if (std::abs(miss) < 1e-8) return Ball{radius, f};
    radius = std::clamp(radius - miss / slope, -maximum, maximum);
  }
  beyond = std::abs(radius) >= maximum;
  return std::nullopt;
}

/// Length along the ray from `foot` in direction n to the patch.
std::optional<double> ray(const Patch& patch, const Vec3& foot, const Vec3& n, double t) {
  const Vec3 o = patch.axes.transpose() * (foot - patch.origin), d = patch.axes.transpose() * n;
  for (int i = 0; i < 30; ++i) {
    const Vec3 p = o + t * d;
    if (p.head<2>().norm() > 2 * patch.radius) return std::nullopt;
    Eigen::Vector2d g;
    const double miss = p.z() - patch.height(p.head<2>(), g), slope = d.z() - g.dot(d.head<2>());
    if (std::abs(miss) < 1e-8) return t;
    if (std::abs(slope) < 0.05) return std::nullopt;  // within 3° of grazing: no length to speak of
    t -= miss / slope;
  }
  return std::nullopt;
}

/// Upper patch and ball: refitted until the patch is centred where the ball touches.
std::optional<Ball> settle(const Surface& upper, const Vec3& foot, const Vec3& n, const Raw& raw, double maximum,
                           double fit_radius, cavity::Width width, Patch& patch, Scratch& scratch, bool& beyond) {
  // Parallel faces are touched on the lower normal, one diameter up.
  patch = cavity::fit_patch(upper, foot + raw.diameter * n, raw.point, -n, fit_radius, scratch, width);
  if (!patch.ok) {
    const double r = raw.diameter / 2;
    const Vec3 hint = (foot + r * n - raw.point) / r;
    if (std::abs(r) > upper.spacing() && hint.dot(n) < -0.17)
      patch = cavity::fit_patch(upper, raw.point, raw.point, hint.normalized(), fit_radius, scratch, width);
  }
  // 0.3 spacings off the centre changes the variance of a quadric of 5 spacings by 2 %.
  for (int i = 0; i < 8 && patch.ok; ++i) {
    auto ball = touch(patch, foot, n, raw.diameter / 2, maximum, beyond);
    // Where noise is a good part of the spacing the touching point wanders. At a fifth of its radius a quadric's
    // variance is still 7 % below that in the middle (Zernike's terms on an even disc: 1 + 4ρ² + 3 (2ρ² − 1)² + 6ρ⁴).
    if (!ball || ball->upper.offset < (i < 4 ? 0.3 * upper.spacing() : 0.2 * patch.radius)) return ball;
    // No wider than the last, or two widths in turn might each say that the ball touches elsewhere.
    const Foot& at = ball->upper;
    patch = cavity::fit_patch(upper, at.point, at.point, at.normal, patch.radius, scratch, width);
  }
  return std::nullopt;
}

/// Budget by the law of propagation (JCGM 100:2008, 5.1.2). With N the upper normal and c = n·N, moving a face by
/// δ along its own normal changes the diameter by 2/(1 − c)·δ (upper) and 2c/(1 − c)·δ (lower); tilting the lower
/// normal by τ swings the ball's centre by rτ. For parallel faces c = −1 and the factors are 1, 1 and 0.
cavity::Witness budget(const Patch& low, const Patch& up, const Vec3& n, const Ball& ball, const Alignment* alignment,
                       const GapOptions& options, NodeGap& g) {
  const Vec3& N = ball.upper.normal;
  const double c = n.dot(N), factor = 2 / (1 - c), swing = factor * ball.radius * std::sqrt(std::max(0.0, 1 - c * c));
  const Vec3 across = N - c * n;  // the lower normal swings the ball by what it turns towards the upper one
  const cavity::Truncation turn =
      low.slope_truncation(across.squaredNorm() > 0 ? Vec3(across.normalized()) : Vec3(Vec3::Zero()));
  g.u_lower = std::hypot(factor * c * low.u, swing * std::sqrt(square(low.u_slope) + turn.counted2));
  g.u_upper = factor * up.u;
  // Two scans, each with its own systematic error.
  g.u_instrument = std::sqrt(square(options.u_instrument) * (square(factor) + square(factor * c)));
  g.u_temperature = options.u_temperature;
  if (alignment) {
    const Vec3 direction = -factor * N;
    Vector6 j;
    j << direction, (ball.upper.point - alignment->pivot).cross(direction);
    g.u_registration = std::sqrt(std::max(0.0, j.dot(alignment->covariance * j)));
  }
  g.U = options.coverage * std::sqrt(square(g.u_lower) + square(g.u_upper) + square(g.u_instrument) +
                                     square(g.u_registration) + square(g.u_temperature));
  return {factor * c, factor, swing, low.truncation, up.truncation, turn, std::max(low.radius, up.radius)};
}

/// What a thread re-uses from node to node.
struct Lists {
  Scratch lower, upper;
};

/// Rows of points far apart fit a face of any height between them: what the fits know no better than to the nominal gap
/// is no measurement.
bool tells_nothing(const NodeGap& g, const GapOptions& o) {
  return g.measured && o.coverage * std::hypot(g.u_lower, g.u_upper) > o.nominal;
}

/// Whether the u of the fits is for the most part what they leave out of the face, and not noise.
bool mostly_truncation(const cavity::Witness& w, const NodeGap& g) {
  const double left_out = square(w.by_lower) * w.lower.counted2 + square(w.by_upper) * w.upper.counted2 +
                          square(w.by_slope) * w.slope.counted2;
  return left_out > 0.5 * (square(g.u_lower) + square(g.u_upper));
}

// So many points about a fit of six parameters tell their scatter to a quarter.
constexpr int kTellScatter = 15;

NodeGap unmeasured(const Vec3& at, const Vec3& normal) {
  NodeGap g;
  g.mid = at, g.direction = normal;
  return g;
}

NodeGap measure(const Surface& lower, const Surface& upper, const Vec3& at, const Vec3& normal,
                const Alignment* alignment, const GapOptions& options, Lists& lists, cavity::Witness* witness) {
  NodeGap g = unmeasured(at, normal);
  const double max_gap = options.max_gap > 0 ? options.max_gap : 4 * options.nominal;
  lists.upper.reach = 0;
  const auto unresolved = [&](bool is) {
    if (witness) witness->unresolved = is;
  };
  cavity::gather(lower, at, cavity::kSlack * cavity::fit_radius(options.fit_radius, lower), lists.lower);
  // A sheet node further from every scan point than a neighbourhood's half lies over a hole in coverage.
  const double hole = 2.5 * lower.spacing() + 0.5 * std::abs(options.nominal);
  std::optional<Vec3> near = cavity::nearest_gathered(lists.lower);
  if (!near)
    if (const Surface::Found f = lower.nearest(at, hole); f.index >= 0) near = f.point;
  if (!near || (*near - at).norm() > hole) return g;
  const Patch low = cavity::fit_patch(lower, at, *near, normal, options.fit_radius, lists.lower);
  unresolved(!low.ok);
  if (!low.ok) return g;
  const Foot start = cavity::foot_on(low, at);
  const Vec3 &foot = start.point, &n = start.normal;
  const auto raw = find_upper(lower, upper, foot, n, options.nominal, max_gap);
  if (!raw) return g;
  Patch up;
  bool beyond = false;
  const auto settled = [&](cavity::Width width) {
    return settle(upper, foot, n, *raw, max_gap / 2, options.fit_radius, width, up, lists.upper, beyond);
  };
  auto ball = settled(cavity::Width::judged);
  // Chance may have a dense, noisy scan's neighbourhood made so narrow that its curvature is noise, and the ball
  // touches anywhere. What a wide one leaves out is then in its u.
  if (!ball) ball = settled(cavity::Width::kept);
  unresolved((!ball || !up.ok) && !beyond);
  if (!ball || !up.ok) return g;
  const double gap = 2 * ball->radius;
  if (gap >= max_gap || gap <= -options.nominal) return g;
  g.measured = true;
  g.gap = gap;
  g.mid = 0.5 * (foot + ball->upper.point);
  // From lower to upper: the chord of the ball. It shrinks to nothing with the gap, its direction does not.
  g.direction = (n - ball->upper.normal).normalized();
  g.along_normal = ray(up, foot, n, gap).value_or(gap);
  g.fit_area = std::max(low.fit_area, up.fit_area);
  const cavity::Witness shown = budget(low, up, n, *ball, alignment, options, g);
  if (tells_nothing(g, options)) {
    unresolved(low.unresolved || up.unresolved || mostly_truncation(shown, g));
    return unmeasured(at, normal);
  }
  if (witness) {
    *witness = shown;
    if (low.used >= kTellScatter) witness->scatter_lower = low.scatter;
    if (up.used >= kTellScatter) witness->scatter_upper = up.scatter;
  }
  return g;
}

}  // namespace

void check_options(const GapOptions& o) {
  if (!(o.nominal > 0)) throw Error(Fault::input, "gap: nominal must be above 0 mm; give the laminate thickness");
  if (!(o.max_gap >= 0 && o.fit_radius >= 0 && o.u_instrument >= 0 && o.u_temperature >= 0 && o.coverage > 0))
    throw Error(Fault::input,
                "gap: max_gap, fit_radius and uncertainties must not be negative and coverage must be above 0");
}

GapMap cavity::measure_gap(const Sheet& sheet, const Surface& lower, const Surface& upper, const Alignment& alignment,
                           const GapOptions& options, const Progress& progress) {
  check_options(options);
  if (sheet.normals.size() != sheet.size() || sheet.area.size() != sheet.size())
    throw Error(Fault::input, "gap: the sheet has no normals or areas; complete it with make_sheet");
  GapMap map;
  map.nodes.resize(sheet.size());
  std::vector<cavity::Witness> witnesses(sheet.size());
  map.registration = alignment.covariance;
  map.pivot = alignment.pivot;
  map.coverage = options.coverage;
  // The sheet may be that of another scan or of a drawing, and the face as far off it as a fit looks for it.
  const cavity::Holes holes =
      cavity::find_holes(sheet.mesh, sheet.mesh.points, sheet.normals, lower, 0.5 * options.nominal);
  // Forty reports are smooth enough to watch and leave each thread hundreds of nodes in between.
  const std::size_t steps = 40, n = sheet.size();
  for (std::size_t k = 0; k < steps; ++k) {
    const std::size_t first = n * k / steps, last = n * (k + 1) / steps;
    parallel_for(
        last - first,
        [&](std::size_t i) {
          thread_local Lists lists;
          const std::size_t node = first + i;
          if (holes.node[node]) return void(map.nodes[node] = unmeasured(sheet.mesh.points[node], sheet.normals[node]));
          map.nodes[node] = measure(lower, upper, sheet.mesh.points[node], sheet.normals[node], &alignment, options,
                                    lists, &witnesses[node]);
        },
        32);
    report_progress(progress, "gap", double(k + 1) / double(steps));
  }
  cavity::pool_truncation(sheet, witnesses, map);
  for (std::size_t i = 0; i < n; ++i)
    if (tells_nothing(map.nodes[i], options))
      map.nodes[i] = unmeasured(sheet.mesh.points[i], sheet.normals[i]), witnesses[i].unresolved = true;
  if (options.find_made_up)
    cavity::drop_made_up(sheet, witnesses, {.lower = lower.noise(), .upper = upper.noise()}, map);
  cavity::carry_fields(sheet, alignment, map);
  cavity::take_coverage(sheet, holes, upper, options.nominal, map);
  std::vector<char> unresolved(n, 0);
  for (std::size_t i = 0; i < n; ++i) unresolved[i] = witnesses[i].unresolved;
  if (cavity::drop_edge_of_bends(sheet, unresolved, map))
    cavity::take_coverage(sheet, holes, upper, options.nominal, map);
  cavity::count_made_up(sheet, map);
  std::size_t measured = 0;
  for (std::size_t i = 0; i < n; ++i) measured += map.nodes[i].measured, map.unmeasured_area += map.unseen[i];
  for (const auto& l : sheet.lost) map.unmeasured_area += l.area;
  if (n > 0 && measured == 0)
    throw Error(Fault::measurement,
                "gap: at no node of the sheet do both halves face each other within max_gap; check the alignment and "
                "the units of the scans, or raise cavity.max_gap");
  return map;
}

NodeGap cavity::measure_gap_at(const Surface& lower, const Surface& upper, const Vec3& at, const Vec3& normal,
                               const GapOptions& options) {
  check_options(options);
  if (!at.allFinite() || !(normal.norm() > 0))
    throw Error(Fault::input, "gap: place or normal is not finite or nil; give a place near the lower face");
  Lists lists;
  return measure(lower, upper, at, normal.normalized(), nullptr, options, lists, nullptr);
}

}  // namespace gapfront
