// What the plan says of what it leaves.
#pragma once
#include <map>

#include "correct/state.hpp"

namespace gapfront::correct {

/// What was considered and not chosen: how many would make something worse, and how many gain too little.
struct Refused {
  std::map<Uncured, int> worse;
  int little = 0;
};

Text obstacle_text(const Bench&, Obstacle, const Chance& nominal);
Text remains_text(const Bench&, const CorrectionPlan&, const CorrectOptions&, const Refused&);

}  // namespace gapfront::correct
