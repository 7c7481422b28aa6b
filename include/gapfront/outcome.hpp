// What one inspection comes to: the few facts that terminal, report, work order and diagnosis all state alike.
#pragma once
#include <optional>
#include <string>
#include <vector>
#include "gapfront/conformity.hpp"
#include "gapfront/geometry.hpp"

namespace gapfront {

/// A probability estimated from random draws, with its 95 % interval (exact binomial, Clopper & Pearson 1934).
/// `draws` 0: not estimated, and the rest means nothing.
struct Chance {
  double p = 0, low = 0, high = 1;
  int hits = 0, draws = 0;
};

namespace conformity {
/// Throws nothing; hits in [0, draws].
Chance chance_of(int hits, int draws);
/// The same of draws that do not count alike: the interval is that of as many equal draws as they are worth,
/// (Σw)²/Σw² (Kish 1965; from memory). `hits` and `draws` are what was drawn.
Chance weighted_chance(const std::vector<char>& hit, const std::vector<double>& weight);
}  // namespace conformity

/// Why nothing is said of the gap: the measurement itself is in doubt, so neither verdict nor correction follows.
struct Doubt {
  /// What makes the measurement doubtful.
  enum class Reason {
    wrong_target,  ///< one target disagrees with the others; `subject` names it
    not_closed,    ///< the halves did not lie closed, or something lies between them
    wrong_unit,    ///< sizes suit another unit of length; `subject` names it
    seat_dirt,     ///< a ball does not sit in its seat; `subject` names it
    second_layer,  ///< a scan shows two surfaces, one behind the other; `subject` is its file, `amount` their distance
    readings,      ///< readings of the gap contradict the map; `subject` names one that does alone
    registration,  ///< the registration's own tests fail and no single reason is the likely one
  };
  Reason reason = Reason::registration;
  std::string subject;
  double amount = 0;            ///< how much: interpenetration or residual, mm
  double area = 0;              ///< over which the halves interpenetrate beyond U, mm²; 0: they do not
  Vec3 at = Vec3::Zero();       ///< where it is greatest, tool frame
  Message text;                 ///< what is wrong, and what to check first
  std::vector<BallSize> balls;  ///< whose diameters it is about; else none
};

const char* to_string(Doubt::Reason);

namespace conformity {
/// Does the registration deserve a verdict? Looks at the targets' agreement, the methods', the lands, and at where the
/// halves run through each other. Doubts need both proof (0.5 % by chance for all tests on targets together) and size
/// (AlignOptions::seat_play, tool_play), so that what U covers already is no reason to stop.
std::optional<Doubt> doubt_registration(const Alignment&, const AlignOptions&, const Sheet&, const GapMap&);
/// Of three targets that alone close the halves: they fix the upper half and test nothing along the opening axis, so
/// dirt under one would pass unseen. Nothing where the job states the u of each, or where `readings` of the gap, three
/// at least, test the closed position.
std::optional<Doubt> doubt_unchecked_targets(const Alignment&, const AlignOptions&, int readings);
/// Of readings of the gap that the map contradicts beyond both uncertainties, or that all together say that the clamped
/// mold sits differently; each of the two by chance in 1 of 400 inspections, and by more than `play` mm. Readings whose
/// common motion was taken out of the map (`SpotShift::removed`) count with what is left.
std::optional<Doubt> doubt_of_readings(const std::vector<SpotComparison>&, const SpotShift&, double coverage,
                                       double play);
/// What is said of a target that was left out while the rest suffices: which, by how much, likely why. Nothing where
/// none was.
std::optional<Message> target_left_out(const Alignment&, const AlignOptions&, const Sheet&);
/// Of a scan that shows two surfaces: which one is the face, nobody can tell. `file`: the scan's name.
std::optional<Doubt> doubt_layers(const SecondLayer&, const std::string& file);
/// The same where both scans do.
Doubt doubt_layers(const SecondLayer& one, const std::string& one_file, const SecondLayer& other,
                   const std::string& other_file);
/// What is to be checked first, and why there is no verdict: for headlines.
Message what_first(const Doubt&);
/// A clause.
Message why_no_verdict(const Doubt&);
}  // namespace conformity

/// What stands in the way of a good part that no work on the gap can cure; it is the headline where there is one.
enum class Obstacle {
  none,
  stack_cannot_fill,         ///< the glass does not reach across the nominal section: a channel stays open
  reinforcement_holds_open,  ///< the glass alone pushes back harder than what closes the mold
  layout_traps_air,          ///< the nominal mold traps air as well: inlets and vents are at fault
  resin_gels_first,          ///< before a nominal mold is full: the front stops
};

/// An area out of tolerance after work, mm²: mean and 95 % interval over how well hands do it.
struct OutArea {
  double mean = 0, low = 0, high = 0;
};

/// One state of the tool: as measured, after the chosen corrections, or nominal.
struct StateOutcome {
  /// Area where the gap, best estimate, is outside its limits, mm². After hand work: mean over the workmanship's draws.
  /// The one number that is called "out of tolerance".
  double out_area = 0, out_low = 0, out_high = 0;  ///< with a 95 % interval by workmanship (equal: no work in it)
  Chance air;                                      ///< that a filling traps air
  double expected_dry = 0;                         ///< sheet area in pockets, mean over the draws, mm²
  double balance = 0;       ///< least of closing over opening force, of the whole mold; infinity: nothing opens it
  double local_margin = 0;  ///< least local margin, Pa (closing − opening pressure)
  bool closes = true;       ///< the mold can be closed on its glass
  double fill_time = 0;     ///< s
};
/// The few facts that every page states alike.
struct Outcome {
  Obstacle obstacle = Obstacle::none;
  StateOutcome now, after, nominal;
  bool works = false;  ///< corrections were chosen; otherwise `after` equals `now`
};

}  // namespace gapfront
