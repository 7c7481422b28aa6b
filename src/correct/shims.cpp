// Branch and bound for the stacks.
#include "correct/shims.hpp"

#include <cmath>
#include <queue>

#include "core/parallel.hpp"

namespace gapfront::correct {
namespace {

// Equal within a thousandth of the sheet's area and 1 µm RMS: less than the map can tell, so fewer pieces decide.
// The front is a share as well, and steps alike.
constexpr double kAreaStep = 1e-3, kRmsStep = 1e-3, kFrontStep = 1e-3;
// A station that hangs free by 0.1 mm counts as 5 µm RMS (own choice), lest the half be set on three stations for a
// gain that nobody can measure.
constexpr double kLooseFraction = 0.05;
// Work after which the search stops unproven, as node × carrier evaluations: about a second. A carrier's least squares
// take as long as some three thousand nodes.
constexpr double kMostWork = 5e8, kCarrierWork = 3000;
// Bounds are lowered by this much, far below every step, so that rounding never makes one exceed what it bounds.
constexpr double kRounding = 1e-9;

long rounded(double value, double step) { return std::lround(value / step); }

/// Levels lo … hi at every station.
struct Box {
  std::vector<int> lo, hi;
  ShimScore bound;
  long born = 0;
};

class ShimSearch {
 public:
  ShimSearch(const Sheet& sheet, const GapMap& gap, const std::vector<NodeLimits>& limits,
             const std::vector<double>& deviation, const Seating& seating, const std::vector<Station>& stations)
      : seating_(seating), stations_(stations), carriers_(seating.carriers()) {
    for (std::size_t i = 0; i < sheet.size(); ++i) {
      if (!gap.nodes[i].measured || !std::isfinite(deviation[i])) continue;
      nodes_.push_back({seating.row(sheet.mesh.points[i], gap.nodes[i].direction), deviation[i],
                        limits[i].low - limits[i].nominal, limits[i].high - limits[i].nominal, gap.nodes[i].U,
                        sheet.area[i]});
      const Node& n = nodes_.back();
      total_ += n.area, square_ += n.area * n.d * n.d, g_ += n.area * n.d * n.row;
      h_ += n.area * n.row * n.row.transpose();
    }
  }

  /// Levels of one station: what lies there now is always among them, as index now[k].
  void levels_of(std::size_t k, const std::vector<ShimStack>& all) {
    auto own = all;
    const auto same = [&](const ShimStack& x) {
      return rounded(x.total, kStackStep) == rounded(stations_[k].present, kStackStep);
    };
    if (std::none_of(own.begin(), own.end(), same)) own.push_back({stations_[k].present, {stations_[k].present}});
    std::sort(own.begin(), own.end(), [](const ShimStack& a, const ShimStack& b) { return a.total < b.total; });
    now_.push_back(static_cast<int>(std::find_if(own.begin(), own.end(), same) - own.begin()));
    levels_.push_back(std::move(own));
  }
  int nearest_level(std::size_t k, double total) const {
    int best = 0;
    for (int c = 1; c < count(k); ++c)
      if (std::abs(levels_[k][c].total - total) < std::abs(levels_[k][best].total - total)) best = c;
    return best;
  }
  int count(std::size_t k) const { return static_cast<int>(levels_[k].size()); }
  const std::vector<int>& now() const { return now_; }
  const ShimStack& stack(std::size_t k, int c) const { return levels_[k][c]; }
  double change(std::size_t k, int c) const { return c == now_[k] ? 0 : levels_[k][c].total - stations_[k].present; }

