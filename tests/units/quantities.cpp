#include <catch2/catch.hpp>
#include <cmath>
#include <numbers>

#include "gapfront/error.hpp"
#include "gapfront/units.hpp"
#include "units/digits.hpp"

using namespace gapfront;

namespace {

double parse(const char* text, Dimension d) { return parse_quantity(text, d, "key"); }

std::string complaint(const char* text, Dimension d) {
  try {
    parse_quantity(text, d, "cavity.nominal");
  } catch (const Error& e) {
    CHECK(e.fault == Fault::input);
    return e.what();
  }
  return "";
}

}  // namespace

TEST_CASE("An inch is 25.4 mm exactly, however it is written") {
  // references.md eq. 15 (NIST SP 811).
  for (const char* s : {"1 in", "1in", "1 inch", "1\"", "1000 thou", "+1 in"})
    CHECK(parse(s, Dimension::length) == Approx(25.4).epsilon(1e-15));
  CHECK(parse("1 ft", Dimension::length) == Approx(304.8).epsilon(1e-15));
}

TEST_CASE("Both micro signs, um and micron mean the same") {
  for (const char* s : {"50 µm", "50 μm", "50 um", "50 micron"}) CHECK(parse(s, Dimension::length) == Approx(0.05));
}

TEST_CASE("A psi is 6894.757 Pa and an atmosphere 14.696 psi") {
  // references.md eq. 15 and 12 (NIST SP 811; CGPM 1954): the factors are given to seven figures.
  CHECK(parse("1 psi", Dimension::pressure) == Approx(6894.757).epsilon(1e-7));
  CHECK(parse("1 atm", Dimension::pressure) / parse("1 psi", Dimension::pressure) == Approx(14.696).epsilon(1e-5));
  CHECK(parse("1.2 bar", Dimension::pressure) == Approx(120000));
  CHECK(parse("500 mbar", Dimension::pressure) == Approx(50000));
  CHECK(parse("101.325 kPa", Dimension::pressure) == Approx(atmosphere_pa));
  CHECK(parse("0.1 MPa", Dimension::pressure) == Approx(1e5));
  CHECK(parse("29.92 inHg", Dimension::pressure) == Approx(atmosphere_pa).epsilon(1e-4));
}

TEST_CASE("An ounce per square foot is 305.152 g/m²") {
  // references.md eq. 15: 28.349523125 g / (0.3048 m)² (computed from NIST SP 811 factors). 1e-6: g/m² to g/mm².
  CHECK(parse("1 oz/ft2", Dimension::areal_weight) == Approx(305.152e-6).epsilon(1e-6));
  for (const char* s : {"450 g/m2", "450 g/m²", "450 g/m^2", "0.45 kg/m2", "450 g / m2"})
    CHECK(parse(s, Dimension::areal_weight) == Approx(450e-6));
}

TEST_CASE("Flow rates come in litres, millilitres and US gallons") {
  for (const char* s : {"1.5 L/min", "1.5 l/min", "25 mL/s", "25 ml/s"})
    CHECK(parse(s, Dimension::flow_rate) == Approx(25000));
  // A US gallon is 231 in³ exactly (NIST SP 811).
  CHECK(parse("1 gal/min", Dimension::flow_rate) == Approx(231 * std::pow(25.4, 3) / 60));
}

TEST_CASE("Viscosity in Pa s, in any spelling, and in centipoise") {
  for (const char* s : {"0.2 Pa.s", "0.2 Pa·s", "0.2 Pa*s", "0.2 Pa s", "200 mPa.s", "200 cP"})
    CHECK(parse(s, Dimension::viscosity) == Approx(0.2));
}

TEST_CASE("Permeability in m², mm² and darcy") {
  CHECK(parse("3e-9 m2", Dimension::permeability) == Approx(3e-3));
  CHECK(parse("3E-9 m²", Dimension::permeability) == Approx(3e-3));
  CHECK(parse("3e-3 mm2", Dimension::permeability) == Approx(3e-3));
  // 1 darcy = 9.869233e-13 m² (NIST SP 811).
  CHECK(parse("1 darcy", Dimension::permeability) == Approx(9.869233e-7).epsilon(1e-7));
}

TEST_CASE("The other dimensions come out in mm, s, g and rad") {
  CHECK(parse("2.55 g/cm3", Dimension::density) == Approx(2.55e-3));
  CHECK(parse("2550 kg/m3", Dimension::density) == Approx(2.55e-3));
  CHECK(parse("20 min", Dimension::time) == Approx(1200));
  CHECK(parse("1 h", Dimension::time) == Approx(3600));
  CHECK(parse("1 cm2", Dimension::area) == Approx(100));
  CHECK(parse("0.3 L", Dimension::volume) == Approx(3e5));
  CHECK(parse("180 deg", Dimension::angle) == Approx(std::numbers::pi));
  CHECK(parse("-10 °C", Dimension::temperature) == Approx(-10));
  CHECK(parse("12 ppm/K", Dimension::expansion) == Approx(12e-6));
  CHECK(parse("12e-6 1/K", Dimension::expansion) == Approx(12e-6));
  CHECK(parse("1 lb", Dimension::mass) == Approx(453.59237));
}

