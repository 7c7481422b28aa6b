// What can be refused before any scan is read.
#pragma once
#include "gapfront/job.hpp"

namespace gapfront::pipeline {

/// validate() without the places that are written to. `own_sheet`: the sheet is built inside the job's seal line, not
/// given.
void check_settings(const Job&, bool own_sheet);

}  // namespace gapfront::pipeline
