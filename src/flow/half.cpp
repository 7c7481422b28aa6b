#include "flow/half.hpp"

#include <algorithm>
#include <cmath>

#include "gapfront/error.hpp"

namespace gapfront::flow {
namespace {

constexpr double kNewtonSettled = 1e-4;  // mm; well below what the fixed point around it settles to
constexpr int kMaxNewton = 100;          // usually under 20
// Per step of Newton's method the gap at a node shrinks to no less than this share of itself, and grows to no more than
// that one: the glass's law is steep, and its slope far away says nothing.
constexpr double kMinShrink = 0.85, kMaxGrowth = 1.5;

double step(double gap) { return 1e-4 * std::max(gap, 0.1); }  // for the slope of a smooth law

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

}  // namespace

Half::Half(const Sheet& sheet, const std::vector<double>& gap, const LaminateOptions& laminate, const FlowOptions& flow)
    : sheet_(sheet),
      gap_(gap),
      laminate_(laminate),
      flow_(flow),
      shell_(sheet.mesh, sections(sheet.mesh, flow.closing.half), held_nodes(sheet, flow.closing),
             flow.closing.clamped_rim) {}

std::vector<double> Half::compaction(const std::vector<double>& gap, const std::vector<double>& fluid) const {
  const auto map = laminate::evaluate_laminate(sheet_, gap, laminate_);
  std::vector<double> out;
  for (const auto& node : map.nodes) {
    const std::size_t i = out.size();
    double push = node.compaction;
    if (!before_.empty() && push < before_[i]) push = before_[i] * std::pow(push / before_[i], flow_.closing.unloading);
    if (fluid[i] > flow_.cavity_pressure) push *= flow_.closing.wet_glass;
    out.push_back(push);
  }
  return out;
}

void Half::squeezed(const std::vector<double>& move) {
  before_.clear();
  if (!(flow_.closing.unloading > 1)) return;
  auto at = gap_;
  for (std::size_t i = 0; i < at.size(); ++i) at[i] += move[i];
  before_ = compaction(at, std::vector<double>(at.size(), flow_.cavity_pressure));
}

// The glass is a spring that stiffens: linearised at the present gap, solved with the shell, and again.
bool Half::settle(const std::vector<double>& fluid, std::vector<double>& move) {
  const std::size_t n = gap_.size();
  std::vector<double> at(n), load(n), spring(n);
  for (int k = 0; k < kMaxNewton; ++k) {
    for (std::size_t i = 0; i < n; ++i) at[i] = gap_[i] + move[i];
    const auto here = compaction(at, fluid);
    for (std::size_t i = 0; i < n; ++i) at[i] -= step(at[i]);
    const auto closer = compaction(at, fluid);
    for (std::size_t i = 0; i < n; ++i) {
      spring[i] = std::max(0.0, closer[i] - here[i]) / step(gap_[i] + move[i]);
      load[i] = fluid[i] + here[i] - atmosphere_pa - flow_.closing.pressure + spring[i] * move[i];
    }
    const auto next = shell_.solve(load, spring);
    double change = 0;
    for (std::size_t i = 0; i < n; ++i) {
      const double h = std::max(gap_[i] + move[i], 0.1), wanted = gap_[i] + next[i];
      change = std::max(change, std::abs(next[i] - move[i]));
      move[i] = std::clamp(wanted, kMinShrink * h, kMaxGrowth * h) - gap_[i];
    }
    if (change < kNewtonSettled) {
      move = next;
      return true;
    }
  }
  return false;
}

}  // namespace gapfront::flow
