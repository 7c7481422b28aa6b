#include "pipeline/halves.hpp"

#include <algorithm>
#include <cmath>

#include "core/parallel.hpp"
#include "core/sha256.hpp"
#include "gapfront/error.hpp"
#include "gapfront/patches.hpp"
#include "gapfront/steps.hpp"
#include "gapfront/units.hpp"
#include "pipeline/by_readings.hpp"
#include "pipeline/notes.hpp"
#include "pipeline/size_check.hpp"
#include "units/inch.hpp"

namespace gapfront::pipeline {
namespace {

std::vector<Scan> read_file(Stages& stage, const std::filesystem::path& file, const ReadOptions& read,
                            const char* name) {
  std::vector<Scan> scans = stage(name, [&](const Progress& p) { return scan::read_scans(file, read, p); });
  for (const Scan& scan : scans)
    if (scan.cloud.points.empty())
      throw Error(Fault::input, scan.path + ": no usable points (" + std::to_string(scan.nonfinite_dropped) +
                                    " were not finite numbers); export the scan again");
  return scans;
}

Message joined_says(const PatchFit& f) {
  const auto name = arg::name(f.path);
  if (f.place == PatchPlace::given && f.overlap == 0)
    return Message("warnings.scan-placed", {name, arg::length(f.u, 3)});
  return Message(f.place == PatchPlace::from_balls ? "warnings.scan-joined-balls" : "warnings.scan-joined",
                 {name, arg::fraction(f.overlap), arg::length(f.rms, 3), arg::length(f.u, 3)});
}

/// One scan, or several joined: what is known of the joints is said, and their uncertainty kept for the gap's.
Scan read_patches(Measured& out, Stages& stage, const HalfInput& input, std::vector<PatchFit>& fits, const char* name) {
  HalfScans scans =
      read_half(input, [&](const std::filesystem::path& file) { return read_file(stage, file, input.read, name); });
  out.extra_inputs.insert(out.extra_inputs.end(), scans.besides.begin(), scans.besides.end());
  if (scans.further.empty()) return std::move(scans.first);
  JoinedScan joined = stage("join scans", [&](const Progress& p) {
    return align::join_patches(std::move(scans.first), std::move(scans.further), p);
  });
  fits = std::move(joined.patches);
  for (PatchFit& f : fits) {
    f.path = std::filesystem::path(f.path).filename().string();
    out.warnings.push_back(joined_says(f));
  }
  // As the scanner's own error it counts for both halves: here once for the face, once for targets that lie on a patch.
  out.job.gap.u_instrument = std::hypot(out.job.gap.u_instrument, joined.u);
  joined.scan.sha256 = scans.sha256;
  return std::move(joined.scan);
}

/// A ball, land or face that is felt by tip centres looks a radius away from where it is; the centre of a ball that was
/// touched by name does not.
void refuse_tip(const Scan& scan, const AlignOptions& align) {
  const bool by_touched_balls =
      align.methods == std::vector{AlignMethod::targets} && !align.targets.empty() &&
      std::all_of(align.targets.begin(), align.targets.end(), [](const Target& t) { return t.touched && t.ball; });
  if (scan.tip_radius > 0 && align.methods != std::vector{AlignMethod::given} && !by_touched_balls)
    throw Error(Fault::input, scan.path +
                                  ": the probe's tip can be taken off without directions only where the halves' places "
                                  "are given, or the halves are closed by balls that were touched by name; add the "
                                  "approach, columns = \"x y z i j k\", or use method = \"given\"");
}

/// A tip is taken off on the side away from the other half's centres. Those lie as far off as the gap less both radii:
/// where that comes near nothing, or below, the side is a matter of chance, and so would be the verdict. A quarter of
/// the nominal gap: own choice, more than any mold that is worth a scan is off by.
void refuse_crossing_tips(const Scan& lower, const Scan& upper, double nominal) {
  const double tips = lower.tip_radius + upper.tip_radius;
  if (tips > 0 && nominal - tips < 0.25 * nominal)
    throw Error(Fault::input,
                lower.path + ": with such tips the centres of both halves lie on top of each other in a gap of " +
                    format_length(nominal, UnitSystem::mm) +
                    ", and which side the face is on is not known; give the approach, columns = \"x y z i j k\", or "
                    "probe with a ball of less than " +
                    format_length(0.75 * nominal, UnitSystem::mm) + " in diameter");
}

/// The scan's points become the surface's, and are released as soon as it holds them: they are the bulk of the memory.
Surface surface_in_tool(Scan& scan, const CleanReport& report, const ScanToTool& pose, const SharedNoise& shared) {
  std::vector<Vec3> points = std::move(scan.cloud.points);
  for (Vec3& p : points) p = pose * ScanPlace{p};
  Surface s(std::move(points), {.spacing = report.spacing, .noise = report.noise, .shared = shared});
  scan.cloud = {};
  return s;
}

/// Are all coordinates whole multiples of a step that is more than the noise?
bool is_rounded(const std::vector<Vec3>& points, double noise) {
  for (const double unit : {1.0, inch})
    for (const double step : {1.0, 0.5, 0.2, 0.1, 0.05, 0.02, 0.01, 0.005, 0.002, 0.001}) {
      const double q = unit * step;
      if (q < noise || q < 1e-4) break;
      bool all = !points.empty();
      // A few thousand tell. Single precision keeps a metre to a ten-thousandth of a millimetre.
      for (std::size_t i = 0; i < points.size() && all; i += points.size() / 2000 + 1)
        for (const double x : points[i]) all = all && std::abs(x / q - std::round(x / q)) * q < 1e-4 + 0.01 * q;
      if (all) return true;
    }
  return false;
}

struct HalvesSteps {
  StepsSeen lower, upper;
};

/// Scans of one half that were joined show their steps where they overlap, and carry them already.
StepsSeen look_for_steps(const Scan& s, const CleanReport& c, const std::vector<PatchFit>& patches) {
  return patches.empty() ? scan::find_steps(s.cloud.points, c.spacing) : StepsSeen();
}

/// The certificate's errors, as they are on scans of this size and scatter, with the steps that the scans show beyond
/// it. A place of the face errs as a target does.
HalvesSteps declare_errors(Measured& out, const ScannedHalves& scans, AlignOptions& options) {
  HalvesSteps seen;
  if (!by_readings_alone(out.job))
    parallel_for(
        2,
        [&](std::size_t upper) {
          if (upper)
            seen.upper = look_for_steps(scans.upper, out.upper_clean, out.upper_patches);
          else
            seen.lower = look_for_steps(scans.lower, out.lower_clean, out.lower_patches);
        },
        1);
  const auto of = [](const InstrumentModel& declared, StepsSeen& steps, const Scan& s, const CleanReport& c) {
    const double size = scan::size_of(s.cloud.points);
    const InstrumentModel m = scan::with_steps(declared, steps, size);
    if (!(m.step > declared.step)) steps = {};
    return m.declared() ? scan::errors_of(m, size, c.noise) : ScanErrors();
  };
  options.lower_errors = of(out.job.instrument.lower, seen.lower, scans.lower, out.lower_clean);
  options.upper_errors = of(out.job.instrument.upper, seen.upper, scans.upper, out.upper_clean);
  // The gap counts one instrument's u for either half alike.
  const double place = std::hypot(options.lower_errors.place, options.upper_errors.place) / std::sqrt(2.0);
  out.job.gap.u_instrument = std::hypot(out.job.gap.u_instrument, place);
  return seen;
}

void say_steps(Measured& out, const HalvesSteps& seen) {
  const auto say = [&](const char* id, const StepsSeen& s, const ScanToTool& pose) {
    if (s.lines > 0)
      out.warnings.push_back(Message(id, {static_cast<long>(s.lines), arg::length(s.rms, 3), arg::place(pose * s.at)}));
  };
  say("warnings.steps-lower", seen.lower, out.alignment.lower_to_tool);
  say("warnings.steps-upper", seen.upper, out.alignment.upper_to_tool);
}

Surface without_tip(const Surface& s, const Surface& other, double tip) {
  return tip > 0 ? Surface(cavity::compensate_tip_radius(s, other, tip),
                           {.spacing = s.spacing(), .noise = s.noise(), .shared = s.shared()})
                 : s;
}

}  // namespace

HalfScans read_half(const HalfInput& input,
                    const std::function<std::vector<Scan>(const std::filesystem::path&)>& read) {
  HalfScans out;
  std::string hashes;
  const auto besides = [&](const char* use, const std::filesystem::path& file, const std::string& hash) {
    out.besides.push_back({Message(use), file.filename().string(), hash});
    hashes += hash;
  };
  std::vector<Scan> own = read(input.file);
  out.first = std::move(own.front());
  hashes = out.first.sha256;
  for (std::size_t k = 1; k < own.size(); ++k) out.further.push_back({std::move(own[k]), {}, 0});
  for (const PatchInput& in : input.more) {
    std::vector<Scan> scans = read(in.file);
    besides("proof.further-scan", in.file, scans.front().sha256);
    std::optional<Rigid> pose;
    if (!in.pose.empty()) {
      pose = scan::read_pose(in.pose, scans.front().unit);
      besides("proof.scan-pose", in.pose, scan::sha256_file(in.pose));
    }
    for (Scan& scan : scans) out.further.push_back({std::move(scan), pose, in.u});
  }
  // Another patch is another scan; the scans of one file are that file.
  out.sha256 = input.more.empty() ? out.first.sha256 : sha256(hashes);
  return out;
}

ScannedHalves read_halves(Measured& out, Stages& stage) {
  const Job& job = out.job;
  ScannedHalves read;
  read.lower = read_patches(out, stage, job.lower, out.lower_patches, "read lower scan");
  if (!by_readings_alone(job)) {
    read.upper = read_patches(out, stage, job.upper, out.upper_patches, "read upper scan");
    scan::check_pair(read.lower, read.upper);
  }
  out.lower_clean = stage("clean lower scan", [&](const Progress& p) { return scan::clean(read.lower, job.clean, p); });
  if (by_readings_alone(job)) read.upper = upper_stand_in(read.lower, job);
  out.upper_clean = stage("clean upper scan", [&](const Progress& p) { return scan::clean(read.upper, job.clean, p); });
  out.job.gap.find_made_up = !is_rounded(read.lower.cloud.points, out.lower_clean.noise) &&
                             !is_rounded(read.upper.cloud.points, out.upper_clean.noise);
  refuse_wrong_unit(job, read.lower, out.lower_clean.spacing);
  refuse_tip(read.lower, job.align), refuse_tip(read.upper, job.align);
  refuse_crossing_tips(read.lower, read.upper, job.tolerance.nominal);
  out.lower_sha256 = read.lower.sha256, out.upper_sha256 = read.upper.sha256;
  out.lower_format = read.lower.format, out.upper_format = read.upper.format;
  return read;
}

void close_halves(Measured& out, ScannedHalves scans, NominalFiles& files, Stages& stage) {
  AlignOptions options = out.job.align;
  if (files.lower) options.nominal_lower = std::move(files.lower);
  if (files.upper) options.nominal_upper = std::move(files.upper);
  const HalvesSteps steps =
      stage("steps between passes", [&](const Progress&) { return declare_errors(out, scans, options); });
  out.alignment = stage("align", [&](const Progress& p) {
    return align::register_halves(scans.lower, scans.upper, options,
                                  {.lower = out.lower_clean.noise, .upper = out.upper_clean.noise}, p);
  });
  append(out.warnings, out.alignment.warnings);
  say_steps(out, steps);
  const auto shared = [&](const ScanErrors& declared) {
    const SharedNoise &seen = out.alignment.shared_noise, &said = declared.shared;
    return said.sigma > seen.sigma ? said : seen;
  };
  out.halves = stage("index", [&](const Progress&) {
    const Surface low = surface_in_tool(scans.lower, out.lower_clean, out.alignment.lower_to_tool,
                                        shared(options.lower_errors)),
                  high = surface_in_tool(scans.upper, out.upper_clean, out.alignment.upper_to_tool,
                                         shared(options.upper_errors));
    return std::make_shared<const ClosedHalves>(
        ClosedHalves{without_tip(low, high, scans.lower.tip_radius), without_tip(high, low, scans.upper.tip_radius),
                     std::move(options.nominal_lower), std::move(options.nominal_upper)});
  });
}

}  // namespace gapfront::pipeline
