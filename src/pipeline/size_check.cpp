#include "pipeline/size_check.hpp"

#include <algorithm>
#include <cmath>

#include "core/statistics.hpp"
#include "gapfront/error.hpp"
#include "units/inch.hpp"
#include "units/words.hpp"

namespace gapfront::pipeline {
namespace {

double extent_of(const std::vector<Vec3>& points) {
  if (points.empty()) return 0;
  Vec3 low = points.front(), high = low;
  for (const Vec3& p : points) low = low.cwiseMin(p), high = high.cwiseMax(p);
  return (high - low).norm();
}

/// The name of the unit that is `mm` long; empty when it has none.
std::string name_of(double mm) {
  for (const auto& name : length_units())
    if (std::abs(*length_unit(name) / mm - 1) < 1e-6) return name;
  return "";
}

std::string spelled(const std::string& unit) {
  if (unit == "in") return "inches";
  if (unit == "mm") return "millimetres";
  if (unit == "cm") return "centimetres";
  if (unit == "m") return "metres";
  return unit == "um" ? "micrometres" : unit == "ft" ? "feet" : unit;
}

[[noreturn]] void refuse(const Job& job, double factor, const std::string& why) {
  const double now = job.lower.read.unit.value_or(1);
  const std::string was = name_of(now), likely = name_of(now * factor);
  throw Error(Fault::input,
              job.lower.file.string() + " and " + job.upper.file.string() + ": read in " + (was.empty() ? "mm" : was) +
                  ", " + why + "; " +
                  (likely.empty() ? "check unit in [lower] and [upper]"
                                  : "the numbers are likely " + spelled(likely) + ": set unit = \"" + likely +
                                        "\" in [lower] and [upper], or correct what it is compared with"));
}

/// Factors by which units in use differ; inches first, the usual slip.
constexpr double kFactors[] = {inch, 1000, 10, 1 / inch, 1e-3, 0.1};

/// What the job places on the scan must be about as large as the scan. Zero: it is.
double factor_by(double placed, double size) {
  // On the scan: at most its size and a little margin. A seal or targets over less than a fifth of a half are odd, but
  // not a wrong unit yet; by a factor of ten they are.
  const double ratio = placed / size;
  if (!(placed > 0) || (ratio < 1.6 && ratio > 0.09)) return 0;
  double best = 0, minimum = 1e300;
  for (const double f : kFactors)
    // Usually 0.8 of the size; nearest on a logarithmic scale.
    if (const double off = std::abs(std::log(ratio / (0.8 * f))); off < minimum) minimum = off, best = f;
  return minimum < std::log(2.0) ? best : 0;
}

}  // namespace

void refuse_wrong_unit(const Job& job, const Scan& lower, double spacing) {
  const double size = extent_of(lower.cloud.points);
  if (!(size > 0)) return;
  const auto length = [](double mm) { return words("%.3g mm", mm); };
  std::vector<Vec3> places;
  double ball = job.align.find_ball.value_or(0);
  for (const Target& t : job.align.targets) {
    if (t.lower) places.push_back(t.lower->at);
    ball = std::max(ball, t.ball.value_or(0));
  }
  if (places.size() >= 2)
    if (const double f = factor_by(extent_of(places), size))
      refuse(job, f,
             "the lower half is " + length(size) + " across and the targets' places span " + length(extent_of(places)));
  if (const double f = factor_by(extent_of(job.sheet.seal), size))
    refuse(job, f,
           "the lower half is " + length(size) + " across and the seal line " + length(extent_of(job.sheet.seal)));
  // A dozen gaps across is no mold, nor are three balls in a row; and points wider apart than thrice the gap measure
  // none.
  const double nominal = job.tolerance.nominal;
  const bool small = size < 12 * nominal || size < 4 * ball;
  const bool coarse = spacing > 3 * nominal && size > 8000;
  if (!small && !coarse) return;
  const std::string why = "the lower half is " + length(size) + " across with points " + length(spacing) +
                          " apart, against a nominal gap of " + length(nominal) +
                          (small && ball > 0 ? " and balls of " + length(ball) : "");
  for (const double f : kFactors)
    // As molds are: 0.1 m to 6 m, scanned at 0.05 mm to 6 mm.
    if ((f > 1) == small && size * f > 100 && size * f < 6000 && spacing * f > 0.05 && spacing * f < 6)
      refuse(job, f, why);
  if (small) refuse(job, 1e9, why);
}

void refuse_wrong_unit(const Job& job, const Sheet& sheet, const GapMap& gap) {
  std::vector<double> measured;
  for (std::size_t i = 0; i < sheet.size(); ++i)
    if (gap.nodes[i].measured) measured.push_back(gap.nodes[i].gap);
  if (measured.size() < 50) return;
  const double middle = median(std::move(measured)), ratio = job.tolerance.nominal / std::max(middle, 1e-9);
  // A sixth either way: tools are not that far out of true on the whole, and 25.4 is no other ratio's neighbour.
  if (ratio > inch / 1.17 && ratio < inch * 1.17)
    refuse(
        job, inch,
        words("the gap is %.3g mm on the whole, a twenty-fifth of the nominal %.3g mm", middle, job.tolerance.nominal));
}

}  // namespace gapfront::pipeline
