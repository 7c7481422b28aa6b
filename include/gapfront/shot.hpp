// A real shot as evidence: what a machine logged beside what the model predicts, and why they differ.
#pragma once
#include <limits>
#include <string>
#include <vector>
#include "gapfront/flow.hpp"
#include "gapfront/laminate.hpp"
#include "gapfront/message.hpp"
#include "gapfront/progress.hpp"

namespace gapfront {

/// One row of a log.
struct ShotSample {
  double time = 0;      ///< s
  double pressure = 0;  ///< at the inlet, above atmosphere, Pa
  double volume = 0;    ///< injected until then, mm³; counted from the moment when resin enters the cavity
};
/// When resin was seen at a vent.
struct VentSeen {
  std::string vent;
  double time = 0;  ///< s, of the log; +infinity: it was watched to the end, and none came
};
/// One shot, as it was logged.
struct ShotLog {
  std::string file, sha256;
  std::vector<ShotSample> samples;  ///< in time
  std::vector<VentSeen> vents;      ///< of those that somebody watched
  double viscosity = 0;             ///< of this shot's resin, as measured, Pa·s; 0: not measured
};

/// What a shot that was not normal may have had.
enum class ShotCause {
  none,
  thick_resin,
  thin_resin,
  low_permeability,
  high_permeability,
  more_glass,
  less_glass,
  wide_gap,
  race_track,
  resin_leak,
  poor_vacuum,
  clogged_vent,
  pump,
  inlet_blocked,
};
const char* to_string(ShotCause);

/// A value with its 95 % interval.
struct ShotEstimate {
  double value = std::numeric_limits<double>::quiet_NaN(), low = value, high = value;
};
/// One possible cause, and how probable the log makes it.
struct ShotCandidate {
  ShotCause cause{};
  std::string subject;  ///< the vent's name; of a race-track the rim's part: "whole", "side 1", "side 2"
  Vec3 at = Vec3::Zero();
  double probability = 0;
  /// How much of it: a factor on viscosity, permeability, glass or on the conductance of the rim's strip; mm of gap;
  /// share of the resin; Pa of cavity pressure; share of the set rate; of a blocked inlet the
  /// share of the cavity that was full.
  ShotEstimate amount;
  double p_value = 1;  ///< that chance alone makes the log differ so much from what this cause predicts
  Message what, check;
};
/// A stretch of the log: means over it.
struct ShotStretch {
  double time = 0, volume = 0, rate = 0;  ///< s, mm³, mm³/s
  double measured = 0;                    ///< above atmosphere, Pa
  double predicted = 0, explained = 0;    ///< by the job as it is, and with the likely cause, Pa
};
/// A jump of the logged pressure that the rate does not go along with.
struct ShotStep {
  double time = 0;               ///< between the rows before and after it, s of the log
  double before = 0, after = 0;  ///< above atmosphere, Pa
};
/// Arrival at a vent, s of the log; +infinity: not within the log.
struct ShotVent {
  std::string name;
  double seen = 0, predicted = 0, explained = 0;
};
/// Whether the shot was normal for the tool.
enum class ShotVerdict {
  normal,
  abnormal,     ///< whatever the cause
  unclear,      ///< it may have been
  unexplained,  ///< no single cause makes such a log
};
const char* to_string(ShotVerdict);

/// What differs from shot to shot, and how well a log is known.
struct ShotOptions {
  double viscosity_spread = 0.15;    ///< relative standard uncertainty of the viscosity of the job (from memory)
  double permeability_spread = 0.2;  ///< of the glass, where no ply gives one (from memory)
  double measured_viscosity = 0.05;  ///< of a viscosity that was measured for the shot (flow cup; own choice)
  double pressure = 2000;            ///< of one reading of the gauge, Pa (own choice: 1 % of a 2 bar gauge)
  /// Of a predicted pressure and of a predicted volume, relative: what mesh, gap and scatter of the glass leave. Own
  /// choice: drawn fillings of the tests scatter by as much.
  double model_pressure = 0.04, model_volume = 0.015;
  /// Resistance of earlier shots of the tool that were normal (ShotFound::resists), Pa·s/mm³; from three on they say
  /// what is normal.
  std::vector<double> earlier;
};

/// From so many on, earlier shots of the tool say what is normal: of fewer nothing can be said about their spread.
constexpr int kEnoughShots = 3;

/// What a log comes to.
struct ShotFound {
  ShotVerdict verdict = ShotVerdict::normal;
  /// Factors on what the job says, fitted together (Gauss–Newton with the spreads as prior; intervals by Laplace), and
  /// the share of the injected resin that went elsewhere. A log tells permeability and viscosity apart only where the
  /// viscosity was measured or channels stand open; what it does tell is `resistance` = viscosity / permeability.
  ShotEstimate permeability, viscosity, leak, resistance;
  double normal_low = 0, normal_high = 0;  ///< within which nineteen of twenty normal shots of this tool resist
  int earlier = 0;                         ///< normal shots of the tool that there are
  bool rests_on_earlier() const { return earlier >= kEnoughShots; }  ///< else on the job's spreads
  /// Pressure per rate by which the half filled cavity resisted, Pa·s/mm³: what a history keeps, whatever the job says.
  double resists = 0;
  std::vector<ShotCandidate> causes;  ///< the likeliest first; `none` among them
  std::vector<ShotStretch> course;
  std::vector<ShotVent> vents;
  std::vector<ShotStep> steps;      ///< in time; a shot with one was not normal
  double pressure_noise = 0;        ///< of the readings, one sigma, Pa; only of a shot with steps
  double volume = 0, duration = 0;  ///< injected, mm³; s
  double cavity = 0;                ///< what the cavity takes by the model, mm³
  double judged = 1;  ///< share of the cavity that was full when the log ended, where that is not all of it
  int fillings = 0;   ///< computed
  Text headline, check;
  /// Whether resistance, permeability and viscosity, or the leak, say something: of a shot with another cause they say
  /// what that would be mistaken for.
  bool resistance_holds() const;
  bool leak_holds() const;  ///< see resistance_holds()
};

namespace diagnosis {
/// Throws Error{Fault::input} for a log of which nothing can be said, and for what was seen at a vent that the job does
/// not know, or after the log's end.
void check_log(const ShotLog&, const FlowOptions&);
/// Compares the log with fillings driven by its own rate, and with what single causes would make of them: each a family
/// of one amount, judged by its evidence (the amount and the resistance integrated out, as far as Laplace goes). Throws
/// what check_log() does.
ShotFound judge_shot(const Sheet&, const std::vector<double>& gap, const LaminateOptions&, const FlowOptions&,
                     const ShotLog&, const ShotOptions& = {}, const Progress& = {});
}  // namespace diagnosis

}  // namespace gapfront
