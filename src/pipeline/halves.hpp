// From two files to two closed halves.
#pragma once
#include <functional>
#include "gapfront/inspection.hpp"
#include "pipeline/nominal_files.hpp"
#include "pipeline/stages.hpp"

namespace gapfront::pipeline {

struct ScannedHalves {
  Scan lower, upper;
};
/// All scans of a half, not joined yet.
struct HalfScans {
  Scan first;
  std::vector<PatchScan> further;
  std::string sha256;               ///< of all of them and their poses
  std::vector<ExtraInput> besides;  ///< the files of the further scans and of poses
};
/// `read` gives the scans of a file, one or more.
HalfScans read_half(const HalfInput&, const std::function<std::vector<Scan>(const std::filesystem::path&)>& read);

/// Reads and cleans both scans, and refuses a pair that is none. Fills in what `out` keeps of the files.
ScannedHalves read_halves(Measured& out, Stages&);

/// Registers the halves and brings them into the tool frame: sets `alignment` and `halves`. The scans are used up.
void close_halves(Measured& out, ScannedHalves, NominalFiles&, Stages&);

}  // namespace gapfront::pipeline
