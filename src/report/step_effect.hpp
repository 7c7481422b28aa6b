// What a candidate does, as told everywhere: one that is carried out as in its step, with the step's draws.
#pragma once
#include <algorithm>
#include <cmath>

#include "gapfront/correct.hpp"

namespace gapfront::report {

struct Change {
  const Effect &before, &after;
};
/// Of candidate `k`: on top of the steps before it, where it is one of the steps and both states were drawn alike.
inline Change change_of(const CorrectionPlan& p, std::size_t k) {
  const Change alone{p.candidates[k].before, p.candidates[k].after};
  const auto step = std::find(p.chosen.begin(), p.chosen.end(), static_cast<int>(k));
  if (step == p.chosen.end()) return alone;
  const auto i = static_cast<std::size_t>(step - p.chosen.begin());
  const Change then{i ? p.after_each[i - 1] : p.now, p.after_each[i]};
  return std::isfinite(then.after.pocket) && !correct::drawn_alike(then.before, then.after) ? alone : then;
}

}  // namespace gapfront::report
