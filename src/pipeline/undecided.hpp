// A verdict that what was measured does not bear.
#pragma once
#include "gapfront/conformity.hpp"

namespace gapfront::pipeline {

/// Nothing stays "conforming", the whole or a zone, nor with `all` anything else: it is undecided, and `why` says so.
inline void leave_undecided(Verdict& v, bool all, const Message& why) {
  const auto taken = [&](Conformity c) { return all || c == Conformity::conforming; };
  for (ZoneVerdict& z : v.zones)
    if (taken(z.overall)) z.overall = Conformity::undecided;
  v.consumer_risk = 1;
  if (!taken(v.overall)) return;
  v.overall = Conformity::undecided;
  v.headline = {conformity::verdict_word(v.overall, false), why};
}

}  // namespace gapfront::pipeline
