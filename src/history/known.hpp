// What was known at a date: a re-check counts no inspection of later on.
#pragma once
#include <tuple>

#include "gapfront/history.hpp"

namespace gapfront::history {

/// By cycles, then date, as the history is in order.
inline bool is_later(const Record& a, const Record& b) {
  return std::tie(a.cycles, a.date) > std::tie(b.cycles, b.date);
}
/// The later of two.
inline const Record& later_of(const Record& a, const Record& b) { return is_later(b, a) ? b : a; }

}  // namespace gapfront::history
