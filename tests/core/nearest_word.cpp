// Words that somebody mistyped.
#include "core/nearest_word.hpp"

#include <catch2/catch.hpp>

using namespace gapfront;

TEST_CASE("The nearest word is found by edit distance, whatever the case, and none where none is near") {
  const std::vector<std::string> known{"inspect", "recheck", "--help", "--version"};
  CHECK(nearest_word("inspct", known) == "inspect");
  CHECK(nearest_word("INSPECT", known) == "inspect");
  CHECK(nearest_word("mat 405", {"mat 300", "mat 450"}) == "mat 450");  // two digits exchanged are one slip
  CHECK(nearest_word("--vers", known) == "--version");
  CHECK(nearest_word("polish", known).empty());
  CHECK(suggestion("polish", known) == "known: inspect, recheck, --help, --version");
}