  ShimScore score(const Vec3& plane) const {
    ShimScore s;
    for (const Node& n : nodes_) {
      const double d = n.d + n.row.dot(plane), over = std::max(d - n.high, n.low - d);
      if (over > 0) s.out_area += n.area * (over > n.U ? 2 : 1);
    }
    // As a share, so that kAreaStep means the same on every sheet.
    if (total_ > 0)
      s.out_area /= total_,
          s.rms = std::sqrt(std::max(0.0, square_ + 2 * g_.dot(plane) + plane.dot(h_ * plane)) / total_);
    return s;
  }
  ShimScore evaluate(const std::vector<int>& pick, ShimChoice* out = nullptr) const {
    const std::size_t n = stations_.size();
    std::vector<double> change(n), clearance(n);
    for (std::size_t k = 0; k < n; ++k) change[k] = this->change(k, pick[k]);
    const auto plane = seating_.rest(change);
    if (!plane) {
      ShimScore never;
      never.out_area = never.rms = 1e9;
      return never;
    }
    ShimScore s = score(*plane);
    for (std::size_t k = 0; k < n; ++k) {
      s.loose += clearance[k] = seating_.height(*plane, k) - change[k];
      s.pieces += static_cast<int>(levels_[k][pick[k]].pieces.size()), s.changed += pick[k] != now_[k];
    }
    if (out) {
      out->stacks.clear();
      for (std::size_t k = 0; k < n; ++k) out->stacks.push_back(levels_[k][pick[k]]);
      out->change = change, out->clearance = clearance, out->after = s, out->plane = *plane;
    }
    return s;
  }

  /// No combination in the box is better than this. Whatever the half rests on is one of the carriers, and over a
  /// carrier all heights are linear in the heights of its three stations.
  ShimScore bound(const Box& box, bool area_matters) const {
    ShimScore minimum;
    minimum.out_area = minimum.rms = 1e9;
    for (const auto& c : carriers_) {
      const ShimScore s = bound(box, c, area_matters);
      if (better(s, minimum)) minimum = s;
    }
    return minimum;
  }
  double cost(bool area_matters) const {
    return static_cast<double>(carriers_.size()) * (kCarrierWork + (area_matters ? nodes_.size() : 0));
  }

 private:
  struct Node {
    Vec3 row;
    double d, low, high, U, area;
  };

  ShimScore bound(const Box& box, const Seating::Carrier& c, bool area_matters) const {
    ShimScore s;
    Vec3 lo, hi;
    for (int j = 0; j < 3; ++j) {
      const std::size_t k = c.station[j];
      lo[j] = change(k, box.lo[k]), hi[j] = change(k, box.hi[k]);
    }
    const auto range = [&](const Vec3& w) {  // of w·heights
      return std::pair(w.cwiseProduct(lo).cwiseMin(w.cwiseProduct(hi)).sum(),
                       w.cwiseProduct(lo).cwiseMax(w.cwiseProduct(hi)).sum());
    };
    for (std::size_t k = 0; k < stations_.size(); ++k) {
      int pieces = 1000;
      for (int l = box.lo[k]; l <= box.hi[k]; ++l)
        pieces = std::min(pieces, static_cast<int>(levels_[k][l].pieces.size()));
      s.pieces += pieces;
      s.changed += now_[k] < box.lo[k] || now_[k] > box.hi[k];
      if (k == c.station[0] || k == c.station[1] || k == c.station[2]) continue;
      const auto [minimum, most] = range(c.plane.transpose() * Vec3(1, seating_.at[k].x(), seating_.at[k].y()));
      if (most < change(k, box.lo[k]) - 1e-4) {  // that station stands higher, so these three do not carry
        s.out_area = s.rms = 1e9;
        return s;
      }
      s.loose += std::max(0.0, minimum - change(k, box.hi[k]));
    }
    if (area_matters && total_ > 0) {
      for (const Node& n : nodes_) {
        const auto [minimum, most] = range(c.plane.transpose() * n.row);
        const double over = std::max(n.d + minimum - n.high, n.low - n.d - most);
        if (over > kRounding) s.out_area += n.area * (over - kRounding > n.U ? 2 : 1);
      }
      s.out_area = std::max(0.0, s.out_area / total_ - kRounding);
    }
    if (total_ > 0) s.rms = std::max(0.0, std::sqrt(least_square(c, lo, hi) / total_) - kRounding);
    return s;
  }

