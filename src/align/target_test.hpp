// Do the targets' places in two frames agree, and if not: which one is off?
#pragma once
#include <vector>

#include "align/free_motion.hpp"
#include "core/rigid_motion.hpp"
#include "gapfront/align.hpp"

namespace gapfront::align {

/// Chance of a false alarm of each of the tests on targets and methods, of which up to three run.
constexpr double kFalseAlarm = 0.0025;

/// Needs pairs that fix the motion; with 3 there is a test but no odd one.
TargetTest test_pairs(const std::vector<Pair>&, const std::vector<NamedPlace>&);

}  // namespace gapfront::align
