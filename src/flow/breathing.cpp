// The upper half as a shell between atmosphere, glass and resin.
#include "gapfront/breathing.hpp"

#include <algorithm>
#include <cmath>

#include "flow/half.hpp"
#include "gapfront/error.hpp"

namespace gapfront {
namespace {

constexpr double kSettled = 1e-3;  // mm of gap between rounds: a tenth of the best U of a measured gap
constexpr int kMaxFills = 15;      // each is a whole fill; a half so soft that these do not do is unusable

std::vector<double> sum(std::vector<double> a, const std::vector<double>& b) {
  for (std::size_t i = 0; i < b.size(); ++i) a[i] += b[i];
  return a;
}

BreathingState state(std::vector<double> move) {
  BreathingState s;
  const auto [minimum, maximum] = std::minmax_element(move.begin(), move.end());
  s.minimum = *minimum, s.min_node = static_cast<int>(minimum - move.begin());
  s.maximum = *maximum, s.max_node = static_cast<int>(maximum - move.begin());
  s.move = std::move(move);
  return s;
}

}  // namespace

double StiffZone::plate() const {
  if (bending > 0) return bending;
  const double whole = core > 0 ? core + 2 * thickness : thickness;
  return modulus * (whole * whole * whole - core * core * core) / (12 * (1 - poisson * poisson));
}

double StiffZone::membrane() const { return modulus * thickness * (core > 0 ? 2 : 1) / (1 - poisson * poisson); }

Breathing flow::breathe(const Sheet& sheet, const std::vector<double>& gap, const LaminateOptions& laminate,
                        const FlowOptions& flow, const Progress& progress, const std::vector<double>& start) {
  Breathing out;
  if (flow.closing.half.empty()) return out;
  if (gap.size() != sheet.size()) throw Error(Fault::input, "breathing: one gap per node is needed");
  flow::Half half(sheet, gap, laminate, flow);
  std::vector<double> dry(gap.size(), 0);
  bool solved = half.settle(std::vector<double>(gap.size(), flow.cavity_pressure), dry);
  half.squeezed(dry);
  // The shape during the fill is taken as one: that under the mean over the fill of the fluid's pressure, by
  // the area that the front takes. Ahead of the front the half is still pressed in, behind it it comes up: `dry` and
  // `worst` bracket it.
  auto moved = start.size() == gap.size() ? start : dry;
  double relax = 1;
  for (int k = 0; k < kMaxFills && !out.converged; ++k) {
    out.front = flow::fill(sheet, laminate::evaluate_laminate(sheet, sum(gap, moved), laminate), flow, progress);
    auto next = moved;
    solved = half.settle(out.front.opening.mean_pressure, next) && solved;
    double change = 0;
    for (std::size_t i = 0; i < gap.size(); ++i) change = std::max(change, std::abs(next[i] - moved[i]));
    // A round that does not come nearer overshoots: half of it then does better.
    if (!out.changes.empty() && change > 0.8 * out.changes.back()) relax = std::max(0.25, 0.5 * relax);
    out.changes.push_back(change);
    out.converged = solved && change < kSettled;
    for (std::size_t i = 0; i < gap.size(); ++i) moved[i] += relax * (next[i] - moved[i]);
  }
  auto worst = moved;
  out.converged = half.settle(out.front.opening.worst_pressure, worst) && out.converged;
  out.computed = true;
  out.dry = state(std::move(dry));
  out.filling = state(std::move(moved));
  out.worst = state(std::move(worst));
  return out;
}

void flow::compare_shapes(Breathing& b, const Sheet& sheet, const std::vector<double>& gap,
                          const LaminateOptions& laminate, const FlowOptions& flow) {
  const auto with = [&](const std::vector<double>& move) {
    const Filling f = flow::fill(sheet, laminate::evaluate_laminate(sheet, sum(gap, move), laminate), flow);
    ShapeFill s;
    s.fill_time = f.fill_time;
    s.dry_area = flow::dry_area(f);
    for (std::size_t i = 0; i < gap.size(); ++i) {
      const double later = f.arrival[i] - b.front.arrival[i];
      if (std::isfinite(later)) s.later = std::max(s.later, later), s.earlier = std::max(s.earlier, -later);
    }
    return s;
  };
  b.as_scanned = with({}), b.at_dry = with(b.dry.move), b.at_worst = with(b.worst.move);
}

std::vector<double> flow::under_filling(std::vector<double> gap, const Breathing& b) {
  return sum(std::move(gap), b.filling.move);
}

}  // namespace gapfront
