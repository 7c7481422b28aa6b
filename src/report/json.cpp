// result.json: everything an inspection found, for programs. Lengths in mm with inch twins where people read them.
#include <cmath>
#include <nlohmann/json.hpp>

#include "gapfront/report.hpp"
#include "report/clamping_json.hpp"
#include "report/fields.hpp"
#include "report/json_parts.hpp"
#include "report/outcome_json.hpp"
#include "report/work_json.hpp"

namespace gapfront {
namespace {

using report::advice_json, report::breathing_json, report::closing_json, report::opening_json, report::plies_json,
    report::zones_json;
using report::Json;
using report::number;
using report::point;
using report::points;

Json length(double mm) {
  const Json rounded = number(mm);  // the inches of what is written, so that a result read back is written the same
  return {{"mm", rounded}, {"in", rounded.is_null() ? rounded : number(rounded.get<double>() / 25.4)}};
}
Json matrix(const Eigen::MatrixXd& m) {
  Json out = Json::array();
  for (int i = 0; i < m.rows(); ++i) {
    Json row = Json::array();
    for (int j = 0; j < m.cols(); ++j) row.push_back(m(i, j));  // covariances are far below 1e-6: not rounded
    out.push_back(row);
  }
  return out;
}

Json scan(const std::string& file, const std::string& format, const std::string& sha, const CleanReport& c) {
  return {{"file", file},
          {"format", format},
          {"sha256", sha},
          {"points_read", c.read},
          {"nonfinite", c.nonfinite},
          {"duplicates", c.duplicates},
          {"clutter", c.clutter},
          {"outliers", c.outliers},
          {"points_kept", c.kept},
          {"spacing", length(c.spacing)},
          {"noise", length(c.noise)}};
}

Json target_test(const TargetTest& t) {
  return {{"chi_square", number(t.chi2)}, {"freedom", number(t.dof)}, {"p", number(t.p, 1e9)}};
}

/// What each method said, and how the lands and nominal surfaces lie.
Json align_details(const Alignment& a) {
  Json methods = Json::array(), nominal = Json::array(), flange = nullptr;
  for (const auto& m : a.methods)
    methods.push_back({{"method", m.name}, {"chi_square", number(m.chi2)}, {"would_move_mm", number(m.moved)}});
  for (const auto& n : a.nominal)
    nominal.push_back({{"half", n.half},
                       {"rms_mm", number(n.rms)},
                       {"overlap", number(n.overlap)},
                       {"score", number(n.score)},
                       {"second_score", number(n.second_score)}});
  if (a.flange)
    flange = {{"places", a.flange->places},
              {"carrying", a.flange->carrying},
              {"one_sided", a.flange->one_sided},
              {"place_size_mm", number(a.flange->cell)},
              {"mean_open_mm", number(a.flange->mean_open)},
              {"most_open_mm", number(a.flange->max_open)},
              {"most_open_at_mm", point(a.flange->max_open_at)},
              {"deepest_mm", number(a.flange->deepest)},
              {"deepest_at_mm", point(a.flange->deepest_at)},
              {"rock_mm", number(a.flange->rock)},
              {"rock_at_mm", point(a.flange->rock_at)}};
  return {{"methods", methods},
          {"chi_square", number(a.chi2)},
          {"freedom", number(a.dof)},
          {"targets_lower_upper", target_test(a.closure)},
          {"targets_lower_tool", target_test(a.lower_tool)},
          {"targets_left_out", a.left_out},
          {"flange", flange},
          {"nominal", nominal}};
}

double worst_registration(const std::vector<report::Field>& fields) {
  double worst = 0;
  for (double u : report::find_field(fields, "u_registration_mm").values)
    if (u > worst) worst = u;
  return worst;
}

Json alignment(const Alignment& a, double worst) {
  Json residuals = Json::array();
  for (const auto& t : a.residuals)
    residuals.push_back({{"target", t.name},
                         {"place_mm", point(t.place)},
                         {"residual_mm", point(t.residual)},
                         {"lower_form_mm", number(t.lower_form)},
                         {"upper_form_mm", number(t.upper_form)},
                         {"lower_points", t.lower_points},
                         {"upper_points", t.upper_points},
                         {"leave_one_out_mm", number(t.leave_one_out)}});
  return {{"method", a.method},
          {"lower_to_tool", matrix(a.lower_to_tool.matrix())},
          {"upper_to_tool", matrix(a.upper_to_tool.matrix())},
          {"pivot_mm", point(a.pivot)},
          {"covariance", matrix(a.covariance)},
          {"fit_rms", length(a.fit_rms)},
          {"worst_predicted_u_in_cavity", length(worst)},
          {"apparent_scale_ppm", number(a.scale_ppm)},
          {"apparent_scale_ppm_u", number(a.scale_ppm_u)},
          {"targets", residuals},
          {"details", align_details(a)},
          {"warnings", a.warnings}};
}

Json filling(const Filling& f) {
  Json pockets = Json::array();
  for (const auto& p : f.pockets)
    pockets.push_back({{"centre_mm", point(p.centre)},
                       {"closed_at_s", number(p.closed_at)},
                       {"initial_volume_mm3", number(p.initial_volume)},
                       {"final_volume_mm3", number(p.final_volume)},
                       {"final_pressure_Pa_absolute", number(p.final_pressure)},
                       {"dry_area_mm2", number(p.area)},
                       {"dry_area_U_mesh_mm2", p.area_U < 0 ? Json() : number(p.area_U)},
                       {"dry_area_half_edge_mm2", p.area_fine < 0 ? Json() : number(p.area_fine)}});
  Json history = Json::array();
  for (const auto& s : f.history)
    history.push_back(Json::array({number(s.time), number(s.inlet_pressure), number(s.rate), number(s.filled)}));
  Json vents = Json::array();
  for (double t : f.vent_closed_at) vents.push_back(number(t));
  return {{"fill_time_s", number(f.fill_time)},
          {"last_node", f.last_node},
          {"last_point_to_vent", length(f.last_to_vent)},
          {"injected_mm3", number(f.injected)},
          {"resin_mm3", number(f.resin)},
          {"opening", opening_json(f.opening)},
          {"vents_closed_at_s", vents},
          {"pockets", pockets},
          {"history_columns", {"time_s", "inlet_pressure_Pa_above_atmosphere", "rate_mm3_s", "share_filled"}},
          {"history", history},
          {"warnings", f.warnings}};
}

Json effect(const Effect& e) {
  return {{"nonconforming_area_mm2", number(e.nonconforming_area)},
          {"out_of_tolerance_area_mm2", number(e.out_of_tolerance_area)},
          {"greatest_lead_s", number(e.max_lead_s)},
          {"rms_lead_s", number(e.rms_lead_s)},
          {"dry_area_mm2", number(e.dry_area)},
          {"fill_time_s", number(e.fill_time)},
          {"last_point_to_vent_mm", number(e.last_to_vent)},
          {"probability_of_trapped_air", e.pocket < 0 ? Json() : number(e.pocket)},
          {"expected_dry_area_mm2", e.pocket < 0 ? Json() : number(e.expected_dry_area)},
          {"drawn_fillings", e.drawn.empty() ? Json() : Json(e.drawn.size())},
          {"closing_over_opening", number(e.closing_balance)},
          {"least_local_margin_Pa", number(e.local_margin)},
          {"over_packed_area_mm2", number(e.over_packed_area)},
          {"under_filled_area_mm2", number(e.under_filled_area)},
          {"fill_time_over_gel_time", e.gel_fraction > 0 ? number(e.gel_fraction) : Json()}};
}

Json correction(const Correction& c) {
  Json shims = Json::array();
  for (const auto& s : c.shims) {
    Json stack = Json::array();
    for (double t : s.stack) stack.push_back(number(t));
    shims.push_back({{"station", s.station},
                     {"change", length(s.change)},
                     {"stack_mm", stack},
                     {"carries_gap_mm", number(s.carries_gap)},
                     {"at_mm", point(s.at)},
                     {"relief_mm", number(s.relief)}});
  }
  Json out = {{"name", c.name},
              {"kind", to_string(c.kind)},
              {"face", c.face},
              {"region", c.region},
              {"instruction", c.instruction},
              {"centre_mm", point(c.centre)},
              {"area_mm2", number(c.area)},
              {"mean", length(c.mean)},
              {"peak", length(c.peak)},
              {"volume_mm3", number(c.volume)},
              {"mass_g", number(c.mass)},
              {"outline_mm", points(c.outline)},
              {"shims", shims},
              {"effort_h", number(c.effort)},
              {"benefit_per_effort", number(c.benefit)},
              {"before", effect(c.before)},
              {"after", effect(c.after)}};
  out.update(report::work_of(c));
  return out;
}

Json plan(const CorrectionPlan& p) {
  Json candidates = Json::array(), chosen = Json::array(), steps = Json::array();
  for (const auto& c : p.candidates) candidates.push_back(correction(c));
  for (int i : p.chosen) chosen.push_back(p.candidates[i].name);
  for (const auto& e : p.after_each) steps.push_back(effect(e));
  Json not_cured = Json::array();
  for (const Uncured u : p.not_cured) not_cured.push_back(to_string(u));
  Json out = {{"now", effect(p.now)},   {"candidates", candidates}, {"chosen", chosen},
              {"after_each", steps},    {"after", effect(p.after)}, {"remains", p.remains},
              {"warnings", p.warnings}, {"not_cured", not_cured},   {"obstacle", p.obstacle_says}};
  out.update(report::plan_extras(p));
  return out;
}

Json fractions(const std::array<double, 4>& fraction) {
  return {{"conforming", number(fraction[0])},
          {"undecided", number(fraction[1])},
          {"nonconforming", number(fraction[2])},
          {"not_measured", number(fraction[3])}};
}

Json mean_uncertainty(const MeanBudget& b) {
  return {{"u_lower_mm", number(b.lower)},
          {"u_upper_mm", number(b.upper)},
          {"u_instrument_mm", number(b.instrument)},
          {"u_registration_mm", number(b.registration)},
          {"u_temperature_mm", number(b.temperature)},
          {"U", length(b.U)}};
}

Json zones(const std::vector<ZoneVerdict>& list) {
  Json out = Json::array();
  for (const auto& z : list)
    out.push_back({{"name", z.name},
                   {"overall", to_string(z.overall)},
                   {"area_mm2", number(z.area)},
                   {"share_of_area", fractions(z.fraction)},
                   {"mean", length(z.mean)},
                   {"mean_uncertainty", mean_uncertainty(z.budget)},
                   {"would_change", z.would_change}});
  return out;
}

Json verdict(const Verdict& v) {
  Json regions = Json::array(), histogram = Json::array(), unseen = Json::array();
  for (const auto& r : v.regions)
    regions.push_back({{"name", r.name},
                       {"gap_is", r.high ? "wide" : "tight"},
                       {"centre_mm", point(r.centre)},
                       {"area_mm2", number(r.area)},
                       {"volume_mm3", number(r.volume)},
                       {"mean", length(r.mean)},
                       {"mean_U", length(r.mean_U)},
                       {"peak", length(r.peak)},
                       {"outline_mm", points(r.outline)}});
  for (const auto& p : v.unseen)
    unseen.push_back({{"at_mm", point(p.centre)}, {"area_mm2", number(p.area)}, {"missing", to_string(p.missing)}});
  for (const auto& [centre, fraction] : v.histogram)
    histogram.push_back(Json::array({number(centre), number(fraction)}));
  return {{"overall", to_string(v.overall)},
          {"headline", v.headline},
          {"would_change", v.would_change},
          {"share_of_area", fractions(v.fraction)},
          {"coverage_suffices", v.covered},
          {"not_measured", unseen},
          {"deviation_mm",
           {{"mean", number(v.mean)},
            {"sigma", number(v.sigma)},
            {"least", number(v.minimum)},
            {"p05", number(v.p05)},
            {"p50", number(v.p50)},
            {"p95", number(v.p95)},
            {"greatest", number(v.maximum)}}},
          {"mean_uncertainty", mean_uncertainty(v.mean_budget)},
          {"zones", zones(v.zones)},
          {"rigid_part",
           {{"offset", length(v.offset)},
            {"offset_U", length(v.offset_U)},
            {"tilt_rad", point(v.tilt)},
            {"tilt_U_rad", point(v.tilt_U)},
            {"pivot_mm", point(v.pivot)},
            {"axis", point(v.axis)},
            {"rms", length(v.rigid_rms)},
            {"rms_U", length(v.rigid_rms_U)},
            {"significant", v.rigid_significant},
            {"remainder_rms", length(v.remainder_rms)}}},
          {"regions", regions},
          {"histogram", histogram}};
}

Json lead(const Lead& l) {
  Json regions = Json::array();
  for (const auto& r : l.regions)
    regions.push_back({{"centre_mm", point(r.centre)},
                       {"area_mm2", number(r.area)},
                       {"peak_s", number(r.peak_s)},
                       {"mean_s", number(r.mean_s)},
                       {"peak_mm", number(r.peak_mm)},
                       {"peak_percent_of_fill_time", number(r.peak_percent)},
                       {"peak_node", r.peak_node},
                       {"path_nodes", r.path},
                       {"source_node", r.source},
                       {"fed_by", r.fed_by},
                       {"probability", number(r.probability)}});
  return {
      {"greatest_s", number(l.max_s)}, {"greatest_node", l.max_node}, {"rms_s", number(l.rms_s)}, {"regions", regions}};
}

Json ensemble(const Ensemble& e, double min_dry) {
  return {{"runs", e.runs},
          {"lead_counts_beyond_s", number(e.lead_s)},
          {"probability_of_trapped_air", number(e.pocket)},
          {"expected_dry_area_mm2", number(e.dry_area)},
          {"least_dry_spot_mm2", number(min_dry)},
          {"fill_time_95_percent_s", {number(e.fill_time_low), number(e.fill_time_high)}},
          {"greatest_lead_95_percent_s", {number(e.max_low), number(e.max_high)}}};
}

Json job_facts(const Inspection& r) {
  const Job& job = r.job;
  const auto path = [](const std::string& name, const std::vector<Vec3>& p) {
    return Json{{"name", name}, {"path_mm", points(p)}};
  };
  Json vents = Json::array(), inlets = Json::array(), stations = Json::array();
  for (const auto& v : job.flow.vents) vents.push_back(path(v.name, v.path));
  for (const auto& i : job.flow.inlets) {
    inlets.push_back(path(i.name, i.path));
    inlets.back()["perimeter"] = i.perimeter;
  }
  Json unconfirmed = Json::array();
  for (const auto& u : job.unconfirmed) unconfirmed.push_back({{"key", u.key}, {"value", u.value}});
  for (const auto& s : job.correct.stations)
    stations.push_back({{"name", s.name}, {"at_mm", point(s.at)}, {"present_mm", number(s.present)}});
  return {{"name", job.name},
          {"tool", job.tool},
          {"date", job.date},
          {"cycles", job.cycles},
          {"note", job.note},
          {"data_is_invented", job.invented},
          {"report_units", job.units == UnitSystem::inch ? "inch" : "mm"},
          {"report_language", job.language},
          {"file", job.file.filename().string()},
          {"sha256", r.job_sha256},
          {"nominal_mm", number(job.tolerance.nominal)},
          {"minus_mm", number(job.tolerance.minus)},
          {"plus_mm", number(job.tolerance.plus)},
          {"edge_mm", number(job.sheet.edge)},
          {"coverage_factor", number(r.gap.coverage)},
          {"unconfirmed", unconfirmed},
          {"pressure_limit_Pa", number(job.flow.pressure_limit)},
          {"inlets", inlets},
          {"vents", vents},
          {"stations", stations},
          {"text", job.text}};
}

Json masks(const std::vector<Mask>& list) {
  Json out = Json::array();
  for (const Mask& m : list)
    out.push_back({{"name", m.name}, {"centre_mm", point(m.centre)}, {"radius_mm", number(m.radius)}});
  return out;
}

Json doubt(const std::optional<Doubt>& d) {
  if (!d) return nullptr;
  return {{"reason", to_string(d->reason)},       {"subject", d->subject}, {"amount_mm", number(d->amount)},
          {"crossing_area_mm2", number(d->area)}, {"at_mm", point(d->at)}, {"text", d->text}};
}

Json sheet(const Inspection& r, const std::vector<report::Field>& fields) {
  Json triangles = Json::array(), columns = Json::object();
  for (const auto& t : r.sheet.mesh.triangles) triangles.push_back(Json::array({t[0], t[1], t[2]}));
  for (const auto& f : fields) {
    Json values = Json::array();
    for (double v : f.values) values.push_back(number(v, f.dimension == Dimension::pressure ? 1 : 1e6));
    columns[f.id] = values;
  }
  return {{"nodes_mm", points(r.sheet.mesh.points)},
          {"triangles", triangles},
          {"min_angle_deg", number(r.sheet.min_angle_deg)},
          {"edge_mm",
           {{"p05", number(r.sheet.edge_p05)}, {"p50", number(r.sheet.edge_p50)}, {"p95", number(r.sheet.edge_p95)}}},
          {"uncovered_area_mm2", number(r.sheet.uncovered_area)},
          {"unmeasured_area_mm2", number(r.gap.unmeasured_area)},
          {"masked_area_mm2", number(r.sheet.masked_area)},
          {"masks", masks(r.job.sheet.masks)},
          {"fields", columns}};
}

const char* const seal_sources[] = {"given", "proposed", "none"};
const char* const seal_ways[] = {"land", "rim", "no flange", "no edge", "open", "tilted"};

Json seal(const Inspection& r) {
  const SealOrigin& s = r.seal;
  const bool asked = s.source == SealOrigin::Source::none || s.confidence > 0;  // of the geometry, by this inspection
  return {{"source", seal_sources[int(s.source)]},
          {"found", asked ? Json(seal_ways[int(s.found)]) : Json()},
          {"share_with_land_beside", number(s.confidence)},
          {"known_to_mm", number(s.u)},
          {"line_mm", points(r.job.sheet.seal)}};
}

}  // namespace

std::string result_json(const Inspection& r, bool with_times) {
  const Job& job = r.job;
  const auto fields = report::fields(r);
  Json spots = Json::array(), extra = Json::array();
  for (const auto& e : r.extra_inputs) extra.push_back({{"use", e.use}, {"file", e.file}, {"sha256", e.sha256}});
  for (const auto& s : r.spots)
    spots.push_back({{"name", s.name},
                     {"found", s.found},
                     {"map_mm", number(s.map)},
                     {"map_U_mm", number(s.map_U)},
                     {"reading_mm", number(s.reading)},
                     {"reading_U_mm", number(s.reading_U)},
                     {"En", number(s.En)}});
  const SpotShift& shift = r.spot_shift;
  const Json common = {{"readings", shift.readings},
                       {"parameters", shift.parameters},
                       {"offset", length(shift.offset)},
                       {"offset_U", length(shift.offset_U)},
                       {"tilt_rad", Json::array({shift.tilt.x(), shift.tilt.y(), shift.tilt.z()})},
                       {"pivot_mm", point(shift.pivot)},
                       {"p", number(shift.p, 1e9)},
                       {"p_tilt", number(shift.p_tilt, 1e9)},
                       {"p_beyond_common_parts_of_U", number(shift.p_beyond, 1e9)},
                       {"removed_from_the_gap", shift.removed}};
  Json judged = verdict(r.verdict);
  judged["provisional"] = provisional(job);
  Json out = {{"format", "gapfront result"},
              {"format_version", report::result_version},
              {"program_version", r.version},
              {"job", job_facts(r)},
              {"lower", scan(job.lower.file.filename().string(), r.lower_format, r.lower_sha256, r.lower_clean)},
              {"upper", scan(job.upper.file.filename().string(), r.upper_format, r.upper_sha256, r.upper_clean)},
              {"extra_inputs", extra},
              {"outcome", report::outcome_json(r)},
              {"doubt", doubt(r.doubt)},
              {"verdict", judged},
              {"seal", seal(r)},
              {"registration", alignment(r.alignment, worst_registration(fields))},
              {"spot_readings", spots},
              {"spot_shift", common},
              {"laminate",
               {{"under_filled_area_mm2", number(r.laminate.under_filled_area)},
                {"over_packed_area_mm2", number(r.laminate.over_packed_area)},
                {"weight_out_area_mm2", number(r.laminate.weight_out_area)},
                {"clamping_Pa", number(job.laminate.clamping_pressure)},
                {"plies", plies_json(job.laminate)},
                {"zones", zones_json(r.laminate.zones)},
                {"closing", closing_json(r.closing)},
                {"closing_nominal", closing_json(r.nominal_closing)}}},
              {"front",
               {{"nominal", filling(r.nominal_filling)},
                {"measured", filling(r.filling)},
                {"after_corrections", filling(r.filling_after)},
                {"lead", lead(r.lead)},
                {"ensemble", ensemble(r.ensemble, r.job.ensemble.min_dry)},
                {"advice", advice_json(r.advice)},
                {"gap", r.breathing.computed ? "under vacuum and resin" : "as scanned"},
                {"breathing", breathing_json(r.breathing)},
                {"breathing_nominal", breathing_json(r.nominal_breathing)}}},
              {"corrections", plan(r.plan)},
              {"expectations", report::expectations(r)},
              {"warnings", r.warnings},
              {"sheet", sheet(r, fields)}};
  if (with_times) {
    Json times = Json::object();
    for (const auto& t : r.times) times[t.stage] = number(t.seconds, 1e3);
    out["times_s"] = times;
  }
  return out.dump(1) + "\n";
}

}  // namespace gapfront
