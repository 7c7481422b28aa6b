// Two scans and a job → sheet, gap, verdict.
#include <algorithm>
#include <cmath>
#include <utility>

#include "core/statistics.hpp"
#include "gapfront/error.hpp"
#include "gapfront/pipeline.hpp"
#include "gapfront/text.hpp"
#include "pipeline/by_readings.hpp"
#include "pipeline/checks.hpp"
#include "pipeline/density.hpp"
#include "pipeline/halves.hpp"
#include "pipeline/notes.hpp"
#include "pipeline/reach.hpp"
#include "pipeline/seal_choice.hpp"
#include "pipeline/size_check.hpp"
#include "pipeline/smoothed.hpp"
#include "pipeline/validate.hpp"
#include "units/digits.hpp"

namespace gapfront::pipeline {
namespace {

/// Thermal growth is left out until the job declares temperatures; the rest of the bounds come from the job.
GapOptions gap_options(const Job& job) {
  GapOptions o = job.gap;
  o.nominal = job.tolerance.nominal;
  double widest = o.nominal + job.tolerance.plus;
  for (const auto& z : job.tolerance.zones) widest = std::max(widest, z.nominal + z.plus);
  for (const double nominal : job.tolerance.nominal_field)
    if (std::isfinite(nominal)) widest = std::max(widest, nominal + job.tolerance.plus);
  // Four times the widest gap allowed: beyond that the other half is some other wall, not the opposite face.
  if (o.max_gap <= 0) o.max_gap = 4 * std::max(o.nominal, widest);
  return o;
}

/// Where a person drew the seal line, the cavity begins there: a ball outside it masks nothing inside.
void keep_outside(const std::vector<Vec3>& seal, std::vector<Mask>& masks) {
  if (seal.size() < 3) return;
  std::vector<Vec3> line;
  for (const Vec3& p : seal) line.push_back(Vec3(p.x(), p.y(), 0));
  line.push_back(line.front());
  for (Mask& m : masks)
    if (!inside_polygon_xy(m.centre, seal))
      m.radius = std::min(m.radius, distance_to_path(Vec3(m.centre.x(), m.centre.y(), 0), line));
}

/// Of the registration alone, before there is a sheet.
std::optional<Doubt> targets_in_doubt(const Measured& m) {
  return conformity::doubt_registration(m.alignment, m.job.align, {}, {});
}

/// From a quarter of what the tolerance allows either way, to three gaps.
LayerRange layer_range(const Measured& m) {
  const auto& t = m.job.tolerance;
  return {.least = 0.125 * (t.plus + t.minus), .most = 3 * t.nominal};
}

std::string scan_of(const Measured& m, SecondLayer::Half half) {
  return (half == SecondLayer::Half::lower ? m.job.lower : m.job.upper).file.string();
}

/// Where no sheet or gap comes of it: half of the face or more in two layers is the cause, and the other fault the
/// effect. Less may be a part of the tool beside the cavity.
void refuse_layers(const Measured& m) {
  const SecondLayer layer = cavity::find_second_layer(m.halves->lower, m.halves->upper, layer_range(m));
  if (layer.fraction < 0.5) return;
  const auto doubt = conformity::doubt_layers(layer, scan_of(m, layer.half));
  throw Error(Fault::measurement, say(doubt->text, {m.job.units}));
}

/// Scatter of a quarter of the gap: at four σ each the two faces run into each other.
void refuse_noise(const Measured& m) {
  const double most = 0.25 * m.job.tolerance.nominal;
  for (const auto half : {SecondLayer::Half::lower, SecondLayer::Half::upper}) {
    const double noise = (half == SecondLayer::Half::lower ? m.halves->lower : m.halves->upper).noise();
    if (noise <= most) continue;
    throw Error(Fault::measurement, scan_of(m, half) + ": the points scatter by " +
                                        format_length(noise, UnitSystem::mm) +
                                        " (one standard deviation) about their own surface, too much for a gap of " +
                                        format_length(m.job.tolerance.nominal, UnitSystem::mm) +
                                        "; scan again with at most " + format_length(most, UnitSystem::mm));
  }
}

/// The seal line, and what stands on the halves for the registration's sake.
void outline_cavity(Measured& out, bool sheet_given, Stages& stage) {
  const Surface &low = out.halves->lower, &high = out.halves->upper;
  const std::string file = out.job.file.string();
  check_edge(low, out.job.sheet, file);
  auto& masks = out.job.sheet.masks;  // the job's own, and the registration's
  for (Mask& m : cavity::masks_of(out.alignment)) masks.push_back(std::move(m));
  stage("seal line", [&](const Progress&) { choose_seal(out, low, high, sheet_given || out.job.sheet_mesh); });
  // Targets in doubt put the seal line beside the face; their error is the cause, and this one the effect.
  if (!sheet_given && !targets_in_doubt(out)) check_seal(low, out.job.sheet.seal, file);
  if (out.seal.source == SealOrigin::Source::given) keep_outside(out.job.sheet.seal, masks);
}

Sheet build(const Measured& m, const NominalFiles& files, const Progress& progress) {
  const ClosedHalves& h = *m.halves;
  try {
    return files.sheet ? sheet_on_mesh(*files.sheet, h.upper, m.job.sheet, progress)
                       : cavity::build_sheet(h.lower, h.upper, m.job.sheet, progress);
  } catch (const Error& e) {
    if (e.fault != Fault::measurement) throw;
    if (const auto doubt = targets_in_doubt(m))
      throw Error(Fault::measurement, "align: " + say(doubt->text, {m.job.units}));
    refuse_layers(m);
    refuse_noise(m);
    throw;
  }
}

void lay_sheet(Measured& out, const NominalFiles& files, const Sheet* given, Stages& stage) {
  out.sheet = stage("sheet", [&](const Progress& p) { return given ? *given : build(out, files, p); });
  auto& masks = out.job.sheet.masks;
  if (given) cavity::mask_nodes(out.sheet, masks);
  masks = cavity::masks_on_sheet(out.sheet, masks);
  if (files.painted || files.thickness || files.surface_lower)
    stage("nominal", [&](const Progress& p) { place_on_sheet(out.sheet, files, out.job, out.warnings, p); });
}

void find_gap(Measured& out, Stages& stage) {
  out.job.gap = gap_options(out.job);
  out.gap = stage("gap", [&](const Progress& p) {
    return cavity::measure_gap(out.sheet, out.halves->lower, out.halves->upper, out.alignment, out.job.gap, p);
  });
  refuse_wrong_unit(out.job, out.sheet, out.gap);
  for (std::size_t i = 0; i < out.sheet.size(); ++i)
    if (is_masked(out.sheet, i) && !std::exchange(out.gap.nodes[i].measured, false))
      out.gap.unmeasured_area -= out.sheet.area[i];  // measured or not, it is not part of what is to be judged
}

/// One chance in twenty, the usual level; a motion that may be chance is never taken out.
void compare_readings(Measured& out) {
  out.spots = cavity::compare_spots(out.sheet, out.gap, out.job.spots);
  out.spot_shift = cavity::spot_shift(out.sheet, out.gap, out.job.spots);
  if (out.job.readings_use != ReadingsUse::compare) return;  // the map is carried over to all that they say
  const ReadingsReach reach = reach_of_readings(out);
  say_reach(out, reach, "warnings.readings-test-a-part");
  if (!(out.spot_shift.parameters > 0 && out.spot_shift.p < 0.05)) return;
  if (out.job.remove_spot_shift) {
    std::vector<double> change;
    for (const NodeGap& g : out.gap.nodes) change.push_back(g.measured ? out.spot_shift.at(g) : 0);
    cavity::remove_shift(out.gap, out.spot_shift);
    count_beyond_reach(out.gap, reach, change);
  }
  out.warnings.push_back(shift_warning(out.spot_shift, reach.ample()));
}

// Readings test a tilt about every axis where they spread by a tenth of their length across it.
constexpr double kAcross = 0.1;

/// Readings that were compared with the map, as long as they do not lie in a line; else none.
int readings_that_test(const Measured& m) {
  std::vector<Vec3> at;
  for (std::size_t k = 0; k < m.spots.size(); ++k)
    if (m.spots[k].found) at.push_back(m.job.spots[k].at);
  double longest = 0, across = 0;
  for (const Vec3& a : at)
    for (const Vec3& b : at) longest = std::max(longest, (a - b).norm());
  for (const Vec3& a : at)
    for (const Vec3& b : at)
      if ((a - b).norm() > 0.5 * longest)
        for (const Vec3& c : at) across = std::max(across, (b - a).cross(c - a).norm() / (b - a).norm());
  return longest > 0 && across > kAcross * longest ? static_cast<int>(at.size()) : 0;
}

// Between points, the nearest layers that part along a normal are this much of their distance apart (with some room).
constexpr double kNearLayers = 0.5;

/// U counts passes that lie as far apart as their declared steps, and further scans of a half as they could be joined.
double counted_between_passes(const Measured& m, bool low) {
  const double step = (low ? m.job.instrument.lower : m.job.instrument.upper).step;
  if ((low ? m.lower_patches : m.upper_patches).empty()) return step;
  std::vector<double> U;
  for (const NodeGap& g : m.gap.nodes)
    if (g.measured) U.push_back(g.U);
  return std::max(step, median(std::move(U)));
}

/// Where coordinates are rounded to more than their noise, a face in one layer falls into heaps as well.
std::vector<SecondLayer> uncounted_close_layers(const Measured& m) {
  if (!m.job.gap.find_made_up || by_readings_alone(m.job)) return {};
  const double spacing = std::max(m.halves->lower.spacing(), m.halves->upper.spacing());
  auto layers = cavity::find_close_layers(m.sheet, m.gap, m.halves->lower, m.halves->upper, kNearLayers * spacing);
  std::erase_if(layers, [&](const SecondLayer& l) {
    return l.distance <= counted_between_passes(m, l.half == SecondLayer::Half::lower);
  });
  return layers;
}

/// Where a face is there twice, the steps that are seen in its scan are between the two.
void drop_step_notes(Measured& m, const std::vector<SecondLayer>& layers) {
  for (const SecondLayer& l : layers) {
    const char* id = l.half == SecondLayer::Half::lower ? "warnings.steps-lower" : "warnings.steps-upper";
    std::erase_if(m.warnings, [&](const Message& w) { return w.id == id; });
  }
}

/// A face in two layers pulls sheet and registration along with it, so it is looked for first.
std::optional<Doubt> doubt_of_layers(Measured& m) {
  std::vector<SecondLayer> layers{cavity::find_second_layer(m.sheet, m.halves->lower, m.halves->upper, layer_range(m))};
  if (!(layers.front().fraction > 0)) layers = uncounted_close_layers(m);
  if (layers.empty()) return std::nullopt;
  drop_step_notes(m, layers);
  const SecondLayer &one = layers.front(), &other = layers.back();
  if (layers.size() == 1) return conformity::doubt_layers(one, scan_of(m, one.half));
  return conformity::doubt_layers(one, scan_of(m, one.half), other, scan_of(m, other.half));
}

std::optional<Doubt> doubt_of(Measured& m) {
  if (auto doubt = doubt_of_layers(m)) return doubt;
  if (auto doubt = conformity::doubt_registration(m.alignment, m.job.align, m.sheet, m.gap)) return doubt;
  if (auto doubt = conformity::doubt_unchecked_targets(m.alignment, m.job.align, readings_that_test(m))) return doubt;
  // Readings that update the map are tested where they do.
  if (m.job.readings_use != ReadingsUse::compare) return std::nullopt;
  const bool moved = m.spot_shift.removed;
  auto doubt = conformity::doubt_of_readings(moved ? cavity::compare_spots(m.sheet, m.gap, m.job.spots) : m.spots,
                                             m.spot_shift, m.gap.coverage, m.job.align.seat_play);
  // What a few readings side by side say of the whole half is no reason to move it.
  if (doubt && doubt->text.id == "doubt.readings-say-shifted" && !reach_of_readings(m).ample())
    doubt->text.id = "doubt.readings-say-shifted-nearby";
  return doubt;
}

}  // namespace

Measured measure(const Job& job, const Progress& progress, const Sheet* given) {
  check_settings(job, given == nullptr);
  Measured out;
  out.job = job;
  out.version = GAPFRONT_VERSION;
  out.job_sha256 = job.file.empty() ? "" : scan::sha256_file(job.file);
  if (!job.photo.empty()) {
    out.photo = job::read_photo(job.photo);
    out.extra_inputs.push_back({Message("proof.photo"), job.photo.filename().string(), scan::sha256_file(job.photo)});
  }
  Stages stage(progress, out.times);
  NominalFiles files = read_nominal_files(job, given == nullptr, out.extra_inputs);
  close_halves(out, read_halves(out, stage), files, stage);
  outline_cavity(out, given != nullptr, stage);
  lay_sheet(out, files, given, stage);
  if (by_readings_alone(job))
    out.job.gap = gap_options(out.job), stage("gap", [&](const Progress&) { find_gap_by_readings(out); });
  else
    find_gap(out, stage);
  if (!by_readings_alone(job)) compare_readings(out);
  out.doubt = stage("doubts", [&](const Progress&) { return doubt_of(out); });
  check_faces(out);
  if (out.doubt) {
    out.verdict = conformity::not_judged(out.sheet, out.gap, out.job.tolerance,
                                         {conformity::what_first(*out.doubt), out.doubt->text});
    return out;
  }
  if (const auto left = conformity::target_left_out(out.alignment, job.align, out.sheet)) out.warnings.push_back(*left);
  append(out.warnings, crossing_warning(out));
  if (!by_readings_alone(job)) append(out.warnings, narrow_warnings(out));
  settle_ports(out.sheet, job.sheet, job.file.string(), out.job.flow, out.warnings);
  update_gap_by_readings(out);
  out.verdict =
      stage("verdict", [&](const Progress&) { return conformity::judge(out.sheet, out.gap, out.job.tolerance); });
  if (by_readings_alone(job))
    hold_verdict_to_readings(out);
  else
    hold_verdict_to_points(out), hold_update_to_reach(out);
  qualify_headline(out);
  append(out.warnings, job_notes(out));
  append(out.warnings, smoothed_face_notes(out));
  return out;
}

}  // namespace gapfront::pipeline
