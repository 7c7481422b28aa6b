// Units of the inch system, by those of the program (mm, g): exact by definition (NIST SP 811, appendix B).
#pragma once

namespace gapfront {

constexpr double inch = 25.4;                               ///< mm
constexpr double gallon = 231 * inch * inch * inch;         ///< US, mm³
constexpr double pound = 453.59237;                         ///< g
constexpr double ounce = pound / 16;                        ///< g
constexpr double pound_force = pound * 1e-3 * 9.80665;      ///< N, by the standard gravity
constexpr double psi = pound_force / (inch * inch * 1e-6);  ///< Pa

}  // namespace gapfront