TEST_CASE("A share is written with a per cent sign or as a plain number") {
  CHECK(parse("35 %", Dimension::fraction) == Approx(0.35));
  CHECK(parse("35%", Dimension::fraction) == Approx(0.35));
  CHECK(parse("0.35", Dimension::fraction) == Approx(0.35));
}

TEST_CASE("A typographic minus counts as a minus") { CHECK(parse("−0.2 mm", Dimension::length) == Approx(-0.2)); }

TEST_CASE("A bare number is refused with the key and an example") {
  const auto what = complaint("3.05", Dimension::length);
  CHECK_THAT(what, Catch::Contains("cavity.nominal") && Catch::Contains("no unit") && Catch::Contains("\"3 mm\""));
}

TEST_CASE("A decimal comma is refused as such") {
  CHECK_THAT(complaint("3,05 mm", Dimension::length), Catch::Contains("decimal comma"));
}

TEST_CASE("A mil is refused for its two meanings") {
  CHECK_THAT(complaint("120 mil", Dimension::length), Catch::Contains("thou"));
}

TEST_CASE("Not-a-number, infinity, nothing and trailing words are refused in one line") {
  for (const char* s : {"nan mm", "inf mm", "-inf mm", "", "  ", "mm", "3 mm x", "3 4 mm", "1e999 mm", "3 bar",
                        "--3 mm", "+-3 mm", "− -3 mm", "0x10 mm", "3 MM"}) {
    INFO(s);
    const auto what = complaint(s, Dimension::length);
    CHECK_FALSE(what.empty());
    CHECK(what.find('\n') == std::string::npos);
  }
}

TEST_CASE("A point has three numbers and one unit") {
  CHECK(parse_point("120, 45.5,-12 mm", "at") == Vec3(120, 45.5, -12));
  CHECK((parse_point("1, 2, 3 in", "at") - Vec3(25.4, 50.8, 76.2)).norm() < 1e-12);
  for (const char* s : {"1, 2 mm", "1, 2, 3", "1, 2, 3, 4 mm", "1 2 3 mm", "1,5, 2,5, 3 mm", "", "1, nan, 3 mm"}) {
    INFO(s);
    CHECK_THROWS_AS(parse_point(s, "at"), Error);
  }
}

TEST_CASE("A length unit is found by its name") {
  CHECK(length_unit("in") == 25.4);
  CHECK(length_unit("mm") == 1);
  CHECK_FALSE(length_unit("furlong"));
  CHECK_FALSE(length_unit(""));
}

TEST_CASE("Printed lengths follow the unit system") {
  CHECK(format_length(3.05, UnitSystem::mm) == "3.05 mm");
  CHECK(format_length(3.05, UnitSystem::inch) == "0.1201 in");
  CHECK(format_length(0.031, UnitSystem::mm, true) == "31 µm");
  CHECK(format_length(0.0254, UnitSystem::inch, true) == "1.0 thou");
  CHECK(format_length(-0.001, UnitSystem::mm) == "0.00 mm");
}

TEST_CASE("Printed quantities keep three figures and name their unit") {
  CHECK(format_pressure(120000, UnitSystem::mm) == "1.20 bar");
  CHECK(format_pressure(120000, UnitSystem::inch) == "17.4 psi");
  CHECK(format_area(1234, UnitSystem::mm) == "12 cm²");
  CHECK(format_area(1234, UnitSystem::inch) == "1.9 in²");
  CHECK(format_volume(12345, UnitSystem::mm) == "12 cm³");
  CHECK(format_flow_rate(25000, UnitSystem::mm) == "1.50 L/min");
  CHECK(format_flow_rate(25000, UnitSystem::inch) == "0.40 gal/min");
  CHECK(format_mass(120, UnitSystem::mm) == "120 g");
  CHECK(format_mass(120, UnitSystem::inch) == "4.2 oz");
  CHECK(format_mass(2.3, UnitSystem::inch) == "0.08 oz");
}

TEST_CASE("A forecast of cycles has two digits, and a small share of parts a tenth that no limit hides") {
  CHECK(spoken_cycles(315) == "320");
  CHECK(spoken_cycles(2640) == "2600");
  CHECK(spoken_cycles(98.6) == "99");
  CHECK(spoken_cycles(7.2) == "7");
  CHECK(spoken_cycles(0) == "0");
  CHECK(parts_percent(3 / 64.0) == "4.7 %");
  CHECK(parts_percent(0.05) == "5 %");
  CHECK(parts_percent(22 / 64.0) == "34 %");
  CHECK(parts_percent(0) == "0 %");
  CHECK(parts_percent(0.0999) == "10 %");
}

TEST_CASE("Printed times read as people say them") {
  CHECK(format_time(35) == "35 s");
  CHECK(format_time(250) == "4 min 10 s");
  CHECK(format_time(1200) == "20 min");
  CHECK(format_time(7260) == "2 h 1 min");
  CHECK(format_time(-2.5) == "-2.5 s");
  CHECK(format_time(59.7) == "1 min");
  CHECK(format_time(INFINITY) == "never");
}
