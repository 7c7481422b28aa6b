// The word that somebody who mistyped one most likely meant: the only place that compares words by edit distance.
#pragma once
#include <string>
#include <string_view>
#include <vector>

namespace gapfront {

/// The known word nearest to `word` by edit distance (two neighbours exchanged are one slip), upper and lower case
/// alike; empty when none is near (more than half of it differs). Of several that are as near, the first.
std::string nearest_word(std::string_view word, const std::vector<std::string>& known);

/// "did you mean "nominal"?", or "known: a, b, c" where nothing is near.
std::string suggestion(std::string_view word, const std::vector<std::string>& known);

}  // namespace gapfront
