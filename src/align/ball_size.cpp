#include "align/ball_size.hpp"

#include <Eigen/LU>
#include <algorithm>
#include <cmath>
#include <map>

#include "core/linear.hpp"
#include "core/parallel.hpp"
#include "core/statistics.hpp"

namespace gapfront::align {
namespace {

// So many standard errors make a difference sure: with the spread of four balls or more by chance in 1 of some 10,000
// inspections, with fewer, which say less of their spread, five.
constexpr double kSure = 4, kSureOfFew = 5;
constexpr std::size_t kTellSpread = 4;
// Differences that move the closed position by less than this share of the play are no matter, mm where there is none.
constexpr double kWorthSaying = 0.2, kLeastPlay = 0.01;
// A ball of another size than this is another thing.
constexpr double kMostOff = 0.3;
// Of the points that stand around the cap of a ball, half at least lie on it; on a clean one all but the strays do.
constexpr double kLeastShare = 0.5;
// The cap: within 75° of the middle of the points that were used. Around it: a sixth of the radius either way, less
// than what a ball stands on is off its cap.
constexpr double kCap = 0.25, kAround = 0.15;

struct Sized {
  Located* place = nullptr;
  const Target* target = nullptr;
  bool upper = false;
  std::vector<Vec3> near;  ///< what a fit with the job's diameter sees, scan frame
  double off = 0, u = 0;   ///< measured diameter less the job's, mm
  double lean = 0;         ///< by which the centre moves for a mm of the radius
  double share = 1;        ///< of the points around the cap, of those on the ball
  double fitted = 0;       ///< diameter that it is to be fitted with, mm; 0: the job's
  bool known = false;      ///< the diameter could be measured
};

std::vector<Vec3> points_within(const std::vector<Vec3>& points, const Vec3& at, double reach) {
  std::vector<Vec3> out;
  for (const Vec3& p : points)
    if ((p - at).squaredNorm() <= reach * reach) out.push_back(p);
  return out;
}

double share_on(const std::vector<Vec3>& near, const SphereFit& fit) {
  Vec3 middle = Vec3::Zero();
  for (const Vec3& p : fit.kept) middle += p.normalized();
  middle.normalize();
  const auto on_cap = [&](const Vec3& d) { return d.dot(middle) > kCap * d.norm(); };
  const auto on = std::count_if(fit.kept.begin(), fit.kept.end(), on_cap);
  const auto around = std::count_if(near.begin(), near.end(), [&](const Vec3& p) {
    const Vec3 d = p - fit.centre;
    return std::abs(d.norm() - fit.radius) < kAround * fit.radius && on_cap(d);
  });
  return around > 0 ? double(on) / double(around) : 1;
}

void measure_size(Sized& s, const std::vector<Vec3>& points, double noise) {
  const double radius = *s.target->ball / 2;
  s.near = points_within(points, s.place->at, 2.3 * radius);
  const auto close = points_within(s.near, s.place->at, 1.3 * radius);
  const SphereFit fit = fit_sphere(close, s.place->at, {.radius = 0, .noise = noise});
  if (fit.used == 0 || std::abs(fit.radius - radius) > kMostOff * radius ||
      (fit.centre - s.place->at).norm() > 0.5 * radius)
    return;
  Eigen::Matrix4d normal = Eigen::Matrix4d::Zero();
  for (const Vec3& p : fit.kept) {
    Eigen::Vector4d g;
    g << p.normalized(), 1;
    normal += g * g.transpose();
  }
  const Eigen::Matrix3d across = normal.topLeftCorner<3, 3>();
  s.lean = solve_symmetric(Eigen::MatrixXd(across), Eigen::VectorXd(normal.topRightCorner<3, 1>())).norm();
  s.off = 2 * (fit.radius - radius);
  s.u = 2 * std::max(fit.rms, fit.used < 30 ? noise : 0.0) * std::sqrt(std::max(0.0, normal.inverse()(3, 3)));
  s.share = share_on(close, fit);
  s.known = true;
}

/// Of one half and one diameter.
struct Group {
  std::vector<Sized*> balls;
  double off = 0, spread = 0, se = 0, lean = 0;
  bool sure = false;
  double moves() const { return 0.5 * lean * std::abs(off); }
};

void judge_group(Group& g) {
  std::vector<double> offs, leans, apart;
  double u2 = 0;
  for (const Sized* s : g.balls)
    offs.push_back(s->off), leans.push_back(s->lean), u2 += s->u * s->u / double(g.balls.size());
  g.off = median(offs), g.lean = median(leans);
  for (const double off : offs) apart.push_back(std::abs(off - g.off));
  g.spread = std::max(std::sqrt(u2), robust_sigma(apart));
  g.se = g.spread / std::sqrt(double(offs.size()));
  g.sure = std::abs(g.off) > (offs.size() < kTellSpread ? kSureOfFew : kSure) * g.se;
}

/// One ball that is of another size than the others of its group.
bool stands_out(const Group& g, const Sized& s) {
  return g.balls.size() >= 3 && std::abs(s.off - g.off) > kSureOfFew * std::max(s.u, g.spread);
}

const char* by_half(bool lower, bool upper, const char* both, const char* low, const char* high) {
  return lower && upper ? both : lower ? low : high;
}

class SizeCheck {
 public:
  SizeCheck(std::vector<Sized>& balls, double play) : balls_(balls), play_(std::max(play, kLeastPlay)) {
    for (Sized& s : balls_)
      if (s.known) groups_[{*s.target->ball, s.upper}].balls.push_back(&s);
    for (auto& [key, g] : groups_) judge_group(g);
  }
  BallSizes result() {
    for (const auto& [key, g] : groups_)
      if (!key.second || !groups_.count({key.first, false})) ask_group(key.first);
    ask_each();
    ask_shares();
    std::stable_sort(found_.begin(), found_.end(), [](const auto& a, const auto& b) { return a.first > b.first; });
    for (auto& [moves, text] : found_) out_.doubts.push_back(std::move(text));
    return std::move(out_);
  }

