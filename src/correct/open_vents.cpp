// Vents that the job closes by hand while air still has to leave there.
#include <cmath>
#include <limits>

#include "core/places.hpp"
#include "correct/effort.hpp"
#include "correct/state.hpp"

namespace gapfront::correct {

bool closed_too_soon(const Filling& f, const FlowOptions& flow, std::size_t vent) {
  const double by_hand = flow.vents[vent].blocked_from;
  // What is covered before that closes by then, however long it was to bleed; and nothing leaves once nothing flows.
  return by_hand < f.fill_time && vent < f.vent_closed_at.size() && f.vent_closed_at[vent] > by_hand;
}

Messages said_of_closed_vents(const Filling& f, const FlowOptions& flow) {
  Messages out;
  for (std::size_t v = 0; v < flow.vents.size(); ++v)
    if (closed_too_soon(f, flow, v))
      out.push_back(
          Message("advice.job-closes-vent", {arg::name(flow.vents[v].name), arg::time(flow.vents[v].blocked_from)}));
  return out;
}

std::vector<Correction> open_vent_candidates(const CorrectOptions& o, const FlowOptions& flow, const Filling& measured,
                                             const Filling& nominal) {
  std::vector<Correction> out;
  for (std::size_t v = 0; v < flow.vents.size(); ++v) {
    if (!closed_too_soon(measured, flow, v) && !closed_too_soon(nominal, flow, v)) continue;
    const Vent& vent = flow.vents[v];
    Correction c;
    c.kind = Kind::vent_open, c.face = "settings", c.redesign = true;
    c.port = vent.name, c.port_to = vent.path, c.centre = mean_place(vent.path);
    c.effort = effort_hours(o, c.kind, 0, 0);
    c.instruction = {Message("advice.job-closes-vent", {arg::name(vent.name), arg::time(vent.blocked_from)}),
                     Message("advice.leave-vent-open", {arg::name(vent.name)})};
    out.push_back(std::move(c));
  }
  return out;
}

}  // namespace gapfront::correct
