#include "report/scales.hpp"

#include <algorithm>
#include <cmath>
#include <limits>

namespace gapfront::report {
namespace {

std::vector<double> finite(const Field& f) {
  std::vector<double> out;
  for (double v : f.values)
    if (std::isfinite(v)) out.push_back(v);
  return out;
}

/// The one value of a limit all over the sheet, less that of another field (none: less nothing); NaN where it varies.
double same_everywhere(const Field& limit, const Field* less) {
  double low = std::numeric_limits<double>::infinity(), high = -low;
  for (std::size_t i = 0; i < limit.values.size(); ++i) {
    const double v = limit.values[i] - (less ? less->values[i] : 0);
    if (std::isfinite(v)) low = std::min(low, v), high = std::max(high, v);
  }
  // Limits of zones differ by far more than the nanometre to which results are written.
  return high - low < 1e-5 ? 0.5 * (low + high) : std::numeric_limits<double>::quiet_NaN();
}

}  // namespace

double round_step(double x) {
  const double p = std::pow(10, std::floor(std::log10(x) + 1e-12));
  return x >= 5 * p ? 5 * p : x >= 2 * p ? 2 * p : p;
}

std::string scale_family(const std::string& id) {
  const auto starts = [&](const char* s) { return id.rfind(s, 0) == 0; };
  if (id == "gap_mm" || id == "gap_after_mm" || id == "nominal_mm") return "gap";
  if (starts("deviation") || id == "remainder_mm") return "deviation";
  if (starts("arrival")) return "arrival";
  if (id == "lead_s" || id == "lead_after_s") return "lead";
  if (starts("p_")) return "chance";
  return id;
}

ColourScale common_scale(const std::vector<const Field*>& family, UnitSystem units, std::vector<double> limits) {
  ColourScale s;
  if (family.empty()) return s;
  const Field& first = *family.front();
  const double per = per_shown_unit(first.dimension, units);
  double low = std::numeric_limits<double>::infinity(), high = -low;
  bool from_zero = false;
  for (const Field* f : family) {
    auto v = finite(*f);
    if (v.empty()) continue;
    const auto off = static_cast<std::ptrdiff_t>(v.size() / 100);  // at either end
    std::nth_element(v.begin(), v.begin() + off, v.end());
    low = std::min(low, v[std::size_t(off)] / per);
    std::nth_element(v.begin(), v.end() - 1 - off, v.end());
    high = std::max(high, v[v.size() - 1 - std::size_t(off)] / per);
    // Times and amounts begin at nothing; a scale that does not would show a small difference as a large one.
    from_zero = from_zero || f->scale == Scale::amount || f->dimension == Dimension::time;
  }
  for (double& l : limits) l /= per, low = std::min(low, l), high = std::max(high, l);
  if (!(high >= low)) low = 0, high = 1;
  if (scale_family(first.id) == "chance") low = 0, high = 100;
  if (first.about_zero) high = std::max(std::abs(low), std::abs(high)), low = -high;
  if (from_zero && !first.about_zero && low >= 0) low = 0;
  // Nothing finer than is printed: the same value everywhere is one colour, not its rounding in all of them.
  const double minimum = 4 * std::pow(10, -shown_decimals(first.dimension, units));
  if (high - low < minimum) {
    const double middle = first.about_zero ? 0 : 0.5 * (low + high);
    high = middle + 0.5 * minimum, low = from_zero && middle < minimum ? 0 : middle - 0.5 * minimum;
  }
  s.step = round_step((high - low) / 3);  // three to eight ticks: fewer say little, more do not fit
  // The ends on half steps, outwards.
  const double half = 0.5 * s.step;
  s.low = half * std::floor(low / half + 1e-6), s.high = half * std::ceil(high / half - 1e-6);
  for (long k = std::lround(std::ceil(s.low / s.step - 1e-6)); k * s.step <= s.high + 1e-6 * s.step; ++k)
    s.ticks.push_back(k * s.step);
  s.decimals = std::clamp(static_cast<int>(std::ceil(-std::log10(s.step) - 1e-9)), 0, 6);
  s.limits = std::move(limits);
  return s;
}

ColourScale scale_of(const std::vector<Field>& all, const Field& field, UnitSystem units) {
  const std::string family = scale_family(field.id);
  std::vector<const Field*> members;
  const Field *low = nullptr, *high = nullptr, *nominal = nullptr;
  for (const Field& f : all) {
    if (scale_family(f.id) == family) members.push_back(&f);
    if (f.id == "limit_low_mm") low = &f;
    if (f.id == "limit_high_mm") high = &f;
    if (f.id == "nominal_mm") nominal = &f;
  }
  if (members.empty()) members.push_back(&field);
  std::vector<double> limits;
  if (low && high && nominal && (family == "gap" || family == "deviation")) {
    const Field* less = family == "gap" ? nullptr : nominal;
    limits = {same_everywhere(*low, less), same_everywhere(*high, less)};
    if (!std::isfinite(limits[0]) || !std::isfinite(limits[1])) limits.clear();
  }
  if (field.id == "load_share") limits = {1};
  return common_scale(members, units, limits);
}

Extremes extremes(const Field& f, UnitSystem units) {
  const auto v = finite(f);
  constexpr double none = std::numeric_limits<double>::quiet_NaN();
  if (v.empty()) return {none, none};
  const double per = per_shown_unit(f.dimension, units);
  const auto [low, high] = std::minmax_element(v.begin(), v.end());
  return {*low / per, *high / per};
}

}  // namespace gapfront::report
