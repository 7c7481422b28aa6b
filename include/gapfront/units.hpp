// Units live only at the edges. Inside: mm, s, Pa; hence mass in g (1 Pa = 1 g/(mm s²)) and temperature
// in °C. Factors: NIST SP 811.
#pragma once
#include <optional>
#include <string>
#include <string_view>
#include <vector>
#include "gapfront/geometry.hpp"

namespace gapfront {

/// What a quantity is: the unit it has inside the program.
enum class Dimension {
  length,        ///< mm
  area,          ///< mm²
  volume,        ///< mm³
  time,          ///< s
  pressure,      ///< Pa (difference, or absolute when the key says so)
  flow_rate,     ///< mm³/s
  viscosity,     ///< Pa s
  permeability,  ///< mm²
  areal_weight,  ///< g/mm²
  density,       ///< g/mm³
  temperature,   ///< °C
  expansion,     ///< 1/K
  angle,         ///< rad
  mass,          ///< g
  fraction,      ///< 1 ("35 %" or "0.35")
  force,         ///< Pa·mm² (µN)
  stiffness,     ///< bending, Pa·mm³ ("850 N m")
};

/// Parses "3.05 mm", "120 thou", "0.120 in", "1.2 bar", "7 psi", "1.5 L/min", "450 g/m2", "1.5 oz/ft2",
/// "0.2 Pa.s", "200 cP", "3e-9 m2", "50 %"… into internal units. `key` names the field in the error,
/// which for a bare number or an unknown unit shows an example. Throws Error{Fault::input}.
double parse_quantity(std::string_view text, Dimension dimension, std::string_view key);

/// A well-formed example for error lines, e.g. "3 mm".
const char* example_quantity(Dimension);

/// "120, 45.5, 12 mm" → point; the one unit at the end holds for all three.
Vec3 parse_point(std::string_view text, std::string_view key);

/// Millimetres per unit for "mm", "cm", "m", "um", "in", "thou", "ft"; nullopt when unknown.
std::optional<double> length_unit(std::string_view name);
/// Their names, one for each, as errors list them.
std::vector<std::string> length_units();

/// Days since 1970-01-01, or nothing when the text is no day of the calendar as ISO 8601 writes it, YYYY-MM-DD.
std::optional<long> day_number(const std::string& date);
/// The day of that number, YYYY-MM-DD.
std::string date_text(long day);

/// The unit system of everything printed for people.
enum class UnitSystem { mm, inch };

/// "3.05 mm" or "0.1201 in"; `fine` picks µm or thou for small quantities such as U and shims.
std::string format_length(double mm, UnitSystem system, bool fine = false);
std::string format_pressure(double pa, UnitSystem system);      ///< "1.20 bar" or "17.4 psi"
std::string format_area(double mm2, UnitSystem system);         ///< "12.3 cm²" or "1.91 in²"
std::string format_volume(double mm3, UnitSystem system);       ///< "12.3 cm³" or "0.75 in³"
std::string format_flow_rate(double mm3_s, UnitSystem system);  ///< "1.50 L/min" or "0.40 gal/min"
std::string format_time(double s);                              ///< "35 s", "4 min 10 s"
std::string format_force(double pa_mm2, UnitSystem system);     ///< "12.3 kN" or "2765 lbf"
std::string format_mass(double g, UnitSystem system);           ///< "120 g" or "4.2 oz"

inline constexpr double atmosphere_pa = 101325.0;  ///< standard atmosphere, Pa (exact, CGPM 1954)
/// Standard acceleration of free fall, mm/s² (ISO 80000-3; by agreement, without uncertainty).
inline constexpr double free_fall = 9806.65;

}  // namespace gapfront
