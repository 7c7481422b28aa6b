// The tables a user can put his own in the place of: effort, and the sets of shims.
#include "gapfront/correct.hpp"
#include "gapfront/error.hpp"
#include "units/inch.hpp"

namespace gapfront::correct {

std::vector<Effort> default_effort() {
  return {
      {Kind::shim, 0.5, 0.25, 0, 0, Message("order.open-change-stacks-close")},
      {Kind::build_up, 3, 0, 0.02, 0, Message("order.clean-key-fill-cure")},
      {Kind::relief, 2, 1, 0.04, 0, Message("order.grind-depth-stops-fair")},
      // A patch is cheap but is laid in every part, at four and a half minutes and a little for its size.
      {Kind::reinforcement_patch, 0.2, 0, 0.005, 0.075, Message("order.cut-lay-patch-counted")},
      {Kind::radius_packing, 0.2, 0, 0.01, 0.075, Message("order.lay-roving-into-radius")},
      {Kind::vent_move, 4, 0, 0, 0, Message("order.plug-old-hole-drill")},
      {Kind::inlet_move, 6, 0, 0, 0, Message("order.plug-old-hole-drill-fit")},
      {Kind::vent_add, 3, 0, 0, 0, Message("advice.drill-fit-one-vent")},
      {Kind::vent_enlarge, 2, 0, 0, 0, Message("advice.open-vents-mouth-face")},
      // Changes of the glass cost a new cutting plan and a trial part; what they cost in glass is not counted.
      {Kind::overlap_cut, 1, 0, 0, 0, Message("advice.change-cutting-plan-lay")},
      {Kind::filling_ply, 2.5, 0, 0, 0, Message("advice.change-cutting-plan-lay-one")},
      {Kind::other_stack, 3, 0, 0, 0, Message("advice.change-cutting-plan-lay")},
      {Kind::inlet_add, 4, 0, 0, 0, Message("optimiser.drill-fit-inlet")},
      // Settings cost a trial part, warm resin besides a heated store and a look at the thermometer for each part.
      {Kind::vacuum_level, 1, 0, 0, 0, Message("optimiser.set-vacuum-trial")},
      {Kind::lower_limit, 1, 0, 0, 0, Message("optimiser.set-pump-trial")},
      {Kind::pump_steps, 1, 0, 0, 0, Message("optimiser.set-pump-trial")},
      {Kind::vent_open, 0.5, 0, 0, 0, Message("advice.change-injection-sheet")},
      {Kind::resin_warmed, 2, 0, 0, 0.05, Message("optimiser.warm-resin-trial")},
  };
}

std::vector<double> stock_set(const std::string& name) {
  if (name == "metric") return {0.05, 0.1, 0.2, 0.5, 1, 2};
  if (name == "inch") {
    std::vector<double> out;
    for (const double thou : {2, 3, 5, 10, 20, 31, 62}) out.push_back(thou * (inch / 1000));
    return out;
  }
  throw Error(Fault::input, "the shim sets are \"metric\" and \"inch\"; or list the thicknesses at hand");
}

}  // namespace gapfront::correct
