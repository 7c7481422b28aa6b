// Reading quantities as people type them: a number, then a unit.
#include <charconv>
#include <cmath>
#include <numbers>
#include <span>
#include <string>
#include <vector>

#include "gapfront/error.hpp"
#include "gapfront/units.hpp"
#include "units/inch.hpp"
#include "units/known_units.hpp"

namespace gapfront {
namespace {

struct Unit {
  const char* name;  ///< normalised spelling, see normalise()
  double factor;     ///< internal units per unit
};

struct Family {
  Dimension dimension;
  const char* what;     ///< in an error: "a length"
  const char* example;  ///< in an error
  bool bare;            ///< a number without a unit is meaningful
  std::span<const Unit> units;
};

// Exact by definition (NIST SP 811, appendix B): foot, pound (453.59237 g), atmosphere, litre,
// bar; standard gravity 9.80665 m/s² turns the pound into the pound-force of psi.
constexpr double foot = 12 * inch;
constexpr double pound = 453.59237;
constexpr double ounce = pound / 16;
constexpr double psi = pound * 1e-3 * 9.80665 / (inch * inch * 1e-6);
constexpr double in_hg = 3386.389;  // conventional inch of mercury, NIST SP 811 appendix B.8
constexpr double litre = 1e6;
constexpr double newton = 1e6;  // 1 N = 1 Pa·m²
constexpr double degree = std::numbers::pi / 180;
// 1 darcy = 1 cP·(cm/s)·cm/atm = 1e-3·1e-2·1e-2/101325 m² = 9.869233e-13 m² (NIST SP 811, appendix B.8).
constexpr double darcy = 1e-3 * 1e-2 * 1e-2 / atmosphere_pa * 1e6;

constexpr Unit kLengths[] = {{"mm", 1},        {"cm", 10},        {"m", 1000},           {"um", 1e-3},
                             {"micron", 1e-3}, {"microns", 1e-3}, {"in", inch},          {"inch", inch},
                             {"inches", inch}, {"\"", inch},      {"thou", inch / 1000}, {"ft", foot}};
constexpr Unit kAreas[] = {{"mm2", 1},          {"cm2", 100},         {"m2", 1e6},        {"um2", 1e-6},
                           {"in2", inch* inch}, {"sqin", inch* inch}, {"ft2", foot* foot}};
constexpr Unit kVolumes[] = {{"mm3", 1},     {"cm3", 1000}, {"cc", 1000},   {"mL", 1000}, {"ml", 1000},
                             {"L", litre},   {"l", litre},  {"dm3", litre}, {"m3", 1e9},  {"in3", inch* inch* inch},
                             {"gal", gallon}};
constexpr Unit kTimes[] = {{"s", 1}, {"sec", 1}, {"min", 60}, {"h", 3600}, {"ms", 1e-3}};
constexpr Unit kPressures[] = {{"Pa", 1},       {"hPa", 100},       {"kPa", 1e3},          {"MPa", 1e6},
                               {"GPa", 1e9},    {"mbar", 100},      {"bar", 1e5},          {"psi", psi},
                               {"inHg", in_hg}, {"mmHg", 133.3224}, {"atm", atmosphere_pa}};
constexpr Unit kFlowRates[] = {
    {"L/min", litre / 60},   {"l/min", litre / 60},    {"mL/s", 1000}, {"ml/s", 1000},        {"mL/min", 1000 / 60.0},
    {"ml/min", 1000 / 60.0}, {"L/s", litre},           {"l/s", litre}, {"L/h", litre / 3600}, {"l/h", litre / 3600},
    {"cm3/s", 1000},         {"cm3/min", 1000 / 60.0}, {"mm3/s", 1},   {"m3/s", 1e9},         {"gal/min", gallon / 60}};
constexpr Unit kViscosities[] = {{"Pa.s", 1}, {"mPa.s", 1e-3}, {"cP", 1e-3}, {"cps", 1e-3}, {"P", 0.1}};
constexpr Unit kPermeabilities[] = {{"m2", 1e6},   {"mm2", 1},       {"cm2", 100},
                                    {"um2", 1e-6}, {"darcy", darcy}, {"D", darcy}};
constexpr Unit kArealWeights[] = {{"g/m2", 1e-6},
                                  {"gsm", 1e-6},
                                  {"kg/m2", 1e-3},
                                  {"oz/ft2", ounce / (foot * foot)},
                                  {"oz/yd2", ounce / (9 * foot * foot)}};
constexpr Unit kDensities[] = {{"g/cm3", 1e-3},
                               {"g/cc", 1e-3},
                               {"g/mL", 1e-3},
                               {"g/ml", 1e-3},
                               {"kg/L", 1e-3},
                               {"kg/l", 1e-3},
                               {"kg/m3", 1e-6},
                               {"g/mm3", 1},
                               {"lb/in3", pound / (inch * inch * inch)},
                               {"lb/ft3", pound / (foot * foot * foot)}};
constexpr Unit kTemperatures[] = {{"C", 1}, {"degC", 1}};
constexpr Unit kExpansions[] = {{"1/K", 1}, {"ppm/K", 1e-6}, {"um/m/K", 1e-6}, {"1/C", 1}, {"ppm/C", 1e-6}};
constexpr Unit kAngles[] = {{"deg", degree}, {"°", degree}, {"rad", 1}, {"mrad", 1e-3}};
constexpr Unit kMasses[] = {{"g", 1}, {"kg", 1000}, {"mg", 1e-3}, {"oz", ounce}, {"lb", pound}};
constexpr Unit kForces[] = {{"N", newton}, {"kN", 1e3 * newton}, {"lbf", pound * 1e-3 * 9.80665 * newton}};
constexpr Unit kStiffnesses[] = {{"N.m", 1e3 * newton}, {"kN.m", 1e6 * newton}};
constexpr Unit kFractions[] = {{"%", 0.01}, {"percent", 0.01}, {"", 1}};

constexpr Family kFamilies[] = {
    {Dimension::length, "a length", "3 mm", false, kLengths},
    {Dimension::area, "an area", "12 cm2", false, kAreas},
    {Dimension::volume, "a volume", "0.5 L", false, kVolumes},
    {Dimension::time, "a time", "20 min", false, kTimes},
    {Dimension::pressure, "a pressure", "1.2 bar", false, kPressures},
    {Dimension::flow_rate, "a flow rate", "1.5 L/min", false, kFlowRates},
    {Dimension::viscosity, "a viscosity", "0.2 Pa.s", false, kViscosities},
    {Dimension::permeability, "a permeability", "3e-9 m2", false, kPermeabilities},
    {Dimension::areal_weight, "an areal weight", "450 g/m2", false, kArealWeights},
    {Dimension::density, "a density", "1.2 g/cm3", false, kDensities},
    {Dimension::temperature, "a temperature", "20 °C", false, kTemperatures},
    {Dimension::expansion, "an expansion coefficient", "12 ppm/K", false, kExpansions},
    {Dimension::angle, "an angle", "45 deg", false, kAngles},
    {Dimension::mass, "a mass", "120 g", false, kMasses},
    {Dimension::force, "a force", "12 kN", false, kForces},
    {Dimension::stiffness, "a bending stiffness", "850 N m", false, kStiffnesses},
    {Dimension::fraction, "a share", "35 %", true, kFractions},
};

const Family& family(Dimension d) {
  for (const auto& f : kFamilies)
    if (f.dimension == d) return f;
  throw Error(Fault::input, "no units are known for this quantity");
}

void replace_all(std::string& s, std::string_view from, std::string_view to) {
  for (std::size_t at = 0; (at = s.find(from, at)) != std::string::npos; at += to.size())
    s.replace(at, from.size(), to);
}

/// One spelling for what is written in several ways: both micro signs, superscripts, "^2", products, "°C".
std::string normalise(std::string_view unit) {
  std::string s(unit);
  for (const auto& [from, to] : {std::pair{"µ", "u"},
                                 {"μ", "u"},
                                 {"²", "2"},
                                 {"³", "3"},
                                 {"^", ""},
                                 {"·", "."},
                                 {"⋅", "."},
                                 {"*", "."},
                                 {"°C", "C"},
                                 {"−", "-"}})
    replace_all(s, from, to);
  // Inside a unit, a space can only stand for a product or be decoration: "Pa s", "g / m2".
  replace_all(s, " / ", "/");
  replace_all(s, "Pa s", "Pa.s");
  replace_all(s, "N m", "N.m");
  return s;
}

std::string_view trim(std::string_view s) {
  const auto space = [](char c) { return c == ' ' || c == '\t' || c == '\n' || c == '\r'; };
  while (!s.empty() && space(s.front())) s.remove_prefix(1);
  while (!s.empty() && space(s.back())) s.remove_suffix(1);
  return s;
}

[[noreturn]] void fail(std::string_view key, std::string_view text, const std::string& fault, const Family& f) {
  throw Error(Fault::input, std::string(key) + ": " + fault + " in \"" + std::string(text) + "\"; write " + f.what +
                                " with its unit, e.g. \"" + f.example + "\"");
}

/// Takes a finite number off the front of `rest`. No locale: the decimal sign is the point.
double take_number(std::string_view& rest, std::string_view text, std::string_view key, const Family& f) {
  rest = trim(rest);
  const std::string_view minus = "−";  // the typographic minus sign, as pasted from documents
  bool negative = false;
  if (rest.starts_with(minus))
    negative = true, rest.remove_prefix(minus.size());
  else if (rest.starts_with('+') && rest.size() > 1 && rest[1] != '-')
    rest.remove_prefix(1);
  double x = 0;
  const auto [end, bad] = std::from_chars(rest.data(), rest.data() + rest.size(), x);
  if (bad != std::errc{} || !std::isfinite(x) || (negative && x < 0)) fail(key, text, "no usable number", f);
  rest.remove_prefix(end - rest.data());
  return negative ? -x : x;
}

double take_factor(std::string_view unit, std::string_view text, std::string_view key, const Family& f) {
  unit = trim(unit);
  if (unit.size() > 1 && unit[0] == ',' && unit[1] >= '0' && unit[1] <= '9')
    fail(key, text, "a decimal comma (use a point)", f);
  if (unit.empty() && !f.bare) fail(key, text, "no unit", f);
  const std::string name = normalise(unit);
  for (const auto& u : f.units)
    if (name == u.name) return u.factor;
  if (name == "mil" || name == "mils") fail(key, text, "the ambiguous unit \"mil\" (use thou or mm)", f);
  fail(key, text, "the unknown unit \"" + std::string(unit) + "\"", f);
}

}  // namespace

double parse_quantity(std::string_view text, Dimension dimension, std::string_view key) {
  const Family& f = family(dimension);
  std::string_view rest = trim(text);
  if (rest.empty()) fail(key, text, "nothing", f);
  const double x = take_number(rest, text, key, f);
  return x * take_factor(rest, text, key, f);
}

const char* example_quantity(Dimension dimension) { return family(dimension).example; }

Vec3 parse_point(std::string_view text, std::string_view key) {
  const Family point{Dimension::length, "a place", "120, 45.5, 12 mm", false, family(Dimension::length).units};
  Vec3 p;
  std::string_view rest = text;
  for (int i = 0; i < 3; ++i) {
    p[i] = take_number(rest, text, key, point);
    rest = trim(rest);
    if (i == 2) break;
    if (!rest.starts_with(',')) fail(key, text, "not three numbers parted by commas", point);
    rest.remove_prefix(1);
  }
  if (rest.starts_with(',')) fail(key, text, "more than three numbers (or a decimal comma)", point);
  return p * take_factor(rest, text, key, point);
}

std::optional<double> length_unit(std::string_view name) {
  const std::string wanted = normalise(trim(name));
  for (const auto& u : family(Dimension::length).units)
    if (wanted == u.name) return u.factor;
  return std::nullopt;
}

std::vector<std::string> length_units() { return {"mm", "cm", "m", "um", "in", "thou", "ft"}; }

std::vector<KnownUnits> known_units() {
  std::vector<KnownUnits> out;
  for (const Family& f : kFamilies) {
    out.push_back({f.what, f.example, {}});
    for (const Unit& u : f.units)
      if (*u.name) out.back().names.push_back(u.name);
  }
  return out;
}

}  // namespace gapfront
