#include "history/not_compared.hpp"

#include <algorithm>

#include "core/neighbours.hpp"

namespace gapfront::history {

std::vector<UnseenPlace> not_compared(const Sheet& sheet, const GapMap& compared, const ToleranceOptions& o) {
  GapMap both;
  std::vector<int> nodes;
  double whole = 0, blank = 0;
  for (std::size_t i = 0; i < sheet.size(); ++i) {
    both.nodes.emplace_back().measured = compared.nodes[i].measured;
    if (!is_masked(sheet, i)) nodes.push_back(static_cast<int>(i)), whole += sheet.area[i];
  }
  auto places = cavity::unseen_places(sheet, both, nodes);
  for (const UnseenPlace& p : places) blank += p.area;
  // As for the verdict: a place that a defect fits into, or too much in all.
  const bool decides = !places.empty() && (places[0].area >= o.min_area || blank > o.unmeasured_fraction * whole);
  if (!decides) places.clear();
  return places;
}

void tell_not_compared(Recheck& r, const std::vector<UnseenPlace>& places) {
  if (places.empty()) return;
  double area = 0;
  std::vector<char> bordering(r.sheet.size(), 0);
  const auto around = neighbours(r.sheet.mesh);
  for (const UnseenPlace& p : places) {
    area += p.area;
    for (const int i : p.nodes)
      for (const int j : around[static_cast<std::size_t>(i)]) bordering[static_cast<std::size_t>(j)] = 1;
  }
  r.not_compared = area;
  r.headline.push_back(Message("pages.not-compared", {arg::area(area), arg::place(places[0].centre, 2)}));
  for (const Wear& w : r.wear)
    if (std::any_of(w.nodes.begin(), w.nodes.end(), [&](int i) { return bordering[static_cast<std::size_t>(i)]; }))
      r.headline.push_back(Message("pages.wear-goes-on", {arg::name(w.name)}));
  if (!std::isfinite(r.next_cycles)) return;  // a later inspection is there already
  r.next_cycles = r.now.cycles, r.next_date = r.now.date;
  r.next_why = Message("pages.scan-not-compared");
}

}  // namespace gapfront::history
