// Integer search for the stacks.
#include "correct/shims.hpp"

#include <cmath>
#include <map>

namespace gapfront {
namespace {

// Stacks are told apart to 1 µm, finer than any shim.
constexpr double kStep = 1e-3;
// Combinations tried exhaustively: 8 levels at 4 stations, 4 at 6; a fraction of a second on 20,000 nodes.
constexpr double kMostCombinations = 4096;
// Beyond six stations exhaustive search grows out of hand and each station in turn is moved until nothing improves.
constexpr std::size_t kExhaustiveStations = 6;
// Equal within a thousandth of the sheet's area and 1 µm RMS: less than the map can tell, so fewer pieces decide.
constexpr double kAreaStep = 1e-3, kRmsStep = 1e-3, kLooseStep = 1e-2;

long rounded(double value, double step) { return std::lround(value / step); }

}  // namespace

std::vector<Stack> reachable_stacks(const std::vector<double>& stock, int max_pieces) {
  std::map<long, std::vector<double>> found{{0, {}}}, edge = found;
  for (int n = 0; n < max_pieces; ++n) {
    std::map<long, std::vector<double>> next;
    for (const auto& [total, pieces] : edge)
      for (const double s : stock) {
        const long sum = total + rounded(s, kStep);
        if (s <= 0 || found.count(sum) || next.count(sum)) continue;
        auto stack = pieces;
        stack.push_back(s);
        std::sort(stack.rbegin(), stack.rend());
        next[sum] = stack;
      }
    found.insert(next.begin(), next.end());
    edge = std::move(next);
  }
  std::vector<Stack> out;
  for (const auto& [total, pieces] : found) out.push_back({total * kStep, pieces});
  return out;
}

bool better(const ShimScore& a, const ShimScore& b) {
  const auto key = [](const ShimScore& s) {
    return std::array<long, 5>{rounded(s.out_area, kAreaStep), rounded(s.rms, kRmsStep), rounded(s.loose, kLooseStep),
                               s.changed, s.pieces};
  };
  return key(a) < key(b);
}

ShimScore score_shims(const Sheet& sheet, const GapMap& gap, const std::vector<NodeLimits>& limits,
                      const std::vector<double>& deviation, const Seating& seating, const Vec3& plane) {
  ShimScore s;
  double total = 0, square = 0;
  for (std::size_t i = 0; i < sheet.size(); ++i) {
    if (!gap.nodes[i].measured || !std::isfinite(deviation[i])) continue;
    const double d = deviation[i] + seating.row(sheet.mesh.points[i], gap.nodes[i].direction).dot(plane);
    const double over = std::max(d - (limits[i].high - limits[i].nominal), (limits[i].low - limits[i].nominal) - d);
    if (over > 0) s.out_area += sheet.area[i] * (over > gap.nodes[i].U ? 2 : 1);
    square += sheet.area[i] * d * d;
    total += sheet.area[i];
  }
  if (total > 0) s.rms = std::sqrt(square / total);
  // As a share, so that kAreaStep means the same on every sheet.
  if (total > 0) s.out_area /= total;
  return s;
}

std::vector<double> without_regions(const Verdict& v) {
  auto out = v.deviation;
  for (const auto& r : v.regions)
    for (const int i : r.nodes) out[i] -= v.remainder[i];
  return out;
}

std::optional<ShimChoice> choose_shims(const Sheet& sheet, const GapMap& gap, const std::vector<NodeLimits>& limits,
                                       const std::vector<double>& deviation, const RigidPart& rigid,
                                       const CorrectOptions& o) {
  const std::size_t n = o.stations.size();
  const auto levels = reachable_stacks(o.stock, o.max_pieces);
  if (n == 0 || levels.size() < 2) return std::nullopt;
  const Seating seating = seat(sheet, gap, o.stations);
  if (!seating.rest(std::vector<double>(n, 0))) return std::nullopt;

  // What may lie at each station: its levels nearest to the continuous optimum, and what lies there now. A present
  // stack that the stock cannot make is kept as it is or replaced as a whole.
  const double window = n <= kExhaustiveStations ? std::floor(std::pow(kMostCombinations, 1.0 / n) + 1e-9) : 5;
  std::vector<std::vector<Stack>> choices(n);
  std::vector<std::size_t> start(n), now(n);
  for (std::size_t k = 0; k < n; ++k) {
    const Station& s = o.stations[k];
    const double wanted = s.present - (rigid.offset + rigid.tilt.cross(s.at - rigid.pivot).dot(rigid.axis));
    auto near = levels;
    std::stable_sort(near.begin(), near.end(), [&](const Stack& a, const Stack& b) {
      return std::abs(a.total - wanted) < std::abs(b.total - wanted);
    });
    near.resize(std::min<std::size_t>(near.size(), static_cast<std::size_t>(std::max(2.0, window - 1))));
    const auto same = [&](const Stack& x) { return rounded(x.total, kStep) == rounded(s.present, kStep); };
    auto present = std::find_if(near.begin(), near.end(), same);
    if (present == near.end()) {
      const auto known = std::find_if(levels.begin(), levels.end(), same);
      near.push_back(known != levels.end() ? *known : Stack{s.present, {s.present}});
      present = near.end() - 1;
    }
    now[k] = present - near.begin();
    choices[k] = near;
  }
  const auto evaluate = [&](const std::vector<std::size_t>& pick, ShimChoice* out) {
    std::vector<double> change(n), clearance(n);
    ShimScore score;
    int pieces = 0, changed = 0;
    for (std::size_t k = 0; k < n; ++k) {
      change[k] = pick[k] == now[k] ? 0 : choices[k][pick[k]].total - o.stations[k].present;
      pieces += static_cast<int>(choices[k][pick[k]].pieces.size());
      changed += pick[k] != now[k];
    }
    const auto plane = seating.rest(change);
    if (!plane) {
      score.out_area = score.rms = 1e9;
      return score;
    }
    score = score_shims(sheet, gap, limits, deviation, seating, *plane);
    for (std::size_t k = 0; k < n; ++k) score.loose += clearance[k] = seating.height(*plane, k) - change[k];
    score.pieces = pieces, score.changed = changed;
    if (out) {
      out->stacks.clear();
      for (std::size_t k = 0; k < n; ++k) out->stacks.push_back(choices[k][pick[k]]);
      out->change = change, out->clearance = clearance, out->after = score;
    }
    return score;
  };

  ShimChoice out;
  std::vector<std::size_t> best = now;
  out.before = evaluate(now, nullptr);
  ShimScore best_score = out.before;
  const auto consider = [&](const std::vector<std::size_t>& pick) {
    const ShimScore s = evaluate(pick, nullptr);
    if (!better(s, best_score)) return false;
    best_score = s, best = pick;
    return true;
  };
  if (n <= kExhaustiveStations) {
    out.exhaustive = true;
    std::vector<std::size_t> pick(n, 0);
    for (bool more = true; more;) {
      consider(pick);
      more = false;
      for (std::size_t k = 0; k < n && !more; ++k) {
        more = ++pick[k] < choices[k].size();
        if (!more) pick[k] = 0;
      }
    }
  } else {
    consider(start);  // the levels nearest to the continuous optimum
    for (bool improved = true; improved;) {
      improved = false;
      for (std::size_t k = 0; k < n; ++k)
        for (std::size_t c = 0; c < choices[k].size(); ++c) {
          auto pick = best;
          pick[k] = c;
          improved = consider(pick) || improved;
        }
    }
  }
  evaluate(best, &out);
  return out;
}

}  // namespace gapfront