 private:
  /// Both halves' balls of one diameter.
  void ask_group(double job) {
    const auto of = [&](bool upper) {
      const auto g = groups_.find({job, upper});
      return g != groups_.end() && g->second.sure ? &g->second : nullptr;
    };
    const Group *low = of(false), *up = of(true);
    const double moves = (low ? low->moves() : 0) + (up ? up->moves() : 0);
    if (moves < kWorthSaying * play_) return;
    for (const Group* g : {low, up})
      if (g)
        for (Sized* s : g->balls) s->fitted = job + g->off;
    // One cause, where the halves say the same to a fifth.
    const bool alike =
        low && up && std::abs(low->off - up->off) < 0.2 * std::abs(low->off + up->off) / 2 + kSure * (low->se + up->se);
    if (alike) return say_group(true, true, job, (low->off + up->off) / 2, moves);
    if (low) say_group(true, false, job, low->off, moves);
    if (up) say_group(false, true, job, up->off, moves);
  }
  void say_group(bool lower, bool upper, double job, double off, double moves) {
    const std::vector<Sized*>& balls = groups_.at({job, !lower}).balls;
    if (moves <= play_)
      out_.notes.push_back(
          Message(by_half(lower, upper, "warnings.balls-measure-otherwise", "warnings.balls-measure-otherwise-lower",
                          "warnings.balls-measure-otherwise-upper"),
                  {arg::length(job + off, 3), arg::length(job, 3), arg::length(moves)}));
    else if (balls.size() == 1)
      say_ball(lower, upper, *balls[0]->target, off, moves);
    else
      found_.push_back(
          {moves, Message(by_half(lower, upper, "doubt.balls-measure-otherwise", "doubt.balls-measure-otherwise-lower",
                                  "doubt.balls-measure-otherwise-upper"),
                          {arg::length(job + off, 3), arg::length(job, 3), arg::length(moves)})});
  }
  void say_ball(bool lower, bool upper, const Target& target, double off, double moves) {
    found_.push_back(
        {moves, Message(by_half(lower, upper, "doubt.ball-measures-otherwise", "doubt.ball-measures-otherwise-lower",
                                "doubt.ball-measures-otherwise-upper"),
                        {arg::name(target.name), arg::length(*target.ball + off, 3), arg::length(*target.ball, 3)})});
  }
  void ask_each() {
    for (std::size_t i = 0; i < balls_.size(); ++i) {
      // Its other half follows it, if it was found there.
      Sized *low = nullptr, *up = nullptr;
      const Target* target = balls_[i].target;
      if (i > 0 && balls_[i - 1].target == target) continue;
      for (std::size_t k = i; k < balls_.size() && balls_[k].target == target; ++k)
        if (Sized& s = balls_[k]; s.known && stands_out(groups_.at({*target->ball, s.upper}), s))
          (s.upper ? up : low) = &s;
      double moves = 0, off = 0;
      for (const Sized* s : {low, up})
        if (s) moves += 0.5 * s->lean * std::abs(s->off), off += s->off / ((low != nullptr) + (up != nullptr));
      if (moves < kWorthSaying * play_) continue;
      for (Sized* s : {low, up})
        if (s) s->fitted = *target->ball + s->off;
      if (moves > play_) say_ball(low != nullptr, up != nullptr, *target, off, moves);
    }
  }
  void ask_shares() {
    for (const Sized& s : balls_)
      if (s.known && s.share < kLeastShare)
        found_.push_back({0, Message(s.upper ? "doubt.ball-few-points-upper" : "doubt.ball-few-points-lower",
                                     {arg::name(s.target->name), arg::fraction(s.share, 0)})});
  }

  std::vector<Sized>& balls_;
  const double play_;
  std::map<std::pair<double, bool>, Group> groups_;
  std::vector<std::pair<double, Message>> found_;
  BallSizes out_;
};

}  // namespace

BallSizes check_ball_sizes(std::vector<LocatedTarget>& targets, const Scan& lower, const Scan& upper,
                           const std::vector<Target>& wanted, const PointNoise& noise, double play) {
  std::vector<Sized> balls;
  for (std::size_t i = 0; i < targets.size(); ++i)
    for (const bool half : {false, true})
      if (auto& place = half ? targets[i].upper : targets[i].lower; place && wanted[i].ball && !wanted[i].touched) {
        Sized s;
        s.place = &*place, s.target = &wanted[i], s.upper = half;
        balls.push_back(std::move(s));
      }
  parallel_for(
      balls.size(),
      [&](std::size_t k) {
        Sized& s = balls[k];
        measure_size(s, (s.upper ? upper : lower).cloud.points, s.upper ? noise.upper : noise.lower);
      },
      1);
  BallSizes out = SizeCheck(balls, play).result();
  parallel_for(
      balls.size(),
      [&](std::size_t k) {
        Sized& s = balls[k];
        if (!(s.fitted > 0)) return;
        const SphereFit fit =
            fit_sphere(s.near, s.place->at, {.radius = s.fitted / 2, .noise = s.upper ? noise.upper : noise.lower});
        if (fit.used > 0) take_ball(*s.place, fit, *s.target);
      },
      1);
  out.fitted = std::any_of(balls.begin(), balls.end(), [](const Sized& s) { return s.fitted > 0; });
  return out;
}

}  // namespace gapfront::align
