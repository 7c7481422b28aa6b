// After the work: did each correction do what an earlier inspection predicted?
#pragma once
#include <string>
#include <vector>
#include "gapfront/correct.hpp"

namespace gapfront {

/// What an earlier inspection found and predicted. Per node of its sheet; NaN where nothing was measured.
struct Prediction {
  std::string name, date;                  ///< of the earlier job
  std::string lower_sha256, upper_sha256;  ///< of its scans
  Sheet sheet;
  std::vector<double> before, after;  ///< gap measured then, and re-computed with the corrections, mm
  GapMap gap;  ///< measured then: what its uncertainty is made of; the gaps themselves are `before`
  CorrectionPlan plan;
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
  Message says;                            ///< the outcome in one sentence
};

namespace correct {
/// En test of every chosen correction. All chosen ones are taken as carried out: the prediction is of all together.
/// The sheets may differ; the new gap is read at the nearest place of its sheet.
std::vector<Confirmed> confirm(const Prediction&, const Sheet&, const GapMap&);
}  // namespace correct

}  // namespace gapfront
