// The languages that there are texts in.
#pragma once
#include <array>

namespace gapfront {

/// Of report and messages, English first; every data file stays English.
inline constexpr std::array languages{"en", "de", "fr", "es", "pt"};

}  // namespace gapfront
