// Nominal geometry that the job names by files: the sheet's mesh, nominal thickness, painted zones, nominal faces.
#pragma once
#include "gapfront/inspection.hpp"

namespace gapfront::pipeline {

/// The content of those files; what the job does not name is unset.
struct NominalFiles {
  std::optional<Mesh> lower, upper;  ///< of the registration
  std::optional<Mesh> sheet, surface_lower, surface_upper;
  std::optional<PaintedMesh> painted;
  std::optional<PlaceValues> thickness;
};
/// Reads them, before any scan, so that a fault in one comes at once; each is noted in `inputs`, and so is the file of
/// readings, which the job holds already.
/// Without `sheet_too` (the sheet is given) its mesh is left alone.
NominalFiles read_nominal_files(const Job&, bool sheet_too, std::vector<ExtraInput>& inputs);

/// The sheet made on that mesh.
Sheet sheet_on_mesh(const Mesh&, const Surface& upper, const SheetOptions&, const Progress&);

/// Fills in the job's tolerance for this sheet: painted zones, and the nominal thickness per node.
void place_on_sheet(const Sheet&, const NominalFiles&, Job&, Messages& warnings, const Progress&);

}  // namespace gapfront::pipeline
