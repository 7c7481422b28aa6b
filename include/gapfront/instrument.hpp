// What a scanner's certificate, or a check measurement, says about its scans.
#pragma once
#include <filesystem>
#include <string>
#include <vector>
#include "gapfront/message.hpp"
#include "gapfront/scan.hpp"

namespace gapfront {

/// Errors that a scanner is declared to make, mm; 0: not declared. Bounds stand for a rectangular distribution: u is
/// the bound over √3 (JCGM 100:2008, 4.3.7).
struct InstrumentModel {
  double constant = 0;   ///< A of the maximum permissible error of a length, A + L/K (ISO 10360-2, -8, -13)
  double per_metre = 0;  ///< 1 m/K of it: what the bound gains on a metre of length
  /// Probing form error: range of the radial distances on a sphere (as in VDI/VDE 2634 and ISO 10360-8).
  double probing = 0;
  double step = 0;    ///< bound of the step between neighbouring passes or patches where they are joined
  double width = 0;   ///< of such a pass; 0: a third of the scan's size
  double sigma = 0;   ///< standard deviation of errors that neighbouring points share; 0: by `probing`
  double length = 0;  ///< L of their correlation exp(−d²/2L²); 0: 6 mm
  /// Whether anything of a certificate is given.
  bool declared() const { return constant > 0 || per_metre > 0 || probing > 0 || step > 0 || sigma > 0; }
};

/// One model for both halves, or one each.
struct InstrumentPair {
  InstrumentModel lower, upper;
  /// The same of either scan.
  bool declared() const { return lower.declared() || upper.declared(); }
};

namespace scan {
/// What the model makes of a scan `size` mm across whose points scatter by `noise` mm.
ScanErrors errors_of(const InstrumentModel&, double size, double noise);
/// Largest extent of the points along an axis after turning them to their principal axes, mm.
double size_of(const std::vector<Vec3>&);
}  // namespace scan

/// A row of a check measurement.
struct CheckRow {
  /// length: a calibrated length; sphere: range of the radial distances on a sphere; flat: range of the distances from
  /// the best plane on a flat; step: between two passes over one place.
  enum class Kind { length, sphere, flat, step };
  Kind kind = Kind::length;
  double reference = 0;  ///< calibrated length, or length of the flat, mm; 0: none
  double measured = 0;   ///< mm
};

/// What a check measurement says.
struct InstrumentCheck {
  InstrumentModel model;                                       ///< ready for the job
  std::size_t lengths = 0, spheres = 0, flats = 0, steps = 0;  ///< rows of each
  double longest = 0;                                          ///< calibrated length or flat, mm
  double u_constant = 0, u_per_metre = 0;    ///< standard uncertainties that `constant` and `per_metre` stand for, mm
  double mean_error = 0, largest_error = 0;  ///< of the lengths, signed and by amount, mm
  double scale = 0, scale_U = 0;             ///< common to all lengths, and its expanded uncertainty
  Messages doubts;                           ///< why a part is known badly or not at all
};

namespace scan {
/// Delimited text whose first line titles the columns kind, reference, measured; lengths in `unit` mm. Errors as
/// `read_scan`.
std::vector<CheckRow> read_check(const std::filesystem::path& file, double unit = 1);
/// The length errors e are taken as normal with variance s² + (t L)²; s and t by their posterior means (scale prior for
/// either), which few rows widen, and A = √3 s, 1/K = √3 t are no less than what takes in every error seen. Throws
/// Error{Fault::input} for a length without a reference.
InstrumentCheck evaluate_check(const std::vector<CheckRow>&);
}  // namespace scan

}  // namespace gapfront
