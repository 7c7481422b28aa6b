#include "history/not_compared.hpp"

#include <algorithm>
#include <cmath>
#include <limits>

#include "core/neighbours.hpp"
#include "gapfront/conformity.hpp"

namespace gapfront::history {
namespace {

double area_of(const std::vector<UnseenPlace>& places) {
  double sum = 0;
  for (const UnseenPlace& p : places) sum += p.area;
  return sum;
}

/// Too much to be passed over: a place that a defect fits into, or too much in all.
bool decide(const std::vector<UnseenPlace>& places, const ToleranceOptions& o, double face) {
  return !places.empty() &&
         (places[0].area >= o.min_area || area_of(places) > conformity::unmeasured_allowed(o, face) * face);
}

}  // namespace

NotCompared not_compared(const Sheet& sheet, const GapMap& now, const GapMap& then, const ToleranceOptions& o) {
  std::vector<int> nodes;
  double face = 0;
  for (std::size_t i = 0; i < sheet.size(); ++i)
    if (!is_masked(sheet, i)) nodes.push_back(static_cast<int>(i)), face += sheet.area[i];
  GapMap only = then;  // what today's scans show as well
  only.unseen.assign(sheet.size(), 0), only.unseen_lower.clear(), only.unseen_upper.clear();
  for (std::size_t i = 0; i < sheet.size(); ++i)
    only.unseen[i] = std::max(0.0, then.unseen_area(sheet, i) - now.unseen_area(sheet, i));
  NotCompared out{cavity::unseen_places(sheet, now, nodes), cavity::unseen_places(sheet, only, nodes)};
  if (!decide(out.now, o, face)) out.now.clear();
  if (!decide(out.then, o, face)) out.then.clear();
  return out;
}

void tell_not_compared(Recheck& r, const NotCompared& left) {
  if (left.empty()) return;
  const auto around = neighbours(r.sheet.mesh);
  std::vector<char> bordering(r.sheet.size(), 0);
  for (const auto* places : {&left.now, &left.then})
    for (const UnseenPlace& p : *places)
      for (const int i : p.nodes)
        for (const int j : around[static_cast<std::size_t>(i)]) bordering[static_cast<std::size_t>(j)] = 1;
  r.not_compared = area_of(left.now) + area_of(left.then);
  const auto tell = [&](const char* id, const std::vector<UnseenPlace>& places) {
    if (!places.empty())
      r.headline.push_back(Message(id, {arg::area(area_of(places)), arg::place(places[0].centre, 2)}));
  };
  tell("pages.not-compared", left.now), tell("pages.not-compared-then", left.then);
  for (const Wear& w : r.wear)
    if (!at_limit(w) &&
        std::any_of(w.nodes.begin(), w.nodes.end(), [&](int i) { return bordering[static_cast<std::size_t>(i)]; }))
      r.headline.push_back(Message("pages.wear-goes-on", {arg::name(w.name)}));
  // A limit that is reached is mended first, and a later inspection says itself what to do.
  if (left.now.empty() || !std::isfinite(r.next_cycles)) return;
  r.next_cycles = std::numeric_limits<double>::quiet_NaN(), r.next_date.clear();
  r.next_why = Message("pages.scan-not-compared");
}

}  // namespace gapfront::history
