// Numbers of the fields for people, in the job's units.
#include <cmath>

#include "report/fields.hpp"
#include "units/digits.hpp"
#include "units/inch.hpp"
#include "units/words.hpp"

namespace gapfront::report {
namespace {

struct ShownIn {
  double per;  ///< internal units per shown unit
  int decimals;
  const char* unit;
};

ShownIn shown_as(Dimension d, UnitSystem s) {
  const bool us = s == UnitSystem::inch;
  switch (d) {
    case Dimension::length:
      return us ? ShownIn{inch, 4, "in"} : ShownIn{1, 3, "mm"};
    case Dimension::area:
      return us ? ShownIn{inch * inch, 2, "in²"} : ShownIn{100, 1, "cm²"};
    case Dimension::volume:
      return us ? ShownIn{inch * inch * inch, 2, "in³"} : ShownIn{1000, 1, "cm³"};
    case Dimension::pressure:
      return us ? ShownIn{psi, 1, "psi"} : ShownIn{1e5, 2, "bar"};
    case Dimension::flow_rate:
      return us ? ShownIn{gallon / 60, 3, "gal/min"}
                : ShownIn{1e6 / 60, 3, "L/min"};  // a tight mold takes a few mL a minute
    case Dimension::time:
      return ShownIn{1, 1, "s"};
    case Dimension::fraction:
      return ShownIn{0.01, 1, "%"};
    default:
      return ShownIn{1, 3, ""};
  }
}

/// To whole steps of the last decimal, as the page's script gets them; printf would take a tie the other way at times.
double rounded(double v, int decimals) {
  const double per = std::pow(10, decimals);
  return static_cast<double>(std::llround(v * per)) / per;
}

}  // namespace

long long shown_steps(double value, const Field& f, UnitSystem s) {
  return std::llround(value / per_shown_unit(f.dimension, s) * std::pow(10, decimals_of(f, s)));
}

int shown_decimals(Dimension d, UnitSystem s) { return shown_as(d, s).decimals; }

std::string shown(double value, Dimension d, UnitSystem s) {
  if (!std::isfinite(value)) return "–";
  const ShownIn a = shown_as(d, s);
  int decimals = a.decimals;
  if (d == Dimension::area || d == Dimension::volume) decimals = size_decimals(value / a.per, s);
  if (d == Dimension::flow_rate && std::abs(value / a.per) > 0.0995) decimals = 2;  // as a pump is set
  return spoken(rounded(value / a.per, decimals), decimals);
}

int decimals_of(const Field& f, UnitSystem s) { return f.decimals < 0 ? shown_decimals(f.dimension, s) : f.decimals; }

std::string shown_unit(Dimension d, UnitSystem s) { return shown_as(d, s).unit; }
double per_shown_unit(Dimension d, UnitSystem s) { return shown_as(d, s).per; }

}  // namespace gapfront::report
