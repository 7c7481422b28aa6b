#include "cli/nominal.hpp"

#include <algorithm>
#include <cmath>

#include "gapfront/error.hpp"

namespace gapfront {
namespace {

void note(std::vector<ExtraInput>& inputs, const char* use, const FileInput& file) {
  inputs.push_back({use, file.file.filename().string(), sha256_file(file.file)});
}

/// Samples per third of the least edge, so that a quadric stands on points of one radius; not closer than 0.3 mm, where
/// facets show, and not more than four million, some 200 MB.
Surface sampled(const Mesh& mesh, const SheetOptions& o) {
  double area = 0;
  for (const auto& t : mesh.triangles)
    area += 0.5 * (mesh.points[t[1]] - mesh.points[t[0]]).cross(mesh.points[t[2]] - mesh.points[t[0]]).norm();
  return surface_of(mesh, std::max(std::clamp(o.min_edge / 3, 0.3, 1.0), std::sqrt(area / 4e6)));
}

/// The same error with the place in the job in front of it.
template <class F>
auto at(const std::string& place, F&& f) {
  try {
    return f();
  } catch (const Error& e) {
    throw Error(e.fault, place + ": " + e.what());
  }
}

}  // namespace

Sheet sheet_on_mesh(const Job& job, const Surface& upper, std::vector<ExtraInput>& inputs, const Progress& progress) {
  note(inputs, "nominal mesh of the sheet", *job.sheet_mesh);
  return build_sheet(sampled(read_mesh(job.sheet_mesh->file, job.sheet_mesh->unit), job.sheet), upper, job.sheet,
                     progress);
}

void read_nominal_files(const Sheet& sheet, Job& job, std::vector<ExtraInput>& inputs,
                        std::vector<std::string>& warnings, const Progress& progress) {
  ToleranceOptions& o = job.tolerance;
  if (job.painted) {
    note(inputs, "painted mesh of the zones", *job.painted);
    const PaintedMesh painted = read_painted_mesh(job.painted->file, job.painted->unit);
    for (ToleranceZone& z : o.zones)
      if (z.paint)
        z.nodes = at(job.painted->file.string() + ": [[cavity.zone]] \"" + z.name + "\" colour", [&] {
          // The painted mesh is the nominal face: the real one is nearer to it than an edge or the gap.
          return painted_nodes(sheet, painted, *z.paint, std::max(job.sheet.edge, o.nominal));
        });
  }
  if (job.thickness) {
    note(inputs, "nominal thickness", *job.thickness);
    const PlaceValues given = read_place_values(job.thickness->file, job.thickness->unit);
    for (std::size_t k = 0; k < given.values.size(); ++k)
      if (!(given.values[k] > 0))
        throw Error(Fault::input, job.thickness->file.string() + ": the thickness of place " + std::to_string(k + 1) +
                                      " is not above 0; correct it");
    o.nominal_field = at(job.thickness->file.string(), [&] { return interpolate_on_sheet(sheet, given); });
    double without = 0;
    for (std::size_t i = 0; i < sheet.size(); ++i)
      if (!std::isfinite(o.nominal_field[i])) without += sheet.area[i];
    if (std::none_of(o.nominal_field.begin(), o.nominal_field.end(), [](double v) { return std::isfinite(v); }))
      throw Error(Fault::input, job.thickness->file.string() +
                                    ": no place lies near the sheet; they must be in tool coordinates, and their unit "
                                    "right");
    if (without > 0)
      warnings.push_back("no nominal thickness is given near " + format_area(without, job.units) +
                         " of the sheet; there the one of the zone, or of the whole, holds");
  }
  if (job.surface_lower) {
    note(inputs, "nominal lower surface", *job.surface_lower);
    note(inputs, "nominal upper surface", *job.surface_upper);
    const Surface lower = sampled(read_mesh(job.surface_lower->file, job.surface_lower->unit), job.sheet),
                  upper = sampled(read_mesh(job.surface_upper->file, job.surface_upper->unit), job.sheet);
    GapOptions gap = job.gap;
    gap.nominal = o.nominal;
    o.nominal_field = nominal_surfaces_gap(sheet, lower, upper, gap, progress);
  }
}

}  // namespace gapfront
