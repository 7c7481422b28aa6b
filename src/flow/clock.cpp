#include "flow/clock.hpp"

#include <algorithm>
#include <cmath>

#include "flow/pump.hpp"
#include "gapfront/check.hpp"
#include "gapfront/error.hpp"

namespace gapfront {
namespace {

// What is straight in the logarithm between two entries is off by slope²-terms; so much of the viscosity is allowed.
constexpr double kRiseError = 5e-4;
// The rise is listed up to this share of the gel time before it: what flows then has no part in a filling.
constexpr double kLastShare = 1e-4;
// A piece of the rise that hardly thickens is taken as level: (1 − e^−x)/x by its series.
constexpr double kLevel = 1e-9;

// Over a piece that begins with viscosity `factor` and rises as e^(slope·t).
double fresh_over(double factor, double slope, double time) {
  const double x = slope * time;
  return std::abs(x) < kLevel ? time / factor : -std::expm1(-x) / (slope * factor);
}

double slope_between(double t0, double f0, double t1, double f1) { return std::log(f1 / f0) / (t1 - t0); }

}  // namespace

double Supply::resistance() const { return hose_length > 0 ? flow::tube_resistance(hose_length, hose_bore) : 0; }

double Supply::hose_volume() const { return 0.25 * M_PI * hose_bore * hose_bore * hose_length; }

double ResinAge::factor(double age) const {
  if (age >= gel) return flow::kNever;
  if (rise.empty()) return 1;
  if (age <= rise.front().first || rise.size() == 1) return rise.front().second;
  auto next = std::upper_bound(rise.begin(), rise.end(), age, [](double a, const auto& r) { return a < r.first; });
  if (next == rise.end()) --next;
  const auto& [t0, f0] = *(next - 1);
  return f0 * std::exp(slope_between(t0, f0, next->first, next->second) * (age - t0));
}

ResinAge flow::rise_to_gel(double pot_life, double gel) {
  if (!(pot_life > 0 && pot_life < gel))
    throw Error(Fault::input, "flow: the pot life must be shorter than the gel time; give both from mixing on");
  ResinAge out;
  out.gel = gel;
  const double n = std::log(2.0) / -std::log1p(-pot_life / gel);
  // ln µ = −n ln(1 − s): over a step d its chord is off by n/8 · (d / (1 − s))².
  const double ratio = 1 - std::min(0.3, std::sqrt(8 * kRiseError / n));
  for (double left = 1; left > kLastShare; left *= ratio) out.rise.emplace_back(gel * (1 - left), std::pow(left, -n));
  return out;
}

void check_options(const ResinAge& a) {
  for (std::size_t k = 0; k < a.rise.size(); ++k) {
    if (!(a.rise[k].second > 0))
      throw Error(Fault::input, "flow: every viscosity of ageing resin must be greater than zero");
    if (k && !(a.rise[k].first > a.rise[k - 1].first))
      throw Error(Fault::input, "flow: the ages of the resin must rise from one to the next");
  }
  if (!(a.start >= 0)) throw Error(Fault::input, "flow: the resin's age at the start must not be less than nothing");
  if (!(a.gel > a.start))
    throw Error(Fault::input, "flow: the resin has gelled before it enters; give a shorter age or a longer gel time");
}

namespace flow {

ResinClock::ResinClock(const FlowOptions& o)
    : viscosity_(o.viscosity), start_(o.ageing.start), gels_at_(o.ageing.gel - o.ageing.start) {
  if (!o.ageing.on()) return;
  age_ = {0}, factor_ = {o.ageing.rise.empty() ? 1 : o.ageing.rise.front().second};
  for (const auto& [age, factor] : o.ageing.rise)
    if (age > age_.back()) age_.push_back(age), factor_.push_back(factor);
  fresh_ = {0};
  for (std::size_t k = 1; k < age_.size(); ++k)
    fresh_.push_back(fresh_.back() + fresh_over(factor_[k - 1],
                                                slope_between(age_[k - 1], factor_[k - 1], age_[k], factor_[k]),
                                                age_[k] - age_[k - 1]));
  // The last piece goes on: what rises for ever lets no more through than so much.
  const std::size_t last = age_.size() - 1;
  const bool rises = last > 0 && factor_[last] > factor_[last - 1];
  end_ = rises || std::isfinite(o.ageing.gel) ? fresh(o.ageing.gel) : kNever;
}

double ResinClock::fresh(double age) const {
  auto k = std::upper_bound(age_.begin(), age_.end(), age) - age_.begin() - 1;
  if (age_.size() == 1) return fresh_over(factor_[0], 0, age);
  k = std::min<std::ptrdiff_t>(k, static_cast<std::ptrdiff_t>(age_.size()) - 2);
  const double slope = slope_between(age_[k], factor_[k], age_[k + 1], factor_[k + 1]);
  return fresh_[k] + fresh_over(factor_[k], slope, age - age_[k]);
}

double ResinClock::age_at(double fresh) const {
  if (!(fresh < end_)) return kNever;
  if (age_.size() == 1) return fresh * factor_[0];
  auto k = std::upper_bound(fresh_.begin(), fresh_.end(), fresh) - fresh_.begin() - 1;
  k = std::min<std::ptrdiff_t>(k, static_cast<std::ptrdiff_t>(fresh_.size()) - 2);
  const double slope = slope_between(age_[k], factor_[k], age_[k + 1], factor_[k + 1]);
  const double level = factor_[k] * (fresh - fresh_[k]);  // = (1 − e^(−slope·t)) / slope: t, if it did not rise
  const double x = slope * level;
  if (std::abs(x) < kLevel) return age_[k] + level;
  return x < 1 ? age_[k] - std::log1p(-x) / slope : kNever;
}

double ResinClock::mean(double from, double time) const {
  if (age_.empty() || !(time > 0)) return age_.empty() ? viscosity_ : viscosity_ * factor_[0];
  const double until = std::min(start_ + from + time, start_ + gels_at_);
  return viscosity_ * time / (fresh(until) - fresh(start_ + from));
}

double ResinClock::time_for(double from, double integral, double pressure) const {
  if (age_.empty()) return viscosity_ * integral / pressure;
  return age_at(fresh(start_ + from) + viscosity_ * integral / pressure) - start_ - from;
}

double ResinClock::left(double from, double pressure) const {
  return age_.empty() ? kNever : std::max(0.0, end_ - fresh(start_ + from)) * pressure / viscosity_;
}

}  // namespace flow
}  // namespace gapfront
