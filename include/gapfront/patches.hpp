// Several scans of one half, joined to one by what they have in common.
#pragma once
#include <optional>
#include <string>
#include <vector>
#include "gapfront/scan.hpp"

namespace gapfront {

/// A further scan of a half.
struct PatchScan {
  Scan scan;
  std::optional<Rigid> pose;  ///< carries it into the first scan's frame; unset: it lies there, or nearly
  double u = 0;  ///< standard uncertainty of its face's place along the normal if `pose` is to be taken as it is, mm
};

/// How a further scan came to its place.
enum class PatchPlace {
  as_exported,  ///< by its overlap, from where it lay
  from_pose,    ///< by its overlap, from the given pose
  from_balls,   ///< by its overlap, from balls that it and the scans before it show
  given         ///< by the given pose alone
};

/// How one further scan lies on those before it.
struct PatchFit {
  std::string path;
  PatchPlace place = PatchPlace::as_exported;
  double rms = 0;      ///< of the distances in the overlap, mm; 0 without one
  double overlap = 0;  ///< share of its places that lie on the scans before it
  double u = 0;        ///< standard uncertainty of its face's place along the normal, where it is greatest, mm
};

/// Several scans of a half, as one.
struct JoinedScan {
  Scan scan;                      ///< in the first one's frame, under its path and hash
  std::vector<PatchFit> patches;  ///< of each but the first
  double u = 0;                   ///< greatest of the patches', mm
};

namespace align {
/// Registers each further scan onto those before it by its overlap, and never by a search, for panels are nearly the
/// same after half a turn. It starts from the given pose, or from where the scan lies: off by 2 % of its size at most.
/// Where that fits nowhere, and without a pose, it starts from three or more balls that both show, if their distances
/// match in one way. A pose with `u` is taken as it is, once what overlaps agrees with it to 3 u.
/// Throws Error{measurement} naming the file when it does not fit, when a tenth of it or less lies on the others, or
/// when the overlap leaves it free to move. The place of a patch errs as one; chains add up.
JoinedScan join_patches(Scan first, std::vector<PatchScan> further, const Progress& = {});
}  // namespace align

}  // namespace gapfront
