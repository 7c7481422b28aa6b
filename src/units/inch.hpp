#pragma once

namespace gapfront {

constexpr double inch = 25.4;  ///< mm, exact by definition (NIST SP 811, appendix B)

}  // namespace gapfront
