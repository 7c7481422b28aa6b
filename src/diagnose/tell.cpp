// What is said of a spot: why it is there, and how to make sure.
#include <algorithm>
#include <cmath>

#include "diagnose/fillings.hpp"

namespace gapfront::diagnosis {
namespace {

/// Where clay would tell most about a cause: the node of the greatest deviation in its region, or of all.
int telling_node(const CorrectInput& in, const std::string& cause) {
  const DeviationRegion* region = nullptr;
  for (const auto& r : in.verdict.regions)
    if (r.name == cause) region = &r;
  int best = -1;
  const auto take = [&](int i) {
    if (in.gap.nodes[i].measured &&
        (best < 0 || std::abs(in.verdict.deviation[i]) > std::abs(in.verdict.deviation[best])))
      best = i;
  };
  if (region)
    for (const int i : region->nodes) take(i);
  else
    for (int i = 0; i < static_cast<int>(in.sheet.size()); ++i) take(i);
  return best;
}

/// What to press clay on, to make sure that the gap is what the map says.
Text clay(const CorrectInput& in, const std::string& cause) {
  const int i = telling_node(in, cause);
  if (i < 0) return {};
  const NodeGap& n = in.gap.nodes[i];
  return {
      Message("pages.make-sure-press-clay", {arg::place(in.sheet.mesh.points[i], 2), arg::length(n.gap),
                                             arg::length(std::max(n.U, 0.01)), arg::length(in.verdict.nominal[i])})};
}

/// What is said of a spot that the model does not predict with the gap as measured.
void describe_unpredicted(SpotDiagnosis& d) {
  if (d.model.hits > 0 && d.spot.parts > 0)
    d.headline = {Message("diagnosis.not-gap-alone-gap", {arg::place(d.spot.at, 2), arg::fraction(d.model.p, 0),
                                                          arg::fraction(double(d.spot.seen) / d.spot.parts, 0)})};
  else if (d.model.hits > 0)
    d.headline = {
        Message("diagnosis.not-predicted-chance", {arg::place(d.spot.at, 2), arg::probability(d.model.p),
                                                   arg::probability(d.model.low), arg::probability(d.model.high)})};
  else
    d.headline = {Message("pages.not-gap-gap-measured", {arg::place(d.spot.at, 2)})};
  if (d.suspects.empty() || d.suspects[0].trouble < kPredicted)
    d.discriminate = {Message("pages.none-usual-faults-makes")};
  else
    d.discriminate = {Message("pages.would-come-from", {arg::message(d.suspects[0].what)}),
                      Message("pages.tell", {arg::message(d.suspects[0].measure)})};
}

/// "Removing … takes it from 92 % to 0 % of the parts", or of one filling what goes of the spot.
Message removing(const Cause& c, const SpotDiagnosis& d) {
  if (c.chance.draws > 0)
    return Message("diagnosis.removing-takes-from-parts",
                   {arg::message(c.what), arg::probability(d.now.p), arg::probability(c.chance.p)});
  return Message("pages.removing-takes-away", {arg::message(c.what), arg::fraction(c.relief, 0)});
}

}  // namespace

bool gel_explains(const SpotDiagnosis& d) {
  return std::any_of(d.causes.begin(), d.causes.end(),
                     [](const Cause& c) { return c.kind == CauseKind::gel && c.relief >= kExplains; });
}

namespace {

/// What the nominal gap has as well, by what the job itself does where that explains it.
Message not_the_gap(const CorrectInput& in, const Cause* first, const SpotDiagnosis& d) {
  const Argument at = arg::place(d.spot.at, 2);
  if (first && first->kind == CauseKind::vent_closed)
    for (const Vent& v : in.flow.vents)
      if (v.name == first->name)
        return Message("diagnosis.not-gap-but-closed-vent", {at, arg::name(v.name), arg::time(v.blocked_from)});
  if (gel_explains(d)) return Message("diagnosis.not-gap-but-gel", {at, arg::time(gels_at(in.flow))});
  return Message(d.layout ? "diagnosis.not-gap-but-layout" : "pages.not-gap-dry-spot", {at});
}

void describe_gap(const CorrectInput& in, const Cause* first, SpotDiagnosis& d) {
  const Argument at = arg::place(d.spot.at, 2);
  const bool single = first && first->is_gap && first->kind != CauseKind::whole_gap;
  if (single && first->chance.draws > 0)
    d.headline = {
        Message("diagnosis.gap-explains-dry-spot", {at, arg::message(first->what), arg::name(first->name),
                                                    arg::probability(d.now.p), arg::probability(first->chance.p)})};
  else if (single)
    d.headline = {Message("pages.gap-explains-dry-spot",
                          {at, arg::message(first->what), arg::name(first->name), arg::fraction(first->relief, 0)})};
  else if (d.nominal.draws > 0)
    d.headline = {Message("diagnosis.gap-explains-dry-spot-nominal",
                          {at, arg::probability(d.now.p), arg::probability(d.nominal.p)})};
  else
    d.headline = {Message("pages.gap-explains-dry-spot-nominal", {at})};
  d.discriminate = clay(in, single ? first->name : "");
}

}  // namespace

void tell(const CorrectInput& in, SpotDiagnosis& d) {
  const Cause* first = !d.causes.empty() && d.causes[0].relief >= kExplains ? &d.causes[0] : nullptr;
  if (!d.predicted) {
    describe_unpredicted(d);
  } else if (!d.gap_explains) {
    d.headline = {not_the_gap(in, first, d)};
    d.discriminate = {first ? removing(*first, d) : Message("pages.no-single-change-removes")};
  } else {
    describe_gap(in, first, d);
  }
  if (d.seen_fits || !d.predicted) return;
  const double seen = double(d.spot.seen) / d.spot.parts;
  const char* said = d.spot.seen == 0   ? "diagnosis.seen-nowhere"
                     : seen < d.model.p ? "pages.model-expects-parts-but"
                                        : "diagnosis.seen-more-often";
  d.discriminate.push_back(Message(said, {arg::fraction(d.model.p, 0), arg::fraction(seen, 0)}));
}

}  // namespace gapfront::diagnosis