  /// Least of the convex quadratic Σ a (d + row·plane)² over the box of three heights: every choice of heights that
  /// stick at a side is tried, which is exact.
  double least_square(const Seating::Carrier& c, const Vec3& lo, const Vec3& hi) const {
    const Eigen::Matrix3d h = c.plane.transpose() * h_ * c.plane;
    const Vec3 g = c.plane.transpose() * g_;
    double best = 1e300;
    for (int code = 0; code < 27; ++code) {
      Vec3 x;
      std::array<int, 3> free{};
      int count = 0;
      for (int j = 0, rest = code; j < 3; ++j, rest /= 3) {
        if (rest % 3 == 2) free[count++] = j;
        x[j] = rest % 3 == 1 ? hi[j] : rest % 3 == 0 ? lo[j] : 0;
      }
      if (count > 0) {
        Eigen::MatrixXd a(count, count);
        Eigen::VectorXd b(count);
        const Vec3 fixed = h * x + g;
        for (int p = 0; p < count; ++p) {
          b[p] = -fixed[free[p]];
          for (int q = 0; q < count; ++q) a(p, q) = h(free[p], free[q]);
        }
        const Eigen::VectorXd y = a.ldlt().solve(b);
        bool inside = y.allFinite();
        for (int p = 0; p < count; ++p) {
          inside = inside && y[p] >= lo[free[p]] - kRounding && y[p] <= hi[free[p]] + kRounding;
          x[free[p]] = y[p];
        }
        if (!inside) continue;
      }
      best = std::min(best, square_ + 2 * g.dot(x) + x.dot(h * x));
    }
    return std::max(0.0, best);
  }

  const Seating& seating_;
  const std::vector<Station>& stations_;
  std::vector<Seating::Carrier> carriers_;
  std::vector<Node> nodes_;
  std::vector<std::vector<ShimStack>> levels_;
  std::vector<int> now_;
  double total_ = 0, square_ = 0;
  Vec3 g_ = Vec3::Zero();
  Eigen::Matrix3d h_ = Eigen::Matrix3d::Zero();
};

/// The best so far, best first: those that leave as little area out as the first, each seating once.
class Shortlist {
 public:
  struct Entry {
    ShimScore score;
    std::vector<int> pick;
    std::vector<double> heights;  ///< of the seated half over the stations
  };
  explicit Shortlist(std::size_t most) : max_(most) {}
  const Entry& best() const { return entries_.front(); }
  const std::vector<Entry>& entries() const { return entries_; }
  bool full() const { return entries_.size() == max_; }
  /// Whether a combination that good would get in.
  bool wants(const ShimScore& s) const {
    if (entries_.empty()) return true;
    if (full()) return better(s, entries_.back().score);
    return key_of(s)[0] <= key_of(best().score)[0];
  }
  void offer(const ShimSearch& search, const std::vector<int>& pick) {
    const ShimScore s = search.evaluate(pick);
    if (!wants(s)) return;
    ShimChoice seated;
    search.evaluate(pick, &seated);
    Entry e{s, pick, {}};
    for (std::size_t k = 0; k < pick.size(); ++k) e.heights.push_back(seated.change[k] + seated.clearance[k]);
    const auto same = std::find_if(entries_.begin(), entries_.end(), [&](const Entry& other) {
      for (std::size_t k = 0; k < pick.size(); ++k)
        if (std::abs(other.heights[k] - e.heights[k]) > kSameHeight) return false;
      return true;
    });
    if (same != entries_.end()) {
      if (!better(s, same->score)) return;
      entries_.erase(same);
    }
    entries_.insert(std::upper_bound(entries_.begin(), entries_.end(), s,
                                     [](const ShimScore& a, const Entry& b) { return better(a, b.score); }),
                    std::move(e));
    while (entries_.size() > max_ || key_of(entries_.back().score)[0] > key_of(best().score)[0]) entries_.pop_back();
  }

