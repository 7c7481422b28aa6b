// result.json read back, for the report to be made again without computing anything anew. Mirrors json.cpp.
#include <limits>
#include <nlohmann/json.hpp>

#include "gapfront/error.hpp"
#include "gapfront/report.hpp"
#include "report/clamping_json.hpp"
#include "report/json_parts.hpp"
#include "report/outcome_json.hpp"
#include "report/result_check.hpp"
#include "report/work_json.hpp"

namespace gapfront {
namespace {

using Json = nlohmann::json;

// null is "never" or "not measured".
double number(const Json& j) { return j.is_null() ? std::numeric_limits<double>::quiet_NaN() : j.get<double>(); }
double mm(const Json& length) { return number(length.at("mm")); }
Vec3 point(const Json& j) { return {number(j.at(0)), number(j.at(1)), number(j.at(2))}; }

template <class Read>
auto list(const Json& j, Read read) {
  std::vector<decltype(read(j))> out;
  for (const auto& one : j) out.push_back(read(one));
  return out;
}
std::vector<std::string> texts(const Json& j) { return j.get<std::vector<std::string>>(); }

template <class Matrix>
void matrix(const Json& j, Matrix&& out) {
  for (int row = 0; row < out.rows(); ++row)
    for (int column = 0; column < out.cols(); ++column) out(row, column) = j.at(row).at(column).get<double>();
}

// The word that `to_string` gives for one of the first `count` values.
template <class Enum>
Enum word(const Json& j, int count) {
  for (int k = 0; k < count; ++k)
    if (j.get<std::string>() == to_string(static_cast<Enum>(k))) return static_cast<Enum>(k);
  throw Error(Fault::input, "unknown word \"" + j.get<std::string>() + "\"");
}

void read_job_facts(const Json& j, Inspection& r) {
  Job& job = r.job;
  job.name = j.at("name"), job.tool = j.at("tool"), job.date = j.at("date"), job.note = j.at("note");
  job.cycles = number(j.at("cycles"));
  job.invented = j.at("data_is_invented");
  job.units = j.at("report_units") == "inch" ? UnitSystem::inch : UnitSystem::mm;
  job.language = j.value("report_language", "en");  // results made before there were others have none
  job.file = j.at("file").get<std::string>();
  job.text = j.at("text");
  r.job_sha256 = j.at("sha256");
  job.tolerance.nominal = number(j.at("nominal_mm"));
  job.tolerance.minus = number(j.at("minus_mm")), job.tolerance.plus = number(j.at("plus_mm"));
  job.sheet.edge = number(j.at("edge_mm"));
  r.gap.coverage = number(j.at("coverage_factor"));
  job.flow.pressure_limit = number(j.at("pressure_limit_Pa"));
  if (j.contains("unconfirmed"))
    job.unconfirmed = list(j.at("unconfirmed"), [](const Json& u) { return Unconfirmed{u.at("key"), u.at("value")}; });
  for (const auto& v : j.at("vents")) job.flow.vents.push_back({v.at("name"), list(v.at("path_mm"), point)});
  for (const auto& i : j.at("inlets"))
    job.flow.inlets.push_back({i.at("name"), i.at("perimeter"), list(i.at("path_mm"), point)});
  for (const auto& s : j.at("stations"))
    job.correct.stations.push_back({s.at("name"), point(s.at("at_mm")), number(s.at("present_mm"))});
}

template <std::size_t n>
int place_in(const char* const (&known)[n], const std::string& word) {
  for (std::size_t k = 0; k < n; ++k)
    if (word == known[k]) return int(k);
  throw Error(Fault::input, "unknown word \"" + word + "\"");
}

void read_seal(const Json& j, Inspection& r) {
  static const char* const sources[] = {"given", "proposed", "none"};
  static const char* const ways[] = {"land", "rim", "no flange", "no edge", "open", "tilted"};
  r.seal.source = SealOrigin::Source(place_in(sources, j.at("source")));
  if (!j.at("found").is_null()) r.seal.found = SealFound(place_in(ways, j.at("found")));
  r.seal.confidence = number(j.at("share_with_land_beside")), r.seal.u = number(j.at("known_to_mm"));
  r.job.sheet.seal = list(j.at("line_mm"), point);
}

void read_scan_facts(const Json& j, HalfInput& half, std::string& format, std::string& sha256, CleanReport& c) {
  half.file = j.at("file").get<std::string>();
  format = j.at("format"), sha256 = j.at("sha256");
  c.read = j.at("points_read"), c.nonfinite = j.at("nonfinite"), c.duplicates = j.at("duplicates");
  c.clutter = j.at("clutter"), c.outliers = j.at("outliers"), c.kept = j.at("points_kept");
  c.spacing = mm(j.at("spacing")), c.noise = mm(j.at("noise"));
}

void read_align_details(const Json& j, Alignment& a) {
  a.methods = list(j.at("methods"), [](const Json& m) {
    return MethodPart{m.at("method"), number(m.at("chi_square")), number(m.at("would_move_mm"))};
  });
  a.chi2 = number(j.at("chi_square")), a.dof = number(j.at("freedom"));
  const auto test = [&](const char* key, TargetTest& t) {
    if (const auto found = j.find(key); found != j.end())
      t.chi2 = number(found->at("chi_square")), t.dof = number(found->at("freedom")), t.p = number(found->at("p"));
  };
  test("targets_lower_upper", a.closure), test("targets_lower_tool", a.lower_tool);
  if (const auto names = j.find("targets_left_out"); names != j.end()) a.left_out = texts(*names);
  a.nominal = list(j.at("nominal"), [](const Json& n) {
    return NominalFit{n.at("half"), number(n.at("rms_mm")), number(n.at("overlap")), number(n.at("score")),
                      number(n.at("second_score"))};
  });
  if (const Json& f = j.at("flange"); !f.is_null()) {
    FlangeContact c;
    c.places = f.at("places"), c.carrying = f.at("carrying"), c.one_sided = f.at("one_sided");
    c.cell = number(f.at("place_size_mm"));
    c.mean_open = number(f.at("mean_open_mm")), c.max_open = number(f.at("most_open_mm"));
    c.max_open_at = point(f.at("most_open_at_mm"));
    c.deepest = number(f.value("deepest_mm", Json(0)));
    if (f.contains("deepest_at_mm")) c.deepest_at = point(f.at("deepest_at_mm"));
    c.rock = number(f.at("rock_mm")), c.rock_at = point(f.at("rock_at_mm"));
    a.flange = c;
  }
}

Alignment alignment(const Json& j) {
  Alignment a;
  a.method = j.at("method");
  matrix(j.at("lower_to_tool"), a.lower_to_tool.matrix());
  matrix(j.at("upper_to_tool"), a.upper_to_tool.matrix());
  matrix(j.at("covariance"), a.covariance);
  a.pivot = point(j.at("pivot_mm"));
  a.fit_rms = mm(j.at("fit_rms"));
  a.scale_ppm = number(j.at("apparent_scale_ppm")), a.scale_ppm_u = number(j.at("apparent_scale_ppm_u"));
  a.residuals = list(j.at("targets"), [](const Json& t) {
    TargetResidual out;
    out.name = t.at("target");
    out.place = point(t.at("place_mm")), out.residual = point(t.at("residual_mm"));
    out.lower_form = number(t.at("lower_form_mm")), out.upper_form = number(t.at("upper_form_mm"));
    out.lower_points = t.at("lower_points"), out.upper_points = t.at("upper_points");
    out.leave_one_out = number(t.at("leave_one_out_mm"));
    return out;
  });
  read_align_details(j.at("details"), a);
  a.warnings = texts(j.at("warnings"));
  return a;
}

Filling filling(const Json& j) {
  Filling f;
  f.fill_time = number(j.at("fill_time_s"));
  f.last_node = j.at("last_node"), f.last_to_vent = mm(j.at("last_point_to_vent"));
  f.injected = number(j.at("injected_mm3")), f.resin = number(j.at("resin_mm3"));
  if (const auto o = j.find("opening"); o != j.end()) f.opening = report::read_opening(*o);
  f.vent_closed_at = list(j.at("vents_closed_at_s"), number);
  f.pockets = list(j.at("pockets"), [](const Json& p) {
    Pocket out;
    out.centre = point(p.at("centre_mm")), out.closed_at = number(p.at("closed_at_s"));
    out.initial_volume = number(p.at("initial_volume_mm3")), out.final_volume = number(p.at("final_volume_mm3"));
    out.final_pressure = number(p.at("final_pressure_Pa_absolute")), out.area = number(p.at("dry_area_mm2"));
    // Null where not computed; files of before that have no such keys.
    const auto judged = [&](const char* key) { return p.contains(key) && !p[key].is_null() ? number(p[key]) : -1; };
    out.area_U = judged("dry_area_U_mesh_mm2"), out.area_fine = judged("dry_area_half_edge_mm2");
    return out;
  });
  f.history = list(j.at("history"), [](const Json& s) {
    return FlowSample{number(s.at(0)), number(s.at(1)), number(s.at(2)), number(s.at(3))};
  });
  f.warnings = texts(j.at("warnings"));
  return f;
}

Effect effect(const Json& j) {
  // Null where nothing was drawn; files of before that have no such key.
  const auto drawn = [&](const char* key) { return j.contains(key) && !j[key].is_null() ? number(j[key]) : -1; };
  Effect e;
  e.nonconforming_area = number(j.at("nonconforming_area_mm2"));
  e.out_of_tolerance_area = number(j.at("out_of_tolerance_area_mm2"));
  e.max_lead_s = number(j.at("greatest_lead_s")), e.rms_lead_s = number(j.at("rms_lead_s"));
  e.dry_area = number(j.at("dry_area_mm2")), e.fill_time = number(j.at("fill_time_s"));
  e.last_to_vent = number(j.at("last_point_to_vent_mm"));
  e.pocket = drawn("probability_of_trapped_air"), e.expected_dry_area = drawn("expected_dry_area_mm2");
  // Of the drawn fillings only their number is kept; a job draws a thousand at the most.
  const double draws = drawn("drawn_fillings");
  e.drawn.resize(draws > 0 && draws <= 1000 ? static_cast<std::size_t>(draws) : 0);
  const auto given = [&](const char* key, double& to) {
    if (j.contains(key) && !j[key].is_null()) to = number(j[key]);
  };
  given("closing_over_opening", e.closing_balance), given("least_local_margin_Pa", e.local_margin);
  given("over_packed_area_mm2", e.over_packed_area), given("under_filled_area_mm2", e.under_filled_area);
  given("fill_time_over_gel_time", e.gel_fraction);
  return e;
}

Correction correction(const Json& j) {
  Correction c;
  c.name = j.at("name"), c.kind = word<Kind>(j.at("kind"), kinds), c.face = j.at("face"), c.region = j.at("region");
  c.instruction = j.at("instruction"), c.centre = point(j.at("centre_mm")), c.area = number(j.at("area_mm2"));
  c.mean = mm(j.at("mean")), c.peak = mm(j.at("peak"));
  c.volume = number(j.at("volume_mm3")), c.mass = number(j.at("mass_g")), c.outline = list(j.at("outline_mm"), point);
  c.shims = list(j.at("shims"), [](const Json& s) {
    return ShimChange{s.at("station"),
                      mm(s.at("change")),
                      list(s.at("stack_mm"), number),
                      number(s.at("carries_gap_mm")),
                      s.contains("at_mm") ? point(s.at("at_mm")) : Vec3(0, 0, 0),
                      s.contains("relief_mm") ? number(s.at("relief_mm")) : 0};
  });
  c.effort = number(j.at("effort_h")), c.benefit = number(j.at("benefit_per_effort"));
  c.before = effect(j.at("before")), c.after = effect(j.at("after"));
  report::read_work(j, c);
  return c;
}

CorrectionPlan plan(const Json& j) {
  CorrectionPlan p;
  p.now = effect(j.at("now")), p.after = effect(j.at("after"));
  p.candidates = list(j.at("candidates"), correction);
  for (const auto& name : j.at("chosen"))
    for (std::size_t i = 0; i < p.candidates.size(); ++i)
      if (p.candidates[i].name == name) p.chosen.push_back(static_cast<int>(i));
  p.after_each = list(j.at("after_each"), effect);
  p.remains = j.at("remains"), p.warnings = texts(j.at("warnings"));
  p.obstacle_says = j.value("obstacle", "");
  if (j.contains("not_cured"))
    for (const auto& w : j["not_cured"])
      for (int k = 0; k <= static_cast<int>(Uncured::gel); ++k)
        if (w == to_string(static_cast<Uncured>(k))) p.not_cured.push_back(static_cast<Uncured>(k));
  report::read_plan_extras(j, p);
  return p;
}

SpotShift spot_shift(const Json& j) {
  SpotShift s;
  s.readings = j.at("readings"), s.parameters = j.at("parameters"), s.removed = j.at("removed_from_the_gap");
  s.offset = mm(j.at("offset")), s.offset_U = mm(j.at("offset_U"));
  s.tilt = point(j.at("tilt_rad")), s.pivot = point(j.at("pivot_mm"));
  s.p = number(j.at("p")), s.p_tilt = number(j.at("p_tilt")), s.p_beyond = number(j.at("p_beyond_common_parts_of_U"));
  return s;
}

std::array<double, 4> fractions(const Json& fraction) {
  return {number(fraction.at("conforming")), number(fraction.at("undecided")), number(fraction.at("nonconforming")),
          number(fraction.at("not_measured"))};
}

MeanBudget mean_uncertainty(const Json& j) {
  return {number(j.at("u_lower_mm")),        number(j.at("u_upper_mm")),       number(j.at("u_instrument_mm")),
          number(j.at("u_registration_mm")), number(j.at("u_temperature_mm")), mm(j.at("U"))};
}

ZoneVerdict zone(const Json& j) {
  ZoneVerdict z;
  z.name = j.at("name"), z.overall = word<Conformity>(j.at("overall"), 5), z.area = number(j.at("area_mm2"));
  z.fraction = fractions(j.at("share_of_area")), z.mean = mm(j.at("mean"));
  z.budget = mean_uncertainty(j.at("mean_uncertainty")), z.would_change = j.at("would_change");
  return z;
}

Verdict verdict(const Json& j) {
  Verdict v;
  v.overall = word<Conformity>(j.at("overall"), 5);
  v.headline = j.at("headline"), v.would_change = j.at("would_change");
  v.fraction = fractions(j.at("share_of_area"));
  v.covered = j.at("coverage_suffices");
  v.unseen = list(j.at("not_measured"), [](const Json& p) {
    return UnseenPlace{point(p.at("at_mm")), number(p.at("area_mm2")), word<Missing>(p.at("missing"), 4), {}};
  });
  v.mean_budget = mean_uncertainty(j.at("mean_uncertainty"));
  v.zones = list(j.at("zones"), zone);
  const Json& d = j.at("deviation_mm");
  v.mean = number(d.at("mean")), v.sigma = number(d.at("sigma"));
  v.minimum = number(d.at("least")), v.maximum = number(d.at("greatest"));
  v.p05 = number(d.at("p05")), v.p50 = number(d.at("p50")), v.p95 = number(d.at("p95"));
  const Json& rigid = j.at("rigid_part");
  v.offset = mm(rigid.at("offset")), v.offset_U = mm(rigid.at("offset_U"));
  v.tilt = point(rigid.at("tilt_rad")), v.tilt_U = point(rigid.at("tilt_U_rad"));
  v.pivot = point(rigid.at("pivot_mm")), v.axis = point(rigid.at("axis"));
  v.remainder_rms = mm(rigid.at("remainder_rms"));
  v.rigid_rms = mm(rigid.at("rms")), v.rigid_rms_U = mm(rigid.at("rms_U"));
  v.rigid_significant = rigid.at("significant");
  v.regions = list(j.at("regions"), [](const Json& g) {
    DeviationRegion out;
    out.name = g.at("name"), out.high = g.at("gap_is") == "wide", out.centre = point(g.at("centre_mm"));
    out.area = number(g.at("area_mm2")), out.volume = number(g.at("volume_mm3"));
    out.mean = mm(g.at("mean")), out.mean_U = mm(g.at("mean_U")), out.peak = mm(g.at("peak"));
    out.outline = list(g.at("outline_mm"), point);
    return out;
  });
  v.histogram = list(j.at("histogram"), [](const Json& bar) {
    return std::pair{number(bar.at(0)), number(bar.at(1))};
  });
  return v;
}

Lead lead(const Json& j) {
  Lead l;
  l.max_s = number(j.at("greatest_s")), l.max_node = j.at("greatest_node"), l.rms_s = number(j.at("rms_s"));
  l.regions = list(j.at("regions"), [](const Json& g) {
    LeadRegion r;
    r.centre = point(g.at("centre_mm")), r.area = number(g.at("area_mm2"));
    r.peak_s = number(g.at("peak_s")), r.mean_s = number(g.at("mean_s"));
    r.peak_mm = number(g.at("peak_mm")), r.peak_percent = number(g.at("peak_percent_of_fill_time"));
    r.peak_node = g.at("peak_node"), r.path = g.at("path_nodes").get<std::vector<int>>(),
    r.source = g.at("source_node");
    r.fed_by = g.at("fed_by"), r.probability = number(g.at("probability"));
    return r;
  });
  return l;
}

Ensemble ensemble(const Json& j) {
  Ensemble e;
  e.runs = j.at("runs"), e.lead_s = number(j.at("lead_counts_beyond_s"));
  e.pocket = number(j.at("probability_of_trapped_air")), e.dry_area = j.value("expected_dry_area_mm2", 0.0);
  const auto &times = j.at("fill_time_95_percent_s"), &leads = j.at("greatest_lead_95_percent_s");
  e.fill_time_low = number(times.at(0)), e.fill_time_high = number(times.at(1));
  e.max_low = number(leads.at(0)), e.max_high = number(leads.at(1));
  return e;
}

void read_sheet(const Json& j, Inspection& r) {
  Mesh mesh;
  mesh.points = list(j.at("nodes_mm"), point);
  const int n = static_cast<int>(mesh.points.size());
  mesh.triangles = list(j.at("triangles"), [n](const Json& t) {
    const std::array<int, 3> corners = t.get<std::array<int, 3>>();
    for (int k : corners)
      if (k < 0 || k >= n) throw Error(Fault::input, "a triangle names a node that is not there");
    return corners;
  });
  r.sheet = make_sheet(std::move(mesh));
  const Json& edge = j.at("edge_mm");  // of the sheet itself, not of its rounded nodes
  r.sheet.edge_p05 = number(edge.at("p05")), r.sheet.edge_p50 = number(edge.at("p50"));
  r.sheet.edge_p95 = number(edge.at("p95"));
  r.sheet.min_angle_deg = number(j.at("min_angle_deg")), r.sheet.uncovered_area = number(j.at("uncovered_area_mm2"));
  r.gap.unmeasured_area = number(j.at("unmeasured_area_mm2"));
  r.sheet.masked_area = number(j.at("masked_area_mm2"));
  r.job.sheet.masks = list(j.at("masks"), [](const Json& m) {
    return Mask{m.at("name"), point(m.at("centre_mm")), number(m.at("radius_mm"))};
  });
  for (const auto& [id, values] : j.at("fields").items()) {
    r.columns[id] = list(values, number);
    if (r.columns[id].size() != r.sheet.size()) throw Error(Fault::input, "field " + id + " is not one value per node");
  }
}

Inspection read(const Json& j) {
  Inspection r;
  r.version = j.at("program_version");
  read_job_facts(j.at("job"), r);
  read_scan_facts(j.at("lower"), r.job.lower, r.lower_format, r.lower_sha256, r.lower_clean);
  read_scan_facts(j.at("upper"), r.job.upper, r.upper_format, r.upper_sha256, r.upper_clean);
  r.extra_inputs = list(j.at("extra_inputs"), [](const Json& e) {
    return ExtraInput{e.at("use"), e.at("file"), e.at("sha256")};
  });
  if (const auto d = j.find("doubt"); d != j.end() && !d->is_null()) {
    Doubt doubt;
    doubt.reason = word<Doubt::Reason>(d->at("reason"), 5), doubt.subject = d->at("subject");
    doubt.amount = number(d->at("amount_mm")), doubt.area = number(d->at("crossing_area_mm2"));
    doubt.at = point(d->at("at_mm")), doubt.text = d->at("text");
    r.doubt = doubt;
  }
  r.verdict = verdict(j.at("verdict"));
  if (j.contains("seal")) read_seal(j.at("seal"), r);
  r.alignment = alignment(j.at("registration"));
  r.spots = list(j.at("spot_readings"), [](const Json& s) {
    return SpotComparison{s.at("name"),
                          number(s.at("map_mm")),
                          number(s.at("map_U_mm")),
                          number(s.at("reading_mm")),
                          number(s.at("reading_U_mm")),
                          number(s.at("En")),
                          s.at("found")};
  });
  r.spot_shift = spot_shift(j.at("spot_shift"));
  const Json &reinforcement = j.at("laminate"), &front = j.at("front");
  r.laminate.under_filled_area = number(reinforcement.at("under_filled_area_mm2"));
  r.laminate.over_packed_area = number(reinforcement.at("over_packed_area_mm2"));
  r.laminate.weight_out_area = number(reinforcement.at("weight_out_area_mm2"));
  if (reinforcement.contains("closing")) {
    r.job.laminate.clamping_pressure = number(reinforcement.at("clamping_Pa"));
    report::read_plies(reinforcement.at("plies"), r.job.laminate);
    r.laminate.zones = report::read_zones(reinforcement.at("zones"));
    r.closing = report::read_closing(reinforcement.at("closing"));
    r.nominal_closing = report::read_closing(reinforcement.at("closing_nominal"));
  }
  r.nominal_filling = filling(front.at("nominal"));
  r.filling = filling(front.at("measured"));
  r.filling_after = filling(front.at("after_corrections"));
  r.lead = lead(front.at("lead"));
  r.ensemble = ensemble(front.at("ensemble"));
  r.job.ensemble.min_dry = front.at("ensemble").value("least_dry_spot_mm2", 0.0);  // older: none
  if (const auto a = front.find("advice"); a != front.end()) r.advice = report::read_advice(*a);
  if (const auto b = front.find("breathing"); b != front.end()) r.breathing = report::read_breathing(*b);
  if (const auto b = front.find("breathing_nominal"); b != front.end())
    r.nominal_breathing = report::read_breathing(*b);
  r.plan = plan(j.at("corrections"));
  report::read_expectations(j, r);
  report::read_outcome(j, r);
  r.warnings = texts(j.at("warnings"));
  read_sheet(j.at("sheet"), r);
  if (const auto times = j.find("times_s"); times != j.end())
    for (const auto& [stage, seconds] : times->items()) r.times.push_back({stage, number(seconds)});
  return r;
}

}  // namespace

Inspection read_result(const std::string& text) {
  try {
    const Json j = Json::parse(text);
    if (!j.is_object() || j.value("format", "") != "gapfront result")
      throw Error(Fault::input, "it is some other JSON file; give the folder that gapfront inspect wrote");
    if (j.at("format_version") != report::result_version)
      throw Error(Fault::input,
                  "its format version is " + j.at("format_version").dump() + ", this program reads " +
                      std::to_string(report::result_version) +
                      " only; inspect its scans again with this program, or use the program that wrote it");
    if (const std::string fault = report::result_fault(j); !fault.empty())
      throw Error(Fault::input, "it is incomplete or was edited (" + fault + "); inspect again");
    return read(j);
  } catch (const Json::parse_error&) {
    throw Error(Fault::input, "it is cut short or no JSON; inspect again");
  } catch (const Json::exception& e) {
    throw Error(Fault::input, std::string("it is incomplete or was edited (") + e.what() + "); inspect again");
  }
}

}  // namespace gapfront
