// What a candidate does, as told everywhere: one that is carried out as in its step, with the step's draws.
#pragma once
#include <algorithm>

#include "gapfront/correct.hpp"

namespace gapfront::report {

struct Change {
  const Effect &before, &after;
};
/// Of candidate `k`: on top of the steps before it, where it is one of the steps.
inline Change change_of(const CorrectionPlan& p, std::size_t k) {
  const auto step = std::find(p.chosen.begin(), p.chosen.end(), static_cast<int>(k));
  if (step == p.chosen.end()) return {p.candidates[k].before, p.candidates[k].after};
  const auto i = static_cast<std::size_t>(step - p.chosen.begin());
  return {i ? p.after_each[i - 1] : p.now, p.after_each[i]};
}

}  // namespace gapfront::report
