#include "align/ball_size.hpp"

#include <algorithm>
#include <cmath>
#include <map>

#include "align/other_ball.hpp"
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

struct Sized {
  Located* place = nullptr;
  const Target* target = nullptr;
  bool upper = false;
  bool whole = false;     ///< found in both halves, so it is in the closed position
  double off = 0, u = 0;  ///< measured diameter less the job's, mm
  double lean = 0;        ///< by which the centre moves for a mm of the radius
  double share = 1;       ///< see MeasuredBall
  double fitted = 0;      ///< diameter that it is to be fitted with, mm; 0: the job's
  bool known = false;     ///< the diameter could be measured
};

void take_size(Sized& s) {
  const double radius = *s.target->ball / 2;
  const auto& ball = s.place->seen->size;
  if (!ball || std::abs(ball->fit.radius - radius) > kMostOff * radius) return;
  s.off = 2 * (ball->fit.radius - radius), s.u = ball->u;
  s.lean = ball->lean, s.share = ball->share;
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

/// Their places are filled in once the halves are closed.
std::vector<BallSize> sizes_of(const std::vector<const Sized*>& balls) {
  std::vector<BallSize> out;
  for (const Sized* s : balls)
    out.push_back({s->target->name, s->upper, *s->target->ball, *s->target->ball + s->off, s->u, Vec3::Zero()});
  return out;
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
    std::stable_sort(found_.begin(), found_.end(), [](const auto& a, const auto& b) { return a.moves > b.moves; });
    out_.doubts = std::move(found_);
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
    std::vector<const Sized*> all(balls.begin(), balls.end());
    if (lower && upper)
      for (const Sized* s : groups_.at({job, true}).balls) all.push_back(s);
    if (moves <= play_)
      out_.notes.push_back(
          Message(by_half(lower, upper, "warnings.balls-measure-otherwise", "warnings.balls-measure-otherwise-lower",
                          "warnings.balls-measure-otherwise-upper"),
                  {arg::length(job + off, 3), arg::length(job, 3), arg::length(moves)}));
    else if (balls.size() == 1 && !balls[0]->whole)
      return;
    else if (balls.size() == 1)
      say_ball(lower, upper, *balls[0]->target, off, moves, all);
    else
      found_.push_back({Message(by_half(lower, upper, "doubt.balls-measure-otherwise",
                                        "doubt.balls-measure-otherwise-lower", "doubt.balls-measure-otherwise-upper"),
                                {arg::length(job + off, 3), arg::length(job, 3), arg::length(moves)}),
                        sizes_of(all), moves});
  }
  void say_ball(bool lower, bool upper, const Target& target, double off, double moves,
                const std::vector<const Sized*>& balls) {
    found_.push_back(
        {Message(by_half(lower, upper, "doubt.ball-measures-otherwise", "doubt.ball-measures-otherwise-lower",
                         "doubt.ball-measures-otherwise-upper"),
                 {arg::name(target.name), arg::length(*target.ball + off, 3), arg::length(*target.ball, 3)}),
         sizes_of(balls), moves});
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
      std::vector<const Sized*> both;
      for (const Sized* s : {low, up})
        if (s) both.push_back(s);
      if (moves > play_ && both[0]->whole) say_ball(low != nullptr, up != nullptr, *target, off, moves, both);
    }
  }
  void ask_shares() {
    for (const Sized& s : balls_)
      if (s.known && s.whole && s.share < kLeastShare)
        found_.push_back({Message(s.upper ? "doubt.ball-few-points-upper" : "doubt.ball-few-points-lower",
                                  {arg::name(s.target->name), arg::fraction(s.share, 0)}),
                          sizes_of({&s}), 0});
  }

  std::vector<Sized>& balls_;
  const double play_;
  std::map<std::pair<double, bool>, Group> groups_;
  std::vector<WrongBalls> found_;
  BallSizes out_;
};

}  // namespace

BallSizes check_ball_sizes(std::vector<LocatedTarget>& targets, const std::vector<Target>& wanted,
                           const PointNoise& noise, double play) {
  std::vector<Sized> balls;
  for (std::size_t i = 0; i < targets.size(); ++i)
    for (const bool half : {false, true})
      if (auto& place = half ? targets[i].upper : targets[i].lower; place && place->seen) {
        Sized s;
        s.place = &*place, s.target = &wanted[i], s.upper = half;
        s.whole = targets[i].lower && targets[i].upper;
        take_size(s);
        balls.push_back(s);
      }
  BallSizes out = SizeCheck(balls, play).result();
  parallel_for(
      balls.size(),
      [&](std::size_t k) {
        Sized& s = balls[k];
        if (!(s.fitted > 0)) return;
        const SphereFit fit = fit_sphere(s.place->seen->near, s.place->at,
                                         {.radius = s.fitted / 2, .noise = s.upper ? noise.upper : noise.lower});
        if (fit.used > 0) take_ball(*s.place, fit, *s.target);
      },
      1);
  out.fitted = std::any_of(balls.begin(), balls.end(), [](const Sized& s) { return s.fitted > 0; });
  return out;
}

}  // namespace gapfront::align
