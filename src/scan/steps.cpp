// Steps are looked for as straight lines across the scan's plan along which all discs of the face jump alike.
#include "gapfront/steps.hpp"

#include <algorithm>
#include <array>
#include <cmath>
#include <numbers>
#include <optional>

#include "core/distributions.hpp"
#include "core/parallel.hpp"
#include "core/statistics.hpp"
#include "scan/step_discs.hpp"

namespace gapfront {
namespace {

using scan::DiscLevel;
using scan::Jump;
using scan::kDirections;
using scan::kMiddle, scan::kShifts;
using scan::kShift;

// Radii of the discs in spacings, each twice the one before, which proves it; the narrowest holds 28 points and is for
// proof alone. Four of the widest go on the scan.
constexpr std::array<double, 4> kReaches{3, 6, 12, 24};
constexpr double kRadiiAcross = 4;
// Wider discs are of no use where the face's shape is so many times its points' scatter.
constexpr double kShapeOfScatter = 2.5;
constexpr std::size_t kShapeSample = 200;  // discs that tell it: their median to a tenth
// Parts of a line, and how many of them a step goes along at least; four of these must hold points.
constexpr int kSegments = 16;
constexpr std::array<int, 3> kWindows{16, 8, 5};
constexpr int kHeld = 4;
constexpr double kHeldWeight = 0.25;  // of the usual part's
// Some 10^5 windows of lines are tried, hardly 10^4 of them independent.
constexpr double kSure = 6;
// Half as wide discs show all of a step, half of a bend, a quarter of a change of curvature: they must show so much of
// the jump, and by so many u; of a bend the best of 25 lines near by shows half and 1.5 u.
constexpr double kKept = 0.8, kSureThere = 5;
// What rounding of shifts leaves of a jump: 0.75 to 0.84 in 38 own simulations (jumps of 20 and 50 µm, spacings of 2 to
// 8 mm, noise of 5 and 10 µm, flat and curved).
constexpr double kShown = 0.8;
// Where one side of a line holds so many times the other's points, two passes lie over each other there, and their mean
// shows half of the step between them.
constexpr double kTwoPasses = 1.5;
// Lines that turn out to be no steps, the strongest first, before the search gives up: a mold has fillets.
constexpr int kTries = 12;
// Sigma by which steps must be more than what is declared of them: one false alarm in 700 jobs.
constexpr double kBeyondChance = 3;
// Coordinates that are written down to 0.001 mm step by that: less than two of them is no error of a scan (own choice).
constexpr double kLeastStep = 0.002;
// Where the edges that are seen are far apart, others were not seen: passes are a third of the scan wide at most, as
// where nobody says.
constexpr double kPasses = 3;

using Row = std::array<Jump, kSegments>;

/// Lines x cos φ + y sin φ = across in the plan of the scan, and segments along them.
struct Raster {
  int angles = 0, bins = 0;
  double bin = 0, half = 0;
  Raster(double radius, double size)
      // From the middle of the longest line to half way to its end, a turn by one angle moves it by a bin.
      : angles(std::max(kDirections, int(std::numbers::pi * 0.25 * size / (kShift * radius)))),
        bin(kShift * radius),
        half(0.65 * size) {
    bins = int(2 * half / bin) + 1;
  }
  /// From half of a disc's direction below nothing, so that each has its own angles.
  double phi(int angle) const { return std::numbers::pi * (double(angle) / angles - 0.5 / kDirections); }
  double across(int b) const { return b * bin - half; }
};

int direction_of(double phi) { return int(std::floor(phi / std::numbers::pi * kDirections + 0.5 + 1e-9)); }
int segment_of(double along, double half) {
  return std::clamp(int((along + half) / (2 * half) * kSegments), 0, kSegments - 1);
}
double along_of(double segment, double half) { return (2 * segment / kSegments - 1) * half; }

/// Sums over all discs about the lines of one angle: a row of bins per segment.
void gather(const DiscLevel& level, const Raster& r, int angle, std::vector<Jump>& out) {
  out.assign(std::size_t(r.bins) * kSegments, {});
  const double phi = r.phi(angle), c = std::cos(phi), s = std::sin(phi);
  const int k = direction_of(phi);
  for (const scan::Disc& d : level.discs) {
    const int middle = int(std::floor((c * d.at.x() + s * d.at.y() + r.half) / r.bin + 0.5));
    if (middle < kMiddle || middle + kMiddle >= r.bins) continue;
    const int segment = segment_of(c * d.at.y() - s * d.at.x(), r.half);
    Jump* sum = &out[std::size_t(segment) * std::size_t(r.bins) + std::size_t(middle - kMiddle)];
    const Jump* j = &d.jumps[std::size_t(k) * kShifts];
    for (int b = 0; b < kShifts; ++b) sum[b].pull += j[b].pull, sum[b].weight += j[b].weight;
  }
}

/// The same for one line at any angle, without discs that are used.
Row row_of(const DiscLevel& level, const std::vector<std::uint8_t>& used, double phi, double across, double half) {
  const int k = direction_of(phi);
  if (k < 0 || k >= kDirections) {
    // Half a turn on, across and along look the other way.
    Row out = row_of(level, used, phi + (k < 0 ? 1 : -1) * std::numbers::pi, -across, half);
    std::reverse(out.begin(), out.end());
    for (Jump& j : out) j.pull = -j.pull;
    return out;
  }
  Row out{};
  const double c = std::cos(phi), s = std::sin(phi);
  for (std::size_t i = 0; i < level.discs.size(); ++i) {
    const scan::Disc& d = level.discs[i];
    const double off = (across - c * d.at.x() - s * d.at.y()) / (kShift * level.radius);
    if (used[i] || std::abs(off) > kMiddle + 0.49) continue;
    const Jump& j = d.jumps[std::size_t(k * kShifts + std::lround(off) + kMiddle)];
    Jump& sum = out[std::size_t(segment_of(c * d.at.y() - s * d.at.x(), half))];
    sum.pull += j.pull, sum.weight += j.weight;
  }
  return out;
}

/// What lines of a level usually have.
struct Usual {
  double weight = 0;  ///< of a segment
  double spread =
      0;  ///< standard deviation of a window's pull/√weight: of noise, of what overlapping discs share, of shape
};

struct Line {
  double phi = 0, across = 0;
  int first = 0, count = 0;  ///< segments
  double jump = 0, u = 0, strength = 0, length = 0;
};

/// Jump of a window, with the larger u of what is usual and what its segments differ by.
std::optional<Line> line_of(const Row& row, const Line& window, const Usual& usual, double half) {
  Line out = window;
  double pull = 0, weight = 0, squares = 0;
  int held = 0, any = 0;
  const auto first = row.begin() + window.first, end = first + window.count;
  for (auto j = first; j != end; ++j)
    pull += j->pull, weight += j->weight, held += j->weight > kHeldWeight * usual.weight;
  if (held < kHeld) return std::nullopt;
  out.jump = pull / weight, out.length = held * 2 * half / kSegments;
  for (auto j = first; j != end; ++j)
    if (j->weight > 0) {
      const double off = j->pull / j->weight - out.jump;
      squares += off * off * j->weight, ++any;
    }
  out.u = std::max(usual.spread, std::sqrt(squares / (any - 1))) / std::sqrt(weight);
  out.strength = std::abs(out.jump) / out.u;
  return out;
}

/// Calls f(first, count, bin, pull/√weight) for all windows of the lines of one angle that hold points.
template <class F>
void each_window(const std::vector<Jump>& sums, int bins, double weight_of_part, F&& f) {
  for (const int count : kWindows)
    for (int first = 0; first + count <= kSegments; first += std::max(1, count / 2))
      for (int b = 0; b < bins; ++b) {
        float pull = 0, weight = 0;
        int held = 0;
        for (int k = first; k < first + count; ++k) {
          const Jump& j = sums[std::size_t(k) * std::size_t(bins) + std::size_t(b)];
          pull += j.pull, weight += j.weight, held += j.weight > float(kHeldWeight * weight_of_part);
        }
        if (held >= kHeld) f(first, count, b, double(pull / std::sqrt(weight)));
      }
}

Usual usual_of(const DiscLevel& level, const Raster& r) {
  std::vector<std::vector<Jump>> at(kDirections);
  parallel_for(
      at.size(), [&](std::size_t a) { gather(level, r, int(a) * r.angles / kDirections, at[a]); }, 1);
  std::vector<double> weights, spreads;
  for (const auto& sums : at)
    for (const Jump& j : sums)
      if (j.weight > 0) weights.push_back(j.weight);
  Usual out;
  out.weight = median(std::move(weights));
  for (const auto& sums : at)
    each_window(sums, r.bins, out.weight, [&](int, int, int, double z) { spreads.push_back(std::abs(z)); });
  out.spread = robust_sigma(std::move(spreads));
  return out;
}

/// Windows that are stronger than their neighbours across, strongest first.
std::vector<Line> candidates(const DiscLevel& level, const Raster& r, const Usual& usual) {
  std::vector<std::vector<Line>> at(std::size_t(r.angles));
  parallel_for(
      at.size(),
      [&](std::size_t a) {
        std::vector<Jump> sums;
        gather(level, r, int(a), sums);
        each_window(sums, r.bins, usual.weight, [&](int first, int count, int b, double z) {
          const double strength = std::abs(z) / usual.spread;
          if (strength < kSure) return;
          const double phi = r.phi(int(a)), across = r.across(b);
          if (!at[a].empty()) {
            Line& last = at[a].back();
            if (last.first == first && last.count == count && across - last.across < 0.5 * level.radius) {
              if (strength > last.strength) last.across = across, last.strength = strength;
              return;
            }
          }
          at[a].push_back({.phi = phi, .across = across, .first = first, .count = count, .strength = strength});
        });
      },
      1);
  std::vector<Line> out;
  for (const auto& lines : at) out.insert(out.end(), lines.begin(), lines.end());
  std::stable_sort(out.begin(), out.end(), [](const Line& a, const Line& b) { return a.strength > b.strength; });
  return out;
}

/// Of the lines within so many bins the one with the strongest jump of the same sign.
Line best_near(const DiscLevel& level, const std::vector<std::uint8_t>& used, const Usual& usual, const Line& line,
               double half, double bins) {
  const double middle = along_of(line.first + 0.5 * line.count, half), step = 0.5 * bins * kShift * level.radius;
  Line best;
  for (int turn = -2; turn <= 2; ++turn)
    for (int shift = -2; shift <= 2; ++shift) {
      Line l = line;
      const double by = turn * step / (0.25 * half);
      l.phi += by, l.across += shift * step + middle * std::sin(by);
      const auto there = line_of(row_of(level, used, l.phi, l.across, half), l, usual, half);
      if (there && there->jump * line.jump > 0 && there->strength > best.strength) best = *there;
    }
  return best;
}

/// Discs that a line goes through; the one nearest to its middle.
std::size_t use_up(const DiscLevel& level, const Line& line, double half, std::vector<std::uint8_t>& used) {
  const double c = std::cos(line.phi), s = std::sin(line.phi), middle = along_of(line.first + 0.5 * line.count, half);
  const double low = along_of(line.first, half) - level.radius,
               high = along_of(line.first + line.count, half) + level.radius;
  std::size_t nearest = 0;
  double least = 1e300;
  for (std::size_t i = 0; i < level.discs.size(); ++i) {
    const Vec3& p = level.discs[i].at;
    const double along = c * p.y() - s * p.x(), off = c * p.x() + s * p.y() - line.across;
    used[i] |= std::abs(off) < 1.1 * level.radius && along > low && along < high;
    if (const double d = std::hypot(off, along - middle); d < least) least = d, nearest = i;
  }
  return nearest;
}

/// Of the step between two passes, what a line's jump shows: half where one side holds both. Points are counted near to
/// the line and as far again, for where the scan ends beside the line, its far strip is empty; of segments the median,
/// for a ball has many points.
double shown_by(const scan::PlanPoints& points, const Line& line, double half) {
  const double c = std::cos(line.phi), s = std::sin(line.phi), strip = kReaches[0] * points.spacing;
  std::array<std::array<double, kSegments>, 4> strips{};  // far below, near below, near beyond, far beyond
  for (std::size_t i = 0; i < points.at.size(); ++i) {
    const Vec3& p = points.at[i];
    const double off = (c * p.x() + s * p.y() - line.across) / strip;
    if (std::abs(off) < 2)
      strips[std::size_t(off + 2)][std::size_t(segment_of(c * p.y() - s * p.x(), half))] += double(points.count[i]);
  }
  std::array<double, 4> usual{};
  for (std::size_t k = 0; k < 4; ++k)
    usual[k] = median(std::vector<double>(strips[k].begin() + line.first, strips[k].begin() + line.first + line.count));
  const std::size_t dense = usual[1] > usual[2] ? 1 : 2, sparse = 3 - dense, far = sparse == 1 ? 0 : 3;
  return usual[dense] > kTwoPasses * usual[sparse] && usual[far] > 0.7 * usual[sparse] ? 0.5 * kShown : kShown;
}

/// Lines of a level that the level before proves.
StepsSeen steps_of(const DiscLevel& level, const Usual& usual, const DiscLevel& before, const Usual& usual_before,
                   const scan::PlanPoints& points) {
  const Raster r(level.radius, points.size);
  std::vector<std::uint8_t> used(level.discs.size());
  const std::vector<std::uint8_t> unused(before.discs.size());
  StepsSeen out;
  double squares = 0;
  int tries = 0;
  for (const Line& c : candidates(level, r, usual)) {
    const auto seen = line_of(row_of(level, used, c.phi, c.across, r.half), c, usual, r.half);
    if (!seen || seen->strength < kSure) continue;
    // Within the bin that was looked at; and in half as wide discs.
    const Line line = best_near(level, used, usual, *seen, r.half, 0.5),
               close = best_near(before, unused, usual_before, line, r.half, 2),
               there = best_near(before, unused, usual_before, close, r.half, 0.5);
    const double whole = std::abs(line.jump);
    const bool sure = std::abs(there.jump) > kKept * whole && there.strength > kSureThere;
    const std::size_t middle = use_up(level, line, r.half, used);
    if (sure) {
      const double shown = shown_by(points, line, r.half), step = whole / shown, u = line.u / shown;
      ++out.lines, out.length += line.length;
      squares += line.length * std::max(0.0, step * step - u * u);
      if (step > out.largest)
        out.largest = step, out.at = ScanPlace{points.mean + points.axes * level.discs[middle].at};
    }
    if (!sure && ++tries == kTries) break;
  }
  if (out.lines > 0) out.rms = std::sqrt(squares / out.length);
  return out;
}

}  // namespace

StepsSeen scan::find_steps(const std::vector<Vec3>& all, double spacing) {
  StepsSeen best;
  if (all.empty() || !(spacing > 0)) return best;
  const PlanPoints points = in_plan(all, spacing);
  DiscLevel before;
  Usual usual_before;
  double scatter = 0;
  for (const double reach : kReaches) {
    if (reach * points.spacing > points.size / kRadiiAcross) break;
    if (scatter > 0 &&
        look_in_discs(points.at, reach * points.spacing, kShapeSample).scatter > kShapeOfScatter * scatter)
      break;
    DiscLevel level = look_in_discs(points.at, reach * points.spacing);
    if (level.discs.empty()) break;
    const Usual usual = usual_of(level, Raster(level.radius, points.size));
    if (!(usual.spread > 0)) break;
    if (scatter > 0) {
      const StepsSeen seen = steps_of(level, usual, before, usual_before, points);
      if (seen.length > best.length) best = seen;
    } else
      scatter = level.scatter;
    before = std::move(level), usual_before = usual;
  }
  best.area = double(points.at.size()) * points.spacing * points.spacing;
  return best;
}

InstrumentModel scan::with_steps(InstrumentModel m, const StepsSeen& seen, double size) {
  const double n = double(seen.lines), squares = n * seen.rms * seen.rms;
  if (seen.lines == 0 || seen.rms < kLeastStep || 3 * squares <= chi2_limit(n, kBeyondChance) * m.step * m.step)
    return m;
  // Of a rectangular distribution.
  m.step = std::sqrt(3.0) * seen.rms, m.width = std::min(seen.width(), size / kPasses);
  return m;
}

}  // namespace gapfront
