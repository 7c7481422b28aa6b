// The verdict on a part of the sheet: the whole, or a zone.
#pragma once
#include <algorithm>

#include "conformity/places.hpp"
#include "gapfront/conformity.hpp"

namespace gapfront::conformity {

struct Part {
  double area = 0;                   ///< mm²
  std::array<double, 4> fraction{};  ///< of it, by Conformity
  Conformity overall = Conformity::not_measured;
  Text would_change;
  std::vector<UnseenPlace> unseen;
  bool covered = true;  ///< what is not measured is too little to decide
};
/// `lost`: what of the part the sheet has no nodes for.
Part judge_part(const Sheet&, const GapMap&, const Decisions&, const std::vector<int>& nodes, const ToleranceOptions&,
                const std::vector<Sheet::Lost>& lost = {});

/// One verdict per zone that holds anywhere, and one for the rest; none without zones. Needs limits and deviations.
std::vector<ZoneVerdict> judge_zones(const Sheet&, const GapMap&, const Decisions&, const Verdict&,
                                     const ToleranceOptions&);

}  // namespace gapfront::conformity
