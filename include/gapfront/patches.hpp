// Several scans of one half, exported in one frame or nearly, joined to one by what they have in common.
#pragma once
#include <string>
#include <vector>
#include "gapfront/scan.hpp"

namespace gapfront {

/// How one further scan lies on those before it.
struct PatchFit {
  std::string path;
  double rms = 0;      ///< of the distances in the overlap, mm
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
/// Registers each scan onto those before it, from where it lies: exported in one frame, off by 2 % of its size at
/// most. Throws Error{measurement} naming the file when it does not fit so, when a tenth of it or less lies on the
/// others, or when the overlap leaves it free to move. The place of a patch errs as one; chains add up.
JoinedScan join_patches(std::vector<Scan> scans, const Progress& = {});
}  // namespace align

}  // namespace gapfront
