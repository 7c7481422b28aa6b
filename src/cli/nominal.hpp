// The files that [cavity] names, read and brought to the sheet.
#pragma once
#include "gapfront/inspection.hpp"

namespace gapfront {

/// The sheet made on the mesh that the job names.
Sheet sheet_on_mesh(const Job&, const Surface& upper, std::vector<ExtraInput>&, const Progress&);

/// Fills the tolerance's nominal field and its painted zones for this sheet from the files that the job names.
void read_nominal_files(const Sheet&, Job&, std::vector<ExtraInput>&, std::vector<std::string>& warnings,
                        const Progress&);

}  // namespace gapfront
