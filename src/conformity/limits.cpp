// The decision rule, and the limits that it is applied to.
#include <cmath>

#include "gapfront/check.hpp"
#include "gapfront/conformity.hpp"
#include "gapfront/error.hpp"

namespace gapfront {

// ISO 14253-1 with the guard band of JCGM 106:2012 §8.3.2 equal to U on both sides (eq. 18). The limits themselves
// belong to the conforming zone; nonconformity needs strictly more than U.
Conformity conformity::decide(double y, const Interval& limits, double U) {
  if (!std::isfinite(y)) return Conformity::not_measured;
  if (y < limits.low - U || y > limits.high + U) return Conformity::nonconforming;
  if (y >= limits.low + U && y <= limits.high - U) return Conformity::conforming;
  return Conformity::undecided;
}

const char* to_string(Conformity c) {
  switch (c) {
    case Conformity::conforming:
      return "conforming";
    case Conformity::undecided:
      return "undecided";
    case Conformity::nonconforming:
      return "nonconforming";
    case Conformity::not_judged:
      return "not judged";
    case Conformity::not_measured:
      return "not measured";
  }
  return "";
}

void check_options(const ToleranceOptions& o) {
  const auto check = [](const std::string& place, double nominal, double minus, double plus) {
    if (!(nominal > 0))
      throw Error(Fault::input, place + ": the nominal thickness must be positive; give for example \"3 mm\"");
    if (!(minus >= 0) || !(plus >= 0))
      throw Error(Fault::input, place + ": a tolerance must not be negative; give how far each way, e.g. \"0.3 mm\"");
  };
  check("cavity", o.nominal, o.minus, o.plus);
  for (const auto& z : o.zones) check("cavity zone \"" + z.name + "\"", z.nominal, z.minus, z.plus);
}

std::vector<NodeLimits> conformity::tolerance_limits(const Sheet& sheet, const ToleranceOptions& o) {
  check_options(o);
  if (!o.nominal_field.empty() && o.nominal_field.size() != sheet.size())
    throw Error(Fault::input, "cavity: the nominal field has " + std::to_string(o.nominal_field.size()) +
                                  " values for " + std::to_string(sheet.size()) + " nodes; give one per node");
  for (const auto& z : o.zones)
    if (z.paint ? z.nodes.size() != sheet.size() : !z.nodes.empty() && z.nodes.size() != sheet.size())
      throw Error(Fault::input,
                  "cavity zone \"" + z.name + "\": the painted nodes belong to another sheet; find them on this one");
  std::vector<NodeLimits> out(sheet.size());
  for (std::size_t i = 0; i < out.size(); ++i) {
    double nominal = o.nominal, minus = o.minus, plus = o.plus;
    int zone = -1;
    for (std::size_t k = 0; k < o.zones.size(); ++k) {
      const ToleranceZone& z = o.zones[k];
      if (z.nodes.empty() ? z.where.contains(sheet.mesh.points[i]) : z.nodes[i] != 0)
        nominal = z.nominal, minus = z.minus, plus = z.plus, zone = int(k);
    }
    if (!o.nominal_field.empty() && std::isfinite(o.nominal_field[i])) nominal = o.nominal_field[i];
    if (minus >= nominal)
      throw Error(Fault::input, "cavity: a nominal thickness of " + std::to_string(nominal) +
                                    " mm is less than its lower tolerance; no gap would be left there");
    out[i] = {nominal, nominal - minus, nominal + plus, zone};
  }
  return out;
}

std::vector<double> conformity::nominal_gap(const Sheet& sheet, const ToleranceOptions& o) {
  std::vector<double> out;
  out.reserve(sheet.size());
  for (const auto& l : conformity::tolerance_limits(sheet, o)) out.push_back(l.nominal);
  return out;
}

}  // namespace gapfront
