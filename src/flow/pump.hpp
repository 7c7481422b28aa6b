// What the pump's schedule says, and what a round tube resists.
#pragma once
#include <algorithm>
#include <cmath>
#include <limits>
#include <vector>

#include "flow/arrival.hpp"
#include "gapfront/flow.hpp"

namespace gapfront::flow {

/// Volume, mm³, at which the schedule changes next.
inline double next_change(const std::vector<RateStep>& schedule, double volume) {
  for (const auto& s : schedule)
    if (s.from * (1 - 1e-12) > volume) return s.from;
  return kNever;
}

/// ∫ dV / rate: the least time, s, in which the pump brings what lies between two volumes.
inline double pumping_time(const std::vector<RateStep>& schedule, double from, double to) {
  double time = 0;
  for (std::size_t k = 0; k < schedule.size(); ++k) {
    const double a = std::max(from, k ? schedule[k].from : 0);
    const double b = std::min(to, k + 1 < schedule.size() ? schedule[k + 1].from : kNever);
    if (b > a) time += (b - a) / schedule[k].rate;
  }
  return time;
}

/// R of a round tube, 1/mm³, so that R·µ·Q is Pa (Hagen–Poiseuille, laminar); length and bore in mm.
inline double tube_resistance(double length, double bore) { return 128 * length / (M_PI * std::pow(bore, 4)); }

}  // namespace gapfront::flow
