// A study: one mold, measured once, filled in several ways.
#pragma once
#include <string>
#include <vector>

#include "gapfront/alternatives.hpp"
#include "gapfront/inspection.hpp"
#include "gapfront/progress.hpp"

namespace gapfront {

/// What one alternative comes to.
struct StudiedFill {
  std::string key;               ///< of job, scans and program; empty: not computed yet
  double fill_time = 0;          ///< s
  double dry_area = 0;           ///< in the one filling computed, mm²
  double expected_dry_area = 0;  ///< mean over the drawn fillings, mm²
  Chance air;                    ///< that a filling traps air
  double balance = 0;            ///< least of closing over opening force
  double inlet_pressure = 0;     ///< greatest at the inlet, above atmosphere, Pa
  double gel_time = 0;           ///< from the first resin on, s; 0: not known
  /// What stays dry because the resin gels before all is full, see diagnosis::gelled_area(), mm². NaN: of a file that
  /// does not tell it.
  double gelled_area = 0;
  bool gels() const { return gelled_area > 0; }  ///< before all is full
  std::vector<double> arrival;  ///< when the front passes each node, s, as flow::passing_time; infinity: dry
};

/// A study with what is computed of it.
struct Study {
  Mesh mesh;                       ///< of the sheet; empty: not measured yet
  std::vector<StudiedFill> fills;  ///< as Alternatives::all
};

namespace pipeline {
/// What an alternative's result is known by: other scans, settings or another program give another one.
std::string study_key(const Alternative&, const Measured&);
/// Fills the measured mold as the alternative says. Errors are those of predict().
StudiedFill study_fill(const Measured&, const Alternative&, const Progress& = {});
/// Fill time (s) and least balance within 0.5 % of each other (own choice: the mesh alone moves a fill time by as
/// much), and air in as many of the drawn fillings.
bool alike(const StudiedFill&, const StudiedFill&);
/// Whether every one that is computed leaves more dry than `min_dry`, mm², in the one filling and in all drawn ones.
bool none_fills(const std::vector<StudiedFill>&, double min_dry);
/// Whether in every one that is computed the resin gels before all is full.
bool all_gel(const std::vector<StudiedFill>&);
/// Those in which the resin does not gel before all is full and that no other of them beats: none fills sooner, traps
/// air less often and keeps the mold closed better, or the same in two of these and better in the third. Fill time and
/// balance as alike(); fewer than five drawn fillings are no difference. Of what beats each other in a ring, which
/// small differences that do not count can make, all stay.
std::vector<bool> not_beaten(const std::vector<StudiedFill>&);
}  // namespace pipeline

}  // namespace gapfront
