#include "pipeline/nominal_files.hpp"

#include <algorithm>
#include <array>
#include <cmath>

#include "gapfront/check.hpp"
#include "gapfront/error.hpp"
#include "units/words.hpp"

namespace gapfront::pipeline {
namespace {

void note_file(std::vector<ExtraInput>& inputs, const char* use, const std::filesystem::path& file) {
  inputs.push_back({Message(use), file.filename().string(), scan::sha256_file(file)});
}

/// Samples per third of the least edge, so that a quadric stands on points of one radius; not closer than 0.3 mm, where
/// facets show, and not more than four million, some 200 MB.
Surface sampled(const Mesh& mesh, const SheetOptions& o) {
  double area = 0;
  for (const auto& t : mesh.triangles)
    area += 0.5 * (mesh.points[t[1]] - mesh.points[t[0]]).cross(mesh.points[t[2]] - mesh.points[t[0]]).norm();
  return cavity::surface_of(mesh, std::max(std::clamp(o.min_edge / 3, 0.3, 1.0), std::sqrt(area / 4e6)));
}

/// The same error with the place in the job in front of it.
template <class F>
auto named(const std::string& place, F&& f) {
  try {
    return f();
  } catch (const Error& e) {
    throw Error(e.fault, place + ": " + e.what());
  }
}

std::string paint_place(const Job& job, const ToleranceZone& zone) {
  return job.painted->file.string() + ": [[cavity.zone]] \"" + zone.name + "\" colour";
}

PlaceValues read_thickness(const FileInput& file) {
  PlaceValues given = scan::read_place_values(file.file, file.unit);
  for (std::size_t k = 0; k < given.values.size(); ++k)
    if (!(given.values[k] > 0))
      throw Error(Fault::input, file.file.string() + ": the thickness of place " + std::to_string(k + 1) +
                                    " is not above 0; correct it");
  return given;
}

/// The nominal thickness of the given places on the sheet, with a note on what lies too far from them.
std::vector<double> thickness_on(const Sheet& sheet, const PlaceValues& given, const std::string& file,
                                 Messages& warnings) {
  auto field = named(file, [&] { return conformity::interpolate_on_sheet(sheet, given); });
  double without = 0;
  for (std::size_t i = 0; i < sheet.size(); ++i)
    if (!std::isfinite(field[i])) without += sheet.area[i];
  if (std::none_of(field.begin(), field.end(), [](double v) { return std::isfinite(v); }))
    throw Error(Fault::input,
                file + ": no place lies near the sheet; they must be in tool coordinates, and their unit right");
  if (without > 0) warnings.push_back(Message("warnings.no-nominal-thickness-near", {arg::area(without)}));
  return field;
}

/// A side that three triangles share: a fin that is no moulding face, or two faces that touch. The sheet would go where
/// the fin goes.
void refuse_fins(const Mesh& mesh, const std::string& file) {
  std::vector<std::array<int, 2>> sides;
  for (const auto& t : mesh.triangles)
    for (int k = 0; k < 3; ++k) {
      const auto [a, b] = std::minmax(t[k], t[(k + 1) % 3]);
      if (a != b) sides.push_back({a, b});
    }
  std::sort(sides.begin(), sides.end());
  for (std::size_t i = 2; i < sides.size(); ++i)
    if (sides[i] == sides[i - 2])
      throw Error(Fault::input, file + ": more than two triangles meet at the side from " +
                                    spoken_place(mesh.points[sides[i][0]], UnitSystem::mm, 3) + " to " +
                                    spoken_place(mesh.points[sides[i][1]], UnitSystem::mm, 3) +
                                    ": a fin there is no moulding face; take it out of the mesh, or leave `sheet` out "
                                    "and let the sheet be built from the scan");
}

}  // namespace

NominalFiles read_nominal_files(const Job& job, bool sheet_too, std::vector<ExtraInput>& inputs) {
  NominalFiles out;
  const auto mesh = [&](const FileInput& file, const char* use) {
    note_file(inputs, use, file.file);
    return scan::read_mesh(file.file, file.unit);
  };
  if (!job.nominal_lower.empty()) out.lower = mesh({job.nominal_lower, 1}, "inputs.lower-surface");
  if (!job.nominal_upper.empty()) out.upper = mesh({job.nominal_upper, 1}, "inputs.upper-surface");
  if (!job.readings_file.empty()) note_file(inputs, "inputs.readings", job.readings_file);
  if (job.sheet_mesh && sheet_too) {
    out.sheet = mesh(*job.sheet_mesh, "inputs.sheet-mesh");
    refuse_fins(*out.sheet, job.sheet_mesh->file.string());
  }
  if (job.painted) {
    note_file(inputs, "inputs.painted-mesh", job.painted->file);
    out.painted = scan::read_painted_mesh(job.painted->file, job.painted->unit);
    for (const ToleranceZone& z : job.tolerance.zones)
      if (z.paint) named(paint_place(job, z), [&] { check_paint(*out.painted, *z.paint); });
  }
  if (job.thickness) {
    note_file(inputs, "inputs.thickness", job.thickness->file);
    out.thickness = read_thickness(*job.thickness);
  }
  if (job.surface_lower && job.surface_upper) {
    out.surface_lower = mesh(*job.surface_lower, "inputs.lower-surface");
    out.surface_upper = mesh(*job.surface_upper, "inputs.upper-surface");
  }
  return out;
}

Sheet sheet_on_mesh(const Mesh& mesh, const Surface& upper, const SheetOptions& options, const Progress& progress) {
  return cavity::build_sheet(sampled(mesh, options), upper, options, progress);
}

void place_on_sheet(const Sheet& sheet, const NominalFiles& files, Job& job, Messages& warnings,
                    const Progress& progress) {
  ToleranceOptions& o = job.tolerance;
  if (files.painted)
    for (ToleranceZone& z : o.zones)
      if (z.paint)
        z.nodes = named(paint_place(job, z), [&] {
          // The painted mesh is the nominal face: the real one is nearer to it than an edge or the gap.
          return conformity::painted_nodes(sheet, *files.painted, *z.paint, std::max(job.sheet.edge, o.nominal));
        });
  if (files.thickness) o.nominal_field = thickness_on(sheet, *files.thickness, job.thickness->file.string(), warnings);
  if (files.surface_lower) {
    GapOptions gap = job.gap;
    gap.nominal = o.nominal;
    o.nominal_field = cavity::nominal_surfaces_gap(sheet, sampled(*files.surface_lower, job.sheet),
                                                   sampled(*files.surface_upper, job.sheet), gap, progress);
  }
}

}  // namespace gapfront::pipeline
