// The tables a user can put his own in the place of: effort, and the sets of shims.
#include "gapfront/correct.hpp"
#include "gapfront/error.hpp"

namespace gapfront::correct {

std::vector<Effort> default_effort() {
  return {
      {Kind::shim, 0.5, 0.25, 0, "open, change the stacks, close and check"},
      {Kind::build_up, 3, 0, 0.02, "clean and key, fill, cure, work to the template, seal and polish"},
      {Kind::relief, 2, 1, 0.04, "grind to depth stops, fair, seal and polish; each station of the flange taken down"},
      // A patch is cheap but is laid in every part: counted for twenty parts at five minutes and a little per area.
      {Kind::reinforcement_patch, 1.7, 0, 0.005, "cut and lay the patch, counted for twenty parts"},
      {Kind::radius_packing, 1.7, 0, 0.01, "lay roving into the radius, counted for twenty parts"},
      {Kind::vent_move, 4, 0, 0, "plug the old hole, drill and fit the vent, seal and leak-test"},
      {Kind::inlet_move, 6, 0, 0, "plug the old hole, drill and fit the inlet, seal and leak-test"},
      {Kind::vent_add, 3, 0, 0, "drill and fit one vent more, seal and leak-test"},
      {Kind::vent_enlarge, 2, 0, 0, "open the vent's mouth on the face, seal and leak-test"},
      // Changes of the glass cost a new cutting plan and a trial part; what they cost in glass is not counted.
      {Kind::overlap_cut, 1, 0, 0, "change the cutting plan and lay one trial part"},
      {Kind::filling_ply, 2.5, 0, 0, "change the cutting plan and lay one trial part, one ply more in every part"},
      {Kind::other_stack, 3, 0, 0, "change the cutting plan and lay one trial part"},
  };
}

std::vector<double> stock_set(const std::string& name) {
  if (name == "metric") return {0.05, 0.1, 0.2, 0.5, 1, 2};
  if (name == "inch") {
    std::vector<double> out;
    for (const double thou : {2, 3, 5, 10, 20, 31, 62}) out.push_back(thou * 0.0254);
    return out;
  }
  throw Error(Fault::input, "the shim sets are \"metric\" and \"inch\"; or list the thicknesses at hand");
}

}  // namespace gapfront::correct
