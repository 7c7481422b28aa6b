// What each kind of correction is called, what it changes, and what a state is worth.
#include <algorithm>
#include <cmath>

#include "correct/state.hpp"

namespace gapfront {

LaminateMap correct::filled(const CorrectInput& in, const std::vector<double>& gap, const LaminateOptions& laminate,
                            const Breathing* b) {
  return laminate::evaluate_laminate(in.sheet, b ? flow::under_filling(gap, *b) : gap, laminate);
}

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
  }
  return "";
}

double correct::loss(const Effect& e, const LossScale& scale) {
  const double area = scale.sheet_area;
  double out = 0;
  const double dry = std::isfinite(e.expected_dry_area) ? e.expected_dry_area : e.dry_area;
  if (area > 0) {
    out += 0.5 * (e.nonconforming_area + e.out_of_tolerance_area) / area + dry / area;
    out += (e.over_packed_area + e.under_filled_area) / area;
  }
  if (scale.nominal_fill_time > 0) out += e.rms_lead_s / scale.nominal_fill_time;
  return out;
}

}  // namespace gapfront
