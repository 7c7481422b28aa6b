// The whole sentence: scan → align → cavity → laminate → flow → conformity → correct.
#include <algorithm>
#include <chrono>
#include <cmath>
#include <limits>
#include <numeric>
#include <utility>

#include "cli/nominal.hpp"
#include "cli/seal_choice.hpp"
#include "cli/size_check.hpp"
#include "cli/summarise.hpp"
#include "flow/feeds.hpp"
#include "gapfront/error.hpp"
#include "gapfront/inspection.hpp"
#include "gapfront/process_words.hpp"
#include "units/digits.hpp"
#include "units/words.hpp"

namespace gapfront {
namespace {

/// Times each stage and gives it its slice of the progress.
class Stages {
 public:
  Stages(const Progress& progress, std::vector<StageTime>& times) : progress_(progress), times_(times) {}

  template <class F>
  auto operator()(const char* name, F&& f) {
    report_progress(progress_, name, 0);
    const auto start = std::chrono::steady_clock::now();
    // The stage calls its parts by its own names; people read the one name given here.
    const Progress inner = [this, name](std::string_view, double fraction) {
      return !progress_ || progress_(name, fraction);
    };
    struct Record {
      std::vector<StageTime>& times;
      const char* name;
      std::chrono::steady_clock::time_point start;
      ~Record() {
        times.push_back({name, std::chrono::duration<double>(std::chrono::steady_clock::now() - start).count()});
      }
    } record{times_, name, start};
    return f(inner);
  }

