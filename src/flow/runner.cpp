// Perimeter runners that resist.
#include <algorithm>
#include <cmath>
#include <map>

#include "core/neighbours.hpp"
#include "flow/network.hpp"

namespace gapfront::flow {
namespace {

struct Duct {
  double kappa = 0, section = 0;  // mm⁴, flow = κ/µ · |∇p|; mm²
};

// Laminar flow in a rectangle a ≥ b: κ = a b³/12 · (1 − 192/π⁵ · b/a · Σ tanh(nπa/2b)/n⁵, n odd; Boussinesq 1868, as
// textbooks of viscous flow give it). Three terms leave less than 0.02 % of it off in a square.
Duct duct(double width, double depth) {
  const double a = std::max(width, depth), b = std::min(width, depth);
  double sum = 0;
  for (const int n : {1, 3, 5}) sum += std::tanh(n * M_PI * a / (2 * b)) / std::pow(n, 5);
  return {a * b * b * b / 12 * (1 - 192 / std::pow(M_PI, 5) * b / a * sum), a * b};
}

using Edge = std::pair<int, int>;

// Of the outer boundary: not those of a hole.
std::vector<Edge> outer_edges(const Sheet& sheet) {
  auto out = rim_edges(sheet.mesh);
  std::erase_if(out, [&](const Edge& e) { return !sheet.rim[e.first] || !sheet.rim[e.second]; });
  return out;
}

/// Distance along the rim from one of its nodes, per node; −1: not on that loop.
struct Loop {
  std::vector<double> at;
  double length = 0;
};
Loop loop_from(const Sheet& sheet, const std::vector<Edge>& edges, int start) {
  std::map<int, std::vector<int>> beside;
  for (const auto& [i, j] : edges) beside[i].push_back(j), beside[j].push_back(i);
  Loop out{std::vector<double>(sheet.size(), -1)};
  const auto& p = sheet.mesh.points;
  for (int i = start, next = start; next >= 0; i = next) {
    out.at[i] = out.length;
    next = -1;
    for (const int j : beside[i])
      if (next < 0 && out.at[j] < 0) next = j;
    if (next < 0) {
      out.length += (p[i] - p[start]).norm();
      break;
    }
    out.length += (p[next] - p[i]).norm();
  }
  return out;
}

int nearest_on_rim(const Sheet& sheet, const std::vector<Edge>& edges, const Vec3& at) {
  int best = edges.front().first;
  for (const auto& e : edges)
    for (const int i : {e.first, e.second})
      if ((sheet.mesh.points[i] - at).squaredNorm() < (sheet.mesh.points[best] - at).squaredNorm()) best = i;
  return best;
}

/// Sections in the order of their places along the rim.
class Sections {
 public:
  Sections(const Sheet& sheet, const std::vector<Edge>& edges, const Inlet& inlet) {
    if (inlet.sections.empty()) {
      places_.push_back({0, {Vec3::Zero(), inlet.runner_width, inlet.runner_depth}});
      return;
    }
    loop_ = loop_from(sheet, edges, nearest_on_rim(sheet, edges, inlet.sections.front().at));
    for (const auto& s : inlet.sections)
      places_.emplace_back(std::max(0.0, loop_.at[nearest_on_rim(sheet, edges, s.at)]), s);
    std::stable_sort(places_.begin(), places_.end(), [](const auto& a, const auto& b) { return a.first < b.first; });
  }
  /// In the middle of an edge.
  Duct operator()(const Edge& e) const {
    const RunnerSection& first = places_.front().second;
    if (places_.size() == 1 || loop_.at[e.first] < 0 || loop_.at[e.second] < 0) return duct(first.width, first.depth);
    double a = loop_.at[e.first], b = loop_.at[e.second];
    if (std::abs(a - b) > 0.5 * loop_.length) (a < b ? a : b) += loop_.length;  // across where the loop begins
    double at = 0.5 * (a + b);
    if (at >= loop_.length) at -= loop_.length;
    auto next =
        std::upper_bound(places_.begin(), places_.end(), at, [](double x, const auto& p) { return x < p.first; });
    const auto& before = *(next - 1);
    const bool round = next == places_.end();
    const auto& after = round ? places_.front() : *next;
    const double span = after.first + (round ? loop_.length : 0) - before.first;
    const double share = span > 0 ? (at - before.first) / span : 0;
    const auto between = [&](double x, double y) { return x + share * (y - x); };
    return duct(between(before.second.width, after.second.width), between(before.second.depth, after.second.depth));
  }

 private:
  Loop loop_;
  std::vector<std::pair<double, RunnerSection>> places_;
};

}  // namespace

void add_runners(Network& net, const Sheet& sheet, const std::vector<Inlet>& inlets) {
  const auto join = [&net](int i, int j, double t) {
    const auto entry = std::lower_bound(net.to.begin() + net.start[i], net.to.begin() + net.start[i + 1], j);
    net.t[entry - net.to.begin()] += t;
  };
  for (const auto& inlet : inlets) {
    if (!inlet.perimeter || !inlet.has_section()) continue;
    const auto edges = outer_edges(sheet);
    if (edges.empty()) continue;
    const Sections sections(sheet, edges, inlet);
    std::vector<double> kappa(net.size(), 0), area(net.size(), 0);
    std::vector<int> ways(net.size(), 0);
    for (const auto& edge : edges) {
      const auto [i, j] = edge;
      const double length = (sheet.mesh.points[i] - sheet.mesh.points[j]).norm();
      if (!(length > 0)) continue;
      const Duct d = sections(edge);
      join(i, j, d.kappa / length), join(j, i, d.kappa / length);
      for (int k : {i, j})
        net.volume[k] += 0.5 * length * d.section, kappa[k] += d.kappa, area[k] += d.section, ++ways[k];
    }
    for (int i = 0; i < net.size(); ++i) {
      if (!ways[i]) continue;
      // Runner and the sheet beside it, as wide as the control volume, side by side.
      const double k = kappa[i] / ways[i], section = area[i] / ways[i];
      const double beside = std::max(0.0, (net.volume[i] - net.width[i] * section) / net.width[i]);  // mm² of resin
      net.reach[i] = (net.reach[i] * beside + 2 * k) / (beside + section);
    }
  }
}

}  // namespace gapfront::flow
