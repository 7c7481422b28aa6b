// What kinds of correction, of marks and of ways to measure are called.
#include "gapfront/correct.hpp"

namespace gapfront {

const char* to_string(Way w) {
  switch (w) {
    case Way::straight:
      return "straight";
    case Way::over_surface:
      return "over the surface";
    case Way::along_edge:
      return "along the edge";
    case Way::from_edge:
      return "squarely from the edge";
  }
  return "";
}

const char* to_string(Mark m) {
  switch (m) {
    case Mark::other:
      return "other";
    case Mark::target:
      return "target";
    case Mark::station:
      return "station";
  }
  return "";
}

const char* to_string(Kind k) {
  switch (k) {
    case Kind::shim:
      return "shim";
    case Kind::build_up:
      return "build-up";
    case Kind::relief:
      return "relief";
    case Kind::reinforcement_patch:
      return "glass patch";
    case Kind::radius_packing:
      return "radius packing";
    case Kind::vent_move:
      return "vent move";
    case Kind::inlet_move:
      return "inlet move";
    case Kind::vent_add:
      return "vent added";
    case Kind::vent_enlarge:
      return "vent enlarged";
    case Kind::overlap_cut:
      return "overlap cut";
    case Kind::filling_ply:
      return "filling ply";
    case Kind::other_stack:
      return "other stack";
    case Kind::inlet_add:
      return "inlet added";
    case Kind::vacuum_level:
      return "vacuum level";
    case Kind::lower_limit:
      return "lower limit";
    case Kind::pump_steps:
      return "pump steps";
    case Kind::resin_warmed:
      return "resin warmed";
    case Kind::vent_open:
      return "vent left open";
  }
  return "";
}

}  // namespace gapfront
