#pragma once

namespace gapfront {

// Exact by definition (NIST SP 811, appendix B).
constexpr double inch = 25.4;                        ///< mm
constexpr double gallon = 231 * inch * inch * inch;  ///< US gallon, mm³

}  // namespace gapfront
