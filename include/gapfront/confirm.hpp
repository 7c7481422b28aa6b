// After the work: did each correction do what an earlier inspection predicted?
#pragma once
#include <limits>
#include <string>
#include <vector>
#include "gapfront/conformity.hpp"
#include "gapfront/correct.hpp"
#include "gapfront/outcome.hpp"

namespace gapfront {

/// What an earlier inspection found and predicted. Per node of its sheet; NaN where nothing was measured.
struct Prediction {
  std::string name, date;                  ///< of the earlier job
  std::string lower_sha256, upper_sha256;  ///< of its scans
  Sheet sheet;
  std::vector<double> before, after;  ///< gap measured then, and re-computed with the corrections, mm
  GapMap gap;  ///< measured then: what its uncertainty is made of; the gaps themselves are `before`
  CorrectionPlan plan;
  Chance air_after;  ///< that a filling traps air with the chosen corrections; 0 draws: not estimated
};

/// One correction, or one station of it, as predicted and as measured afterwards: means over the same area, mm.
struct Confirmed {
  std::string correction, part;  ///< "C1"; station or ""
  Kind kind{};
  double area = 0;  ///< that both inspections measured, mm²
  double before = 0, predicted = 0, achieved = 0;
  double predicted_U = 0, achieved_U = 0;  ///< expanded, of the means
  double En = 0;                           ///< |achieved − predicted| / √(U² + U²) (ISO 13528)
  bool can_tell = false;                   ///< false: no common area, or a correction that leaves the gap as it is
  /// By which the halves lie farther apart there than the shims should have left them, mm: no work of this correction,
  /// so it is taken out of `achieved`. 0: they lie as predicted, or it is the shims that are tested.
  double seat = 0;
  /// The largest deviation from the nominal gap where the correction worked, mm, and whether it is within limits; NaN:
  /// not known.
  double worst = std::numeric_limits<double>::quiet_NaN();
  Conformity worst_is = Conformity::not_measured;
  /// Whether the new job has an inlet or vent where the correction wants it.
  enum class Port {
    none,     ///< the correction works on none
    missing,  ///< it is not in the job
    there     ///< it is
  };
  Port port = Port::none;  ///< of what the correction adds or moves
  Message says;            ///< the outcome in a few sentences
};

namespace correct {
/// En test of every chosen correction. All chosen ones are taken as carried out: the prediction is of all together.
/// The sheets may differ; the new gap is read at the nearest place of its sheet. Works are judged jointly: how the
/// halves lie where nothing but shims was to change the gap is taken out of what the others achieved. With the new
/// verdict the largest deviation in each worked region is told.
std::vector<Confirmed> confirm(const Prediction&, const Sheet&, const GapMap&, const Verdict* = nullptr);
/// Whether a job's inlets and vents are those that the correction asks for.
Confirmed::Port port_made(const Correction&, const FlowOptions& job);
}  // namespace correct

}  // namespace gapfront
