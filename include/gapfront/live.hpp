// Trials on a mold that was inspected: another vent, another pump setting, a correction left out. The report's page
// makes them with these functions, compiled to WebAssembly, on what the program itself computed with, to the last bit.
#pragma once
#include <optional>
#include <string>
#include <string_view>
#include <vector>
#include "gapfront/correct.hpp"
#include "gapfront/flow.hpp"
#include "gapfront/geometry.hpp"
#include "gapfront/laminate.hpp"
#include "gapfront/sheet.hpp"

namespace gapfront {

/// A mold as it was filled.
struct LiveCase {
  Mesh mesh;
  std::vector<double> gap;        ///< per node, as scanned; as assumed where nothing is measured, mm
  std::vector<double> low, high;  ///< limits of the gap per node, mm; NaN where nothing is judged
  std::vector<double> breathing;  ///< how far a light half opens under the mean pressure of the fill, mm; empty: rigid
  LaminateOptions laminate;
  FlowOptions flow;                     ///< without the stiffness of a light half
  std::vector<Correction> corrections;  ///< proposed ones, with no more than what correct::apply() takes
};

/// A port that is carried elsewhere along the face, as the plan shows it.
struct PortMove {
  bool vent = true;       ///< otherwise an inlet
  std::size_t index = 0;  ///< of the case's ports, then of those that corrections add
  double dx = 0, dy = 0;  ///< mm
};

/// What is tried. As it stands here it changes nothing.
struct LiveTrial {
  std::vector<char> corrections;  ///< 1: done; per correction of the case, those missing are not
  std::optional<double> viscosity, pressure_limit, cavity_pressure;  ///< Pa s, Pa above atmosphere, Pa absolute
  std::optional<double> rate;  ///< in place of the schedule, mm³/s; 0: pressure alone
  std::vector<double> plies;   ///< number of each ply of everywhere, 0: none; those missing are as they are
  std::vector<PortMove> moves;
  std::vector<Vent> vents;          ///< on top of those there are
  std::vector<LaminateZone> added;  ///< glass on top of what is there
};

/// What a trial comes to.
struct LiveOutcome {
  std::vector<double> gap;  ///< per node, as the tolerance sees it, mm
  Filling filling;
  std::vector<Inlet> inlets;  ///< where they were
  std::vector<Vent> vents;
  std::vector<LaminateZone> added;
  double out_area = 0;                                 ///< gap outside its limits, best estimate, mm²
  double over_packed_area = 0, under_filled_area = 0;  ///< mm²
  double peak_pressure = 0;                            ///< at the inlet, above atmosphere, Pa
  double balance = 0;                                  ///< least of closing over opening force
};

namespace live {
/// The case as bytes; every number as it is.
std::string pack(const LiveCase&);
/// What pack() made bytes of. Throws Error{Fault::input} for bytes that are no case, or whose parts do not belong
/// together.
LiveCase unpack(std::string_view);

/// A trial as the page sends it: numbers in the order of the code that reads them. Throws Error{Fault::input} for a
/// list that is cut short, or that names what the case has not.
LiveTrial read_trial(const std::vector<double>&, const LiveCase&);

/// Fills the mold with the trial's settings. `sheet` is cavity::make_sheet() of the case's mesh. What is carried along
/// the face, or added to it, stands at whole tenths of a millimetre, as job lines say it. Throws Error{Fault::input} as
/// flow::fill() does.
LiveOutcome attempt(const LiveCase&, const Sheet& sheet, const LiveTrial&);
}  // namespace live

}  // namespace gapfront