 private:
  const Progress& progress_;
  std::vector<StageTime>& times_;
};

std::vector<Vec3> carried(std::vector<Vec3> points, const Rigid& motion) {
  for (auto& p : points) p = motion * p;
  return points;
}

void append(std::vector<std::string>& to, const std::vector<std::string>& from) {
  for (const auto& line : from)
    if (std::find(to.begin(), to.end(), line) == to.end()) to.push_back(line);
}

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

/// Whether Z of the tool frame means something: then it points from the lower half to the upper. Without datum
/// coordinates the tool frame is the lower scan's own, and any direction is possible.
bool has_datum(const AlignOptions& align) {
  const auto uses = [&](AlignMethod m) { return std::count(align.methods.begin(), align.methods.end(), m) > 0; };
  return uses(AlignMethod::given) || uses(AlignMethod::nominal) ||
         std::any_of(align.targets.begin(), align.targets.end(), [](const Target& t) { return t.tool.has_value(); });
}

/// The sheet's normals point to the upper half, wherever that is; over a lower half they mostly point up.
bool upside_down(const Sheet& sheet) {
  double up = 0, all = 0;
  for (std::size_t i = 0; i < sheet.size(); ++i) up += sheet.area[i] * sheet.normals[i].z(), all += sheet.area[i];
  // −0.2: clearly facing down; near zero (a tube, a mold that stands upright) nothing can be said.
  return up < -0.2 * all;
}

/// Numbers that nothing was computed for are no zeros: they are written as null.
void withhold(Inspection& r) {
  const double none = std::numeric_limits<double>::quiet_NaN();
  for (Filling* f : {&r.nominal_filling, &r.filling, &r.filling_after})
    f->fill_time = f->last_to_vent = f->injected = f->resin = none;
  for (Effect* e : {&r.plan.now, &r.plan.after}) *e = {none, none, none, none, none, none, none};
  for (double* v : {&r.laminate.under_filled_area, &r.laminate.over_packed_area, &r.laminate.weight_out_area,
                    &r.lead.max_s, &r.lead.rms_s})
    *v = none;
  for (StateOutcome* s : {&r.outcome.now, &r.outcome.after, &r.outcome.nominal})
    s->out_area = s->out_low = s->out_high = s->expected_dry = s->balance = s->local_margin = s->fill_time = none;
}

/// What leaves nothing to draw, or no measurement to speak of where no doubt explains it.
void check_faces(const Sheet& sheet, const GapMap& gap, const AlignOptions& align, bool doubted) {
  const double all = std::accumulate(sheet.area.begin(), sheet.area.end(), 0.0);
  if (has_datum(align) && upside_down(sheet))
    throw Error(Fault::measurement,
                "the upper half lies below the lower half: the halves are swapped, exchange the files in [lower] and "
                "[upper] (or turn the tool frame, whose Z points from lower to upper)");
  if (doubted) return;
  double measured = 0, crossing = 0;
  for (std::size_t i = 0; i < sheet.size(); ++i)
    if (gap.nodes[i].measured) {
      measured += gap.judged_area(sheet, i);
      if (gap.nodes[i].gap < 0) crossing += sheet.area[i];
    }
  double missing = 0;
  for (std::size_t i = 0; i < gap.unseen_lower.size(); ++i)
    missing += std::max(gap.unseen_lower[i], gap.unseen_upper[i]);
  // Half of the area: with less, a verdict would speak of a minority of the part.
  if (measured < 0.5 * all && missing > 0.5 * (all - measured))
    throw Error(Fault::measurement,
                "the scans cover only " + std::to_string(static_cast<int>(std::lround(100 * measured / all))) +
                    " % of the cavity together; scan what is missing again, or correct cavity.seal");
  if (measured < 0.5 * all)
    throw Error(Fault::measurement,
                "the halves do not face each other: a gap was found on only " +
                    std::to_string(static_cast<int>(std::lround(100 * measured / std::max(all, 1e-9)))) +
                    " % of the lower face; are [lower] and [upper] swapped, or the targets' places wrong?");
  if (crossing > 0.5 * measured)
    throw Error(Fault::measurement,
                "the halves run through each other over most of the face; are [lower] and [upper] swapped, or the "
                "targets' places wrong?");
}

bool touches(const Sheet& sheet, const std::vector<Vec3>& path, double radius) {
  return std::any_of(sheet.mesh.points.begin(), sheet.mesh.points.end(),
                     [&](const Vec3& p) { return distance_to_path(p, path) <= radius; });
}

double distance_to_sheet(const Sheet& sheet, const std::vector<Vec3>& path) {
  double d = std::numeric_limits<double>::infinity();
  for (const auto& p : sheet.mesh.points) d = std::min(d, distance_to_path(p, path));
  return d;
}

/// Ports must lie on the sheet. A port narrower than the mesh may miss every node; it is widened to the nearest
/// one within an edge, and that is said.
template <class Port>
void check_port(const Sheet& sheet, Port& port, const char* kind, double edge, const std::string& file,
                std::vector<std::string>& warnings) {
  if (port.path.empty() || touches(sheet, port.path, port.radius)) return;
  const double d = distance_to_sheet(sheet, port.path);
  if (d > port.radius + edge)
    throw Error(Fault::input, file + ": [[flow." + kind + "]] \"" + port.name + "\" lies " +
                                  tape_length(d, UnitSystem::mm) +
                                  " from the moulding face; give a place on the lower face inside the seal, in tool "
                                  "coordinates");
  port.radius = d * (1 + 1e-9);
  warnings.push_back(std::string(kind) + " \"" + port.name +
                     "\" is narrower than the sheet's mesh; it was taken at the nearest node");
}

void check_ports(const Sheet& sheet, const SheetOptions& options, const std::string& file, FlowOptions& flow,
                 std::vector<std::string>& warnings) {
  for (auto& i : flow.inlets) check_port(sheet, i, "inlet", options.edge, file, warnings);
  for (auto& v : flow.vents) check_port(sheet, v, "vent", options.edge, file, warnings);
}

/// The flow needs a gap everywhere; where none was measured the nominal stands in, and the report says so.
std::vector<double> gap_for_flow(const GapMap& gap, const std::vector<double>& nominal) {
  std::vector<double> g = nominal;
  for (std::size_t i = 0; i < g.size(); ++i)
    if (gap.nodes[i].measured) g[i] = gap.nodes[i].gap;
  return g;
}

/// A negative gap is no gap: said with its place, wherever it is more than its own uncertainty.
std::vector<std::string> crossing_warning(const Inspection& r) {
  double area = 0, minimum = 0;
  std::size_t where = 0;
  for (std::size_t i = 0; i < r.sheet.size(); ++i) {
    const NodeGap& g = r.gap.nodes[i];
    if (!g.measured || g.gap + g.U >= 0) continue;
    area += r.sheet.area[i];
    if (g.gap < minimum) minimum = g.gap, where = i;
  }
  if (area == 0) return {};
  const UnitSystem u = r.job.units;
  const Vec3& p = r.sheet.mesh.points[where];
  return {"the halves run through each other over " + format_area(area, u) + ", most by " + format_length(-minimum, u) +
          " at (" + format_length(p.x(), u) + ", " + format_length(p.y(), u) + ", " + format_length(p.z(), u) +
          "): the gap is negative there; the registration or the stand-off is wrong, or a half is not closed"};
}

/// What the gap does to the glass and the clamping, said once and early: the maps alone are easily overlooked.
std::vector<std::string> reinforcement_warnings(const Inspection& r) {
  std::vector<std::string> out;
  const UnitSystem u = r.job.units;
  const auto area = [&](double mm2, const std::string& text) {
    if (mm2 >= r.job.tolerance.min_region_area) out.push_back(text + " over " + format_area(mm2, u));
  };
  area(r.laminate.over_packed_area, "the glass is over-packed, it pushes back harder than the clamping,");
  area(r.laminate.under_filled_area, "the glass does not fill the gap, resin runs ahead in the open channel,");
  area(r.laminate.weight_out_area, "the glass by weight is outside its window");
  const auto unsettled = [](const Breathing& b) { return b.computed && !b.converged; };
  if (unsettled(r.breathing) || unsettled(r.nominal_breathing))
    out.push_back("the shape of the upper half under load did not settle; its stiffness may be too small to hold it");
  return out;
}

std::string in_one_line(const std::vector<std::string>& clauses) {
  std::string out;
  for (const auto& c : clauses) out += (out.empty() ? "" : "; ") + c;
  return out;
}

/// A light half gives way in a true tool as in this one: both fronts run in the gap that vacuum and resin leave.
void breathing_fronts(Inspection& r, const std::vector<double>& nominal, Stages& stage) {
  const auto run = [&](const char* name, const std::vector<double>& gap, const std::vector<double>& start) {
    return stage(name, [&](const Progress& p) {
      Breathing b = breathe(r.sheet, gap, r.job.laminate, r.job.flow, p, start);
      compare_shapes(b, r.sheet, gap, r.job.laminate, r.job.flow);
      return b;
    });
  };
  r.nominal_breathing = run("breathing, nominal", nominal, {});
  r.breathing = run("breathing, measured", r.flow_gap, r.nominal_breathing.filling.move);
  r.nominal_filling = r.nominal_breathing.front, r.filling = r.breathing.front;
}

/// An edge far below the scan's spacing, or as large as the face, is a slip of the unit.
void check_edge(const Surface& lower, const SheetOptions& o, const std::string& file) {
  Vec3 low = Vec3::Constant(1e300), high = Vec3::Constant(-1e300);
  for (const Vec3& p : lower.points()) low = low.cwiseMin(p), high = high.cwiseMax(p);
  Vec3 size = high - low;
  std::sort(size.data(), size.data() + 3);
  // Two million nodes are about a hundred times what a mold needs, and hours of flow.
  const double nodes = size[2] * size[1] / (0.87 * o.edge * o.edge);
  if (nodes > 2e6 || o.edge > 0.5 * size[1])
    throw Error(Fault::input, file + ": [cavity] edge = " + format_length(o.edge, UnitSystem::mm) +
                                  " does not suit a half of " + format_length(size[2], UnitSystem::mm) + " by " +
                                  format_length(size[1], UnitSystem::mm) + "; a hundredth of its length is usual");
}

/// A corner of the seal line farther beside the lower scan than half of the scan's own size is a slip of the job: a
/// digit, a sign or another frame. Without this, hours may go into the sheet out there.
void check_seal(const Surface& lower, const std::vector<Vec3>& seal, const std::string& file) {
  Vec3 low = Vec3::Constant(1e300), high = Vec3::Constant(-1e300);
  for (const Vec3& p : lower.points()) low = low.cwiseMin(p), high = high.cwiseMax(p);
  const double most = 0.5 * (high - low).head<2>().norm();
  for (const Vec3& p : seal) {
    const double off = (p - p.cwiseMax(low).cwiseMin(high)).head<2>().norm();
    if (off <= most) continue;
    throw Error(Fault::input, file + ": [cavity] seal: its corner " + spoken_place(p, UnitSystem::mm, 2) + " lies " +
                                  tape_length(off, UnitSystem::mm) + " beside the lower scan, which reaches from " +
                                  spoken_place(low, UnitSystem::mm, 2) + " to " +
                                  spoken_place(high, UnitSystem::mm, 2) +
                                  "; correct it, or the tool places of the targets");
  }
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

struct Half {
  Scan scan;
  CleanReport report;
};

Half read_half(Stages& stage, const HalfInput& input, const char* name) {
  Half half;
  half.scan = stage(name, [&](const Progress& p) { return read_scan(input.file, input.read, p); });
  return half;
}

void refuse_nothing_left(const Scan& scan) {
  if (scan.cloud.points.empty())
    throw Error(Fault::input, scan.path + ": no usable points (" + std::to_string(scan.nonfinite_dropped) +
                                  " were not finite numbers); export the scan again");
}

}  // namespace

Inspection inspect(const Job& job, const Progress& progress, const Sheet* given) {
  Inspection out;
  out.job = job;
  out.version = GAPFRONT_VERSION;
  Stages stage(progress, out.times);

  Half lower = read_half(stage, job.lower, "read lower scan");
  Half upper = read_half(stage, job.upper, "read upper scan");
  refuse_nothing_left(lower.scan);
  refuse_nothing_left(upper.scan);
  check_pair(lower.scan, upper.scan);
  lower.report = stage("clean lower scan", [&](const Progress& p) { return clean(lower.scan, job.clean, p); });
  upper.report = stage("clean upper scan", [&](const Progress& p) { return clean(upper.scan, job.clean, p); });
  refuse_wrong_unit(job, lower.scan, lower.report.spacing);
  out.lower_sha256 = lower.scan.sha256, out.upper_sha256 = upper.scan.sha256;
  out.job_sha256 = job.file.empty() ? "" : sha256_file(job.file);
  out.lower_format = lower.scan.format, out.upper_format = upper.scan.format;
  out.lower_clean = lower.report, out.upper_clean = upper.report;

  for (const Half* half : {&lower, &upper})
    // A ball, land or face that is felt by tip centres looks a radius away from where it is.
    if (half->scan.tip_radius > 0 && job.align.methods != std::vector{AlignMethod::given})
      throw Error(Fault::input,
                  half->scan.path +
                      ": the probe's tip can be taken off without directions only where the halves' places "
                      "are given; add the approach, columns = \"x y z i j k\", or use method = \"given\"");
  AlignOptions align_options = job.align;
  if (!job.nominal_lower.empty()) align_options.nominal_lower = read_mesh(job.nominal_lower);
  if (!job.nominal_upper.empty()) align_options.nominal_upper = read_mesh(job.nominal_upper);
  out.alignment = stage("align", [&](const Progress& p) {
    return align(lower.scan, upper.scan, align_options, lower.report.noise, upper.report.noise, p);
  });
  append(out.warnings, out.alignment.warnings);

  // Each cloud is released as soon as its Surface holds the points: scans are the bulk of the memory.
  const auto surface = [&](Half& half, const Rigid& motion) {
    Surface s(carried(std::move(half.scan.cloud.points), motion), half.report.spacing, half.report.noise);
    half.scan.cloud = {};
    return s;
  };
  const auto touched = [&](const Surface& s, const Surface& other, double tip) {
    return tip > 0 ? Surface(compensate_tip_radius(s, other, tip), s.spacing(), s.noise()) : s;
  };
  const auto both = stage("index", [&](const Progress&) {
    const Surface a = surface(lower, out.alignment.lower_to_tool), b = surface(upper, out.alignment.upper_to_tool);
    return std::pair{touched(a, b, lower.scan.tip_radius), touched(b, a, upper.scan.tip_radius)};
  });
  const Surface &low = both.first, &high = both.second;  // no structured binding: clang 14 has none in lambdas

  check_edge(low, job.sheet, job.file.string());
  std::vector<Mask>& masks = out.job.sheet.masks;  // the job's own, and what the registration stands on
  for (Mask& m : masks_of(out.alignment)) masks.push_back(std::move(m));
  stage("seal line", [&](const Progress&) { choose_seal(out, low, high, given || job.sheet_mesh); });
  const auto targets_in_doubt = [&] { return doubt_registration(out.alignment, align_options, {}, {}, job.units); };
  // Targets in doubt put the seal line beside the face; their error is the cause, and this one the effect.
  if (!given && !targets_in_doubt()) check_seal(low, out.job.sheet.seal, job.file.string());
  if (out.seal.source == SealOrigin::Source::given) keep_outside(out.job.sheet.seal, masks);
  out.sheet = stage("sheet", [&](const Progress& p) {
    if (given) return *given;
    const auto build = [&] {
      return job.sheet_mesh ? sheet_on_mesh(out.job, high, out.extra_inputs, p)
                            : build_sheet(low, high, out.job.sheet, p);
    };
    try {
      return build();
    } catch (const Error& e) {
      const auto doubt = targets_in_doubt();
      if (e.fault != Fault::measurement || !doubt) throw;
      throw Error(Fault::measurement, "align: " + doubt->text);
    }
  });
  if (given) mask_nodes(out.sheet, masks);
  masks = masks_on_sheet(out.sheet, masks);
  if (job.painted || job.thickness || job.surface_lower)
    stage("nominal",
          [&](const Progress& p) { read_nominal_files(out.sheet, out.job, out.extra_inputs, out.warnings, p); });
  const ToleranceOptions& tolerance = out.job.tolerance;
  const GapOptions gap_settings = gap_options(out.job);
  out.job.gap = gap_settings;
  out.gap = stage("gap",
                  [&](const Progress& p) { return measure_gap(out.sheet, low, high, out.alignment, gap_settings, p); });
  refuse_wrong_unit(job, out.sheet, out.gap);
  for (std::size_t i = 0; i < out.sheet.size(); ++i)
    if (is_masked(out.sheet, i) && !std::exchange(out.gap.nodes[i].measured, false))
      out.gap.unmeasured_area -= out.sheet.area[i];  // measured or not, it is not part of what is to be judged
  out.doubt = doubt_registration(out.alignment, align_options, out.sheet, out.gap, job.units);
  check_faces(out.sheet, out.gap, job.align, out.doubt.has_value());
  if (out.doubt) {
    out.verdict = not_judged(out.sheet, out.gap, tolerance,
                             "Not judged: the registration must be checked first. " + out.doubt->text);
    withhold(out);
    report_progress(progress, "done", 1);
    return out;
  }
  append(out.warnings, crossing_warning(out));
  check_ports(out.sheet, job.sheet, job.file.string(), out.job.flow, out.warnings);
  out.spots = compare_spots(out.sheet, out.gap, job.spots);
  out.spot_shift = spot_shift(out.sheet, out.gap, job.spots);
  // One chance in twenty, the usual level; a motion that may be chance is never taken out.
  if (out.spot_shift.parameters > 0 && out.spot_shift.p < 0.05) {
    if (job.remove_spot_shift) remove_shift(out.gap, out.spot_shift);
    out.warnings.push_back(std::string("the spot readings say that the clamped mold sits otherwise than the map: ") +
                           format_length(out.spot_shift.offset, job.units) +
                           (out.spot_shift.removed ? " and its tilt were taken out of the gap"
                                                   : " too much gap in the map at their middle; nothing was taken out "
                                                     "(cavity.remove_spot_shift = true does)"));
  }

  // Where neither vacuum nor press bears on the face, what the flange's clamps and channel bring stands in, spread over
  // it: the job was refused if there is none of these.
  if (!(out.job.laminate.clamping_pressure > 0))
    out.job.laminate.clamping_pressure = clamping_over_face(out.sheet, out.job.flow);
  const FlowOptions& flow = out.job.flow;
  const auto nominal = nominal_gap(out.sheet, tolerance);
  out.flow_gap = gap_for_flow(out.gap, nominal);
  if (out.gap.unmeasured_area > 0)
    out.warnings.push_back(format_area(out.gap.unmeasured_area, job.units) +
                           " could not be measured; the flow there uses the nominal gap");
  stage("laminate", [&](const Progress&) {
    out.nominal_laminate = evaluate_laminate(out.sheet, nominal, out.job.laminate);
    out.laminate = evaluate_laminate(out.sheet, out.flow_gap, out.job.laminate);
  });
  out.closing = close_mold(out.sheet, out.flow_gap, out.job.laminate, flow);
  out.nominal_closing = close_mold(out.sheet, nominal, out.job.laminate, flow);
  if (flow.closing.half.empty()) {
    out.nominal_filling =
        stage("flow, nominal", [&](const Progress& p) { return fill(out.sheet, out.nominal_laminate, flow, p); });
    out.filling = stage("flow, measured", [&](const Progress& p) { return fill(out.sheet, out.laminate, flow, p); });
  } else {
    breathing_fronts(out, nominal, stage);
  }
  // Under a light half the front is not that of one gap; its pockets' areas stay without a U.
  const bool rigid_half = flow.closing.half.empty();
  if (rigid_half)
    stage("pockets", [&](const Progress&) {
      judge_pockets(out.sheet, nominal, out.job.laminate, flow, out.nominal_filling);
      judge_pockets(out.sheet, out.flow_gap, out.job.laminate, flow, out.filling);
    });
  // What the resin meets; with a rigid half the gap and the glass as scanned.
  const auto resin_gap = under_filling(out.flow_gap, out.breathing);
  const LaminateMap resin_laminate = evaluate_laminate(out.sheet, resin_gap, out.job.laminate);
  append(out.warnings, out.filling.warnings);
  append(out.warnings, reinforcement_warnings(out));
  out.lead = compare_fillings(out.sheet, out.nominal_filling, out.filling);

  out.verdict = stage("verdict", [&](const Progress&) { return judge(out.sheet, out.gap, tolerance); });
  qualify_headline(out);
  out.advice =
      stage("schedule", [&](const Progress&) { return advise_process(out.sheet, resin_laminate, flow, out.filling); });
  for (const auto& said : {opening_words(out), schedule_words(out)})
    if (!said.empty()) out.warnings.push_back(in_one_line(said));

  std::vector<Feed> feeds;
  for (const auto& region : out.verdict.regions) feeds.push_back({region.name, region.nodes});
  name_feeds(out.sheet, feeds, out.lead);
  if (job.ensemble.runs > 0) {
    out.ensemble = stage("ensemble", [&](const Progress& p) {
      return draw_fillings(out.sheet, out.gap, resin_gap, out.job.laminate, flow, out.nominal_filling, out.lead,
                           job.ensemble, p);
    });
    for (std::size_t k = 0; k < out.lead.regions.size(); ++k)
      out.lead.regions[k].probability = out.ensemble.region_leads[k];
  }

  const CorrectInput facts{out.sheet,
                           out.gap,
                           tolerance,
                           out.verdict,
                           out.job.laminate,
                           flow,
                           out.nominal_filling,
                           out.filling,
                           out.lead,
                           align_options.nominal_lower ? &*align_options.nominal_lower : nullptr,
                           align_options.nominal_upper ? &*align_options.nominal_upper : nullptr,
                           &out.breathing,
                           &out.nominal_breathing,
                           job.ensemble.runs > 0 ? &job.ensemble : nullptr,
                           out.ensemble.pocket,
                           &low,
                           &high,
                           job.ensemble.runs > 0 ? &out.ensemble.each : nullptr};
  CorrectOptions correct = job.correct;
  for (const auto& t : out.alignment.residuals) {
    double radius = 0;
    for (const auto& given : job.align.targets)
      if (given.name == t.name) radius = 0.5 * given.ball.value_or(0);
    correct.references.push_back({"target " + t.name, t.place, radius});
  }
  out.plan = stage("corrections", [&](const Progress& p) { return plan_corrections(facts, correct, p); });
  append(out.warnings, out.plan.warnings);
  out.filling_after = out.plan.breathing_after.computed ? out.plan.breathing_after.front : out.filling;
  if (!out.plan.chosen.empty() && !out.plan.breathing_after.computed)
    out.filling_after = stage("flow, corrected", [&](const Progress& p) {
      return fill(out.sheet, evaluate_laminate(out.sheet, out.plan.gap_after, out.plan.laminate_after),
                  out.plan.flow_after, p);
    });
  if (!out.plan.chosen.empty() && rigid_half)
    stage("pockets, corrected", [&](const Progress&) {
      judge_pockets(out.sheet, out.plan.gap_after, out.plan.laminate_after, out.plan.flow_after, out.filling_after);
    });
  out.outcome = summarise(out);
  report_progress(progress, "done", 1);
  return out;
}

}  // namespace gapfront
