// The corpus of the target "page", made when it is needed: the files' format version rises, and an old one is refused
// before anything in it is read.
#pragma once
#include <string>
#include <utility>
#include <vector>

namespace fuzz {

/// Name (good-… or bad-…, as in the corpus) and text.
std::vector<std::pair<std::string, std::string>> page_seeds();

}  // namespace fuzz