 private:
  std::size_t max_;
  std::vector<Entry> entries_;
};

/// Station by station to whatever is best there, until nothing improves.
void descend(const ShimSearch& search, Shortlist& list) {
  for (auto key = key_of(list.best().score);; key = key_of(list.best().score)) {
    for (std::size_t k = 0; k < list.best().pick.size(); ++k)
      for (int c = 0; c < search.count(k); ++c) {
        auto pick = list.best().pick;
        pick[k] = c;
        list.offer(search, pick);
      }
    if (key == key_of(list.best().score)) return;
  }
}

}  // namespace

std::array<long, 4> key_of(const ShimScore& s) {
  return {rounded(s.out_area, kAreaStep), rounded(s.rms + kLooseFraction * s.loose, kRmsStep), s.changed, s.pieces};
}
bool better(const ShimScore& a, const ShimScore& b) { return key_of(a) < key_of(b); }

ShimScore score_shims(const Sheet& sheet, const GapMap& gap, const std::vector<NodeLimits>& limits,
                      const std::vector<double>& deviation, const Seating& seating, const Vec3& plane) {
  return ShimSearch(sheet, gap, limits, deviation, seating, {}).score(plane);
}

std::vector<double> without_regions(const Verdict& v) {
  auto out = v.deviation;
  for (const auto& r : v.regions)
    for (const int i : r.nodes) out[i] -= v.remainder[i];
  return out;
}

std::optional<ShimChoice> choose_shims(const Sheet& sheet, const GapMap& gap, const std::vector<NodeLimits>& limits,
                                       const std::vector<double>& deviation, const RigidPart& rigid,
                                       const CorrectOptions& o, const FrontOf& front, std::size_t most) {
  const std::size_t n = o.stations.size();
  const auto levels = reachable_stacks(o);
  if (n == 0 || levels.size() < 2) return std::nullopt;
  const Seating seating = seat(sheet, gap, o.stations);
  if (!seating.rest(std::vector<double>(n, 0))) return std::nullopt;
  ShimSearch search(sheet, gap, limits, deviation, seating, o.stations);
  for (std::size_t k = 0; k < n; ++k) search.levels_of(k, levels);

  ShimChoice out;
  std::vector<int> near(n);
  Shortlist list(front ? most : 1);
  list.offer(search, search.now());
  out.before = list.best().score;
  for (std::size_t k = 0; k < n; ++k) {  // the levels nearest to the continuous optimum
    const Station& s = o.stations[k];
    near[k] =
        search.nearest_level(k, s.present - (rigid.offset + rigid.tilt.cross(s.at - rigid.pivot).dot(rigid.axis)));
  }
  list.offer(search, near);
  descend(search, list);

  // Best first: the box with the lowest bound is halved at its widest station. With fewer than three stations the
  // half rests on what there is, and the descent is all there is to find.
  const auto later = [](const Box& a, const Box& b) {
    const auto x = key_of(a.bound), y = key_of(b.bound);
    return x != y ? x > y : a.born < b.born;
  };
  std::priority_queue<Box, std::vector<Box>, decltype(later)> open(later);
  double work = 0;
  const auto offer = [&](Box box) {
    const bool area_matters = key_of(list.best().score)[0] > 0 || !list.full();
    work += search.cost(area_matters);
    box.bound = search.bound(box, area_matters);
    box.born = ++out.boxes;
    if (list.wants(box.bound)) open.push(std::move(box));
  };
  if (n >= 3) {
    Box all{std::vector<int>(n, 0), std::vector<int>(n), {}};
    for (std::size_t k = 0; k < n; ++k) all.hi[k] = search.count(k) - 1;
    offer(std::move(all));
  }
  while (!open.empty() && list.wants(open.top().bound) && work < kMostWork) {
    const Box box = open.top();
    open.pop();
    std::size_t widest = 0;
    double width = -1;
    for (std::size_t k = 0; k < n; ++k) {
      const double w = search.stack(k, box.hi[k]).total - search.stack(k, box.lo[k]).total;
      if (box.hi[k] > box.lo[k] && w > width) width = w, widest = k;
    }
    if (width < 0) {
      list.offer(search, box.lo);
      continue;
    }
    const int middle = (box.lo[widest] + box.hi[widest]) / 2;
    Box low = box, high = box;
    low.hi[widest] = middle, high.lo[widest] = middle + 1;
    offer(std::move(low)), offer(std::move(high));
  }
  const ShimScore best = list.best().score;
  out.proven = n == 1 || (n >= 3 && (open.empty() || !better(open.top().bound, best)));
  out.bound = out.proven || open.empty() ? best : open.top().bound;
  if (front && list.entries().size() > 1) {
    std::vector<Vec3> planes;
    for (const auto& e : list.entries()) search.evaluate(e.pick, &out), planes.push_back(out.plane);
    out.tied.resize(planes.size());
    parallel_for(
        planes.size(), [&](std::size_t k) { out.tied[k] = front(planes[k]); }, 1);
    std::vector<long> steps;
    for (const double t : out.tied) steps.push_back(rounded(t, kFrontStep));
    out.taken = static_cast<std::size_t>(std::min_element(steps.begin(), steps.end()) - steps.begin());
  }
  search.evaluate(list.entries()[out.taken].pick, &out);
  return out;
}

}  // namespace gapfront::correct
