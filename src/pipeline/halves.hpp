// From two files to two closed halves.
#pragma once
#include "gapfront/inspection.hpp"
#include "pipeline/nominal_files.hpp"
#include "pipeline/stages.hpp"

namespace gapfront::pipeline {

struct ScannedHalves {
  Scan lower, upper;
};
/// Reads and cleans both scans, and refuses a pair that is none. Fills in what `out` keeps of the files.
ScannedHalves read_halves(Measured& out, Stages&);

/// Registers the halves and brings them into the tool frame: sets `alignment` and `halves`. The scans are used up.
void close_halves(Measured& out, ScannedHalves, NominalFiles&, Stages&);

}  // namespace gapfront::pipeline
