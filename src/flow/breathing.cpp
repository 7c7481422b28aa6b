// The upper half as a shell between atmosphere, glass and resin.
#include "gapfront/breathing.hpp"

#include <algorithm>
#include <cmath>

#include "flow/shell.hpp"
#include "gapfront/error.hpp"

namespace gapfront {
namespace {

constexpr double settled = 1e-3;         // mm of gap between rounds: a tenth of the best U of a measured gap
constexpr int most_rounds = 15;          // each is a whole fill; a half so soft that these do not do is unusable
constexpr double newton_settled = 1e-4;  // mm; inner solve, well below `settled`
constexpr int most_newton = 100;         // usually under 20
// Per step of Newton's method the gap at a node shrinks to no less than this share of itself, and grows to no more than
// that one: the glass's law is steep, and its slope far away says nothing.
constexpr double least_shrink = 0.85, most_growth = 1.5;

std::vector<ShellSection> sections(const Mesh& mesh, const std::vector<StiffZone>& zones) {
  std::vector<ShellSection> out;
  for (const auto& t : mesh.triangles) {
    const Vec3 middle = (mesh.points[t[0]] + mesh.points[t[1]] + mesh.points[t[2]]) / 3;
    const StiffZone* here = nullptr;
    for (const auto& z : zones)
      if (z.where.contains(middle)) here = &z;
    if (!here)
      throw Error(Fault::input,
                  "breathing: a part of the upper half has no stiffness; give the first [[closing.half]] no place, so "
                  "that it is everywhere");
    out.push_back({here->plate(), here->membrane(), here->poisson});
  }
  return out;
}

std::vector<char> held_nodes(const Sheet& sheet, const ClosingOptions& c) {
  std::vector<char> held(sheet.rim.begin(), sheet.rim.end());
  for (std::size_t i = 0; i < sheet.size(); ++i)
    for (const auto& r : c.supports)
      if (r.contains(sheet.mesh.points[i])) held[i] = 1;
  if (std::count(held.begin(), held.end(), 1) < 3)
    throw Error(Fault::input, "breathing: nothing holds the upper half; give it a [[closing.support]]");
  return held;
}

class Half {
 public:
  Half(const Sheet& sheet, const std::vector<double>& gap, const LaminateOptions& laminate, const FlowOptions& flow)
      : sheet_(sheet),
        gap_(gap),
        laminate_(laminate),
        flow_(flow),
        shell_(sheet.mesh, sections(sheet.mesh, flow.closing.half), held_nodes(sheet, flow.closing),
               flow.closing.clamped_rim) {}

  /// How far the half moves under this fluid pressure and what the glass gives back, starting from `move`. The glass is
  /// a spring that stiffens: linearised at the present gap, solved with the shell, and again.
  bool settle(const std::vector<double>& fluid, std::vector<double>& move) const {
    const std::size_t n = gap_.size();
    std::vector<double> at(n), push(n), spring(n);
    for (int k = 0; k < most_newton; ++k) {
      for (std::size_t i = 0; i < n; ++i) at[i] = gap_[i] + move[i];
      const auto here = compaction(at);
      for (std::size_t i = 0; i < n; ++i) at[i] -= step(at[i]);
      const auto closer = compaction(at);
      for (std::size_t i = 0; i < n; ++i) {
        spring[i] = std::max(0.0, closer[i] - here[i]) / step(gap_[i] + move[i]);
        push[i] = fluid[i] + here[i] - atmosphere_pa - flow_.closing.pressure + spring[i] * move[i];
      }
      const auto next = shell_.solve(push, spring);
      double change = 0;
      for (std::size_t i = 0; i < n; ++i) {
        const double h = std::max(gap_[i] + move[i], 0.1), wanted = gap_[i] + next[i];
        change = std::max(change, std::abs(next[i] - move[i]));
        move[i] = std::clamp(wanted, least_shrink * h, most_growth * h) - gap_[i];
      }
      if (change < newton_settled) {
        move = next;
        return true;
      }
    }
    return false;
  }

 private:
  static double step(double gap) { return 1e-4 * std::max(gap, 0.1); }  // for the slope of a smooth law
  std::vector<double> compaction(const std::vector<double>& gap) const {
    const auto map = evaluate_laminate(sheet_, gap, laminate_);
    std::vector<double> out;
    for (const auto& node : map.nodes) out.push_back(node.compaction);
    return out;
  }

  const Sheet& sheet_;
  const std::vector<double>& gap_;
  const LaminateOptions& laminate_;
  const FlowOptions& flow_;
  mutable Shell shell_;
};

BreathingState state(std::vector<double> move) {
  BreathingState s;
  const auto [least, greatest] = std::minmax_element(move.begin(), move.end());
  s.least = *least, s.least_node = static_cast<int>(least - move.begin());
  s.greatest = *greatest, s.greatest_node = static_cast<int>(greatest - move.begin());
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

Breathing breathe(const Sheet& sheet, const std::vector<double>& gap, const LaminateOptions& laminate,
                  const FlowOptions& flow, const Progress& progress) {
  Breathing out;
  if (flow.closing.half.empty()) return out;
  if (gap.size() != sheet.size()) throw Error(Fault::input, "breathing: one gap per node is needed");
  const Half half(sheet, gap, laminate, flow);
  std::vector<double> dry(gap.size(), 0);
  bool solved = half.settle(std::vector<double>(gap.size(), flow.cavity_pressure), dry);
  // The shape during the fill is taken as one: that under the mean over the fill of the fluid's pressure. Ahead of the
  // front the half is still pressed in, behind it it comes up: `dry` and `worst` bracket it.
  auto moved = dry;
  double relax = 1;
  for (int k = 0; k < most_rounds && !out.converged; ++k) {
    auto at = gap;
    for (std::size_t i = 0; i < gap.size(); ++i) at[i] += moved[i];
    out.front = fill(sheet, evaluate_laminate(sheet, at, laminate), flow, progress);
    auto next = moved;
    solved = half.settle(out.front.opening.mean_pressure, next) && solved;
    double change = 0;
    for (std::size_t i = 0; i < gap.size(); ++i) change = std::max(change, std::abs(next[i] - moved[i]));
    // A round that does not come nearer overshoots: half of it then does better.
    if (!out.changes.empty() && change > 0.8 * out.changes.back()) relax = std::max(0.25, 0.5 * relax);
    out.changes.push_back(change);
    out.converged = solved && change < settled;
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

}  // namespace gapfront
