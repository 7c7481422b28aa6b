// result.json, recheck.json, diagnosis.json → their page, and the work order beside it.
#include "fuzz/as_file.hpp"
#include "gapfront/pages.hpp"

fuzz::Outcome fuzz::page(std::string_view bytes) {
  return outcome_of([&] { gapfront::report::page_of(std::string(bytes)); });
}
