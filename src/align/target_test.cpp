#include "align/target_test.hpp"

#include <algorithm>
#include <cmath>

#include "core/distributions.hpp"

namespace gapfront {
namespace {

// The rest agrees when so large a chi-square comes up by chance more often than this: the usual level.
constexpr double kAgrees = 0.05;
// Two targets are told apart when leaving out the one explains the places e^4.5 (some 90) times better than leaving out
// the other.
constexpr double kTold = 9;

// Where the u of places that were typed in is not declared, they are taken as rounded to a tenth and read to as much.
constexpr double kTyped = 0.2;

// The rest must agree so many times better than the odd one out does, for the odd one to be called the likely reason.
constexpr double kStandsOut = 6;

struct Others {
  std::vector<Pair> pairs;
  std::vector<align::NamedPlace> places;
  Others(const std::vector<Pair>& all, const std::vector<align::NamedPlace>& at, std::size_t without)
      : pairs(all), places(at) {
    pairs.erase(pairs.begin() + without);
    places.erase(places.begin() + without);
  }
};

void find_exchanged(const std::vector<Pair>& pairs, int dof, TargetTest& t) {
  double minimum = t.chi2;
  for (std::size_t i = 0; i < pairs.size(); ++i)
    for (std::size_t j = 0; j < i; ++j) {
      auto other = pairs;
      std::swap(other[i].from, other[j].from);
      std::swap(other[i].from_cov, other[j].from_cov);
      const double chi2 = fit_pairs(other).chi2;
      if (chi2 < minimum && p_value(chi2, dof) > kAgrees)
        minimum = chi2, t.exchanged[0] = static_cast<int>(j), t.exchanged[1] = static_cast<int>(i);
    }
}

}  // namespace

int TargetTest::worst() const {
  int at = -1;
  for (std::size_t i = 0; i < miss.size(); ++i)
    if (at < 0 || miss[i].norm() > miss[at].norm()) at = static_cast<int>(i);
  return at;
}

double align::seat_play(const TargetTest& t, const AlignOptions& o) {
  return t.declared ? o.seat_play : std::max(kTyped, o.seat_play);
}

int align::likely_odd(const TargetTest& t, double play) {
  if (t.odd.size() == 1) return t.odd[0];
  if (!t.odd.empty() || t.suspect < 0) return -1;
  return t.miss[t.suspect].norm() > std::max(play, kStandsOut * t.rest_rms) ? t.suspect : -1;
}

bool align::disagree(const TargetTest& t, double play) {
  return t.dof > 0 && t.p < align::kFalseAlarm && !t.miss.empty() && t.miss[t.worst()].norm() > play;
}

TargetTest align::test_pairs(const std::vector<Pair>& pairs, const std::vector<align::NamedPlace>& places) {
  TargetTest t;
  const PairFit all = fit_pairs(pairs);
  const int dof = 3 * static_cast<int>(pairs.size()) - 6;
  t.chi2 = all.chi2, t.dof = dof, t.p = p_value(all.chi2, dof);
  t.p_scale = p_value(apparent_scale(pairs, all).chi2, dof - 1);
  for (std::size_t i = 0; i < pairs.size(); ++i) {
    t.names.push_back(places[i].name);
    t.miss.push_back(all.motion * pairs[i].from - pairs[i].to);
    t.rms += t.miss.back().squaredNorm() / pairs.size();
  }
  t.rms = std::sqrt(t.rms);
  if (pairs.size() < 4) return t;

  std::vector<double> without(pairs.size(), INFINITY);
  for (std::size_t i = 0; i < pairs.size(); ++i) {
    const Others rest(pairs, places, i);
    if (!align::free_motion_of(rest.places).empty()) continue;
    const PairFit fit = fit_pairs(rest.pairs);
    t.miss[i] = fit.motion * pairs[i].from - pairs[i].to;
    without[i] = fit.chi2;
  }
  if (t.p > kAgrees) return t;
  const auto best = std::min_element(without.begin(), without.end()) - without.begin();
  if (!std::isfinite(without[best])) return t;
  double second = INFINITY;
  for (std::size_t i = 0; i < pairs.size(); ++i)
    if (static_cast<std::ptrdiff_t>(i) != best) second = std::min(second, without[i]);
  // Where the u of the places are too small, all chi-squares are too large by one factor.
  if (second > 2 * without[best] + kTold) {
    const Others rest(pairs, places, best);
    const Rigid motion = fit_pairs(rest.pairs).motion;
    t.suspect = static_cast<int>(best);
    for (const Pair& p : rest.pairs) t.rest_rms += (motion * p.from - p.to).squaredNorm() / rest.pairs.size();
    t.rest_rms = std::sqrt(t.rest_rms);
  }
  if (p_value(without[best], dof - 3) > kAgrees) {
    t.odd.push_back(static_cast<int>(best));
    for (std::size_t i = 0; i < pairs.size(); ++i)
      if (static_cast<std::ptrdiff_t>(i) != best && without[i] - without[best] < kTold)
        t.odd.push_back(static_cast<int>(i));
  }
  // Targets stand far apart: exchanged ones miss by centimetres, and a search for less would only find chance.
  if (t.odd.empty() && t.miss[t.worst()].norm() > 5) find_exchanged(pairs, dof, t);
  return t;
}

}  // namespace gapfront
