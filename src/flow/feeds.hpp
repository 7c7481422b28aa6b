// Which part of the sheet a lead comes from.
#pragma once
#include <string>
#include <vector>

#include "gapfront/flow.hpp"

namespace gapfront {

/// A named part of the sheet that may feed a lead: a region of the gap that deviates.
struct Feed {
  std::string name;
  std::vector<int> nodes;
};
/// Each lead region is `fed_by` the part in which, or at whose edge, the front gains most of it on its way to the peak.
void name_feeds(const Sheet&, const std::vector<Feed>&, Lead&);

}  // namespace gapfront
