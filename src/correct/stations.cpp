// Stations where the job gives none, and the stacks a stock can make.
#include <cmath>
#include <limits>
#include <map>

#include "core/segment.hpp"
#include "correct/shims.hpp"

namespace gapfront::correct {
namespace {

/// Counter-clockwise convex hull (Andrew's monotone chain, 1979).
std::vector<Eigen::Vector2d> hull(std::vector<Eigen::Vector2d> p) {
  std::sort(p.begin(), p.end(),
            [](const auto& a, const auto& b) { return a.x() != b.x() ? a.x() < b.x() : a.y() < b.y(); });
  std::vector<Eigen::Vector2d> out;
  for (int half = 0; half < 2; ++half) {
    const std::size_t start = out.size();
    for (const auto& q : p) {
      while (out.size() > start + 1 && cross(out.back() - out[out.size() - 2], q - out.back()) <= 0) out.pop_back();
      out.push_back(q);
    }
    out.pop_back();
    std::reverse(p.begin(), p.end());
  }
  return out;
}

}  // namespace

std::vector<Station> propose_stations(const Sheet& sheet, const GapMap& gap, const CorrectOptions& o) {
  const Seating frame = seat(sheet, gap, {});
  std::vector<Eigen::Vector2d> flat;
  double top = -1e300;  // the flange is where the sheet ends; its height is that of the highest rim
  for (std::size_t i = 0; i < sheet.size(); ++i) {
    flat.emplace_back(sheet.mesh.points[i].dot(frame.e1), sheet.mesh.points[i].dot(frame.e2));
    if (sheet.rim[i]) top = std::max(top, sheet.mesh.points[i].dot(frame.axis));
  }
  if (o.propose < 1 || flat.size() < 3 || top == -1e300) return {};
  const auto corner = hull(flat);
  std::vector<double> along{0};
  for (std::size_t k = 0; k < corner.size(); ++k)
    along.push_back(along.back() + (corner[(k + 1) % corner.size()] - corner[k]).norm());
  std::vector<Station> out;
  for (int s = 0; s < o.propose; ++s) {
    const double at = (s + 0.5) * along.back() / o.propose;
    const std::size_t k = std::upper_bound(along.begin(), along.end(), at) - along.begin() - 1;
    const Eigen::Vector2d side = (corner[(k + 1) % corner.size()] - corner[k]).normalized();
    const Eigen::Vector2d p =
        corner[k] + (at - along[k]) * side + o.flange_margin * Eigen::Vector2d(side.y(), -side.x());
    // Whole millimetres: nobody marks out a station finer than that.
    out.push_back({"P" + std::to_string(s + 1),
                   std::round(p.x()) * frame.e1 + std::round(p.y()) * frame.e2 + top * frame.axis, o.present, true});
  }
  return out;
}

std::vector<ShimStack> reachable_stacks(const std::vector<double>& stock, int max_pieces, double most) {
  std::map<long, std::vector<double>> found{{0, {}}}, edge = found;
  const long limit = most > 0 ? std::lround(most / kStackStep) : std::numeric_limits<long>::max();
  for (int n = 0; n < max_pieces; ++n) {
    std::map<long, std::vector<double>> next;
    for (const auto& [total, pieces] : edge)
      for (const double s : stock) {
        const long sum = total + std::lround(s / kStackStep);
        if (s <= 0 || sum > limit || found.count(sum) || next.count(sum)) continue;
        auto stack = pieces;
        stack.push_back(s);
        std::sort(stack.rbegin(), stack.rend());
        next[sum] = stack;
      }
    found.insert(next.begin(), next.end());
    edge = std::move(next);
  }
  std::vector<ShimStack> out;
  for (const auto& [total, pieces] : found) out.push_back({total * kStackStep, pieces});
  return out;
}

std::vector<ShimStack> reachable_stacks(const CorrectOptions& o) {
  auto out = reachable_stacks(o.stock, o.max_pieces, o.max_stack);
  if (!o.touch_tool) return out;
  if (!(o.shop_step > 0)) return out;
  for (double t = o.shop_step; t <= o.relieve_flange + 1e-9; t += o.shop_step)
    out.insert(out.begin(), ShimStack{-t, {}, t});
  return out;
}

}  // namespace gapfront::correct
