// The gap → how the mold closes and fills, beside a mold of the nominal gap.
#include <algorithm>

#include "gapfront/drape.hpp"
#include "gapfront/error.hpp"
#include "gapfront/pipeline.hpp"
#include "gapfront/text.hpp"
#include "pipeline/checks.hpp"
#include "pipeline/flow_case.hpp"
#include "pipeline/notes.hpp"
#include "pipeline/stages.hpp"

namespace gapfront::pipeline {

std::vector<double> gap_for_flow(Measured& m) {
  // A defect as large as the tolerance, of the size that decides: a smaller hole than that hides none.
  HiddenDefect hidden{{}, conformity::disc_across(m.job.tolerance)};
  for (const NodeLimits& l : m.verdict.limits)
    hidden.u.push_back(0.5 * std::min(l.high - l.nominal, l.nominal - l.low));
  m.gap.assumed = cavity::assume_gap(m.sheet, m.gap, m.verdict.nominal, hidden);
  return m.gap.assumed.gap;
}

void settle_process(Measured& out) {
  settle_ports(out.sheet, out.job.sheet, out.job.file.string(), out.job.flow, out.warnings);
  if (!(out.job.laminate.clamping_pressure > 0))
    out.job.laminate.clamping_pressure = flow::clamping_over_face(out.sheet, out.job.flow);
}

namespace {

/// What is said of the gap that is assumed where none was measured.
Message assumed_note(const Predicted& r) {
  double most = 0;
  for (std::size_t i = 0; i < r.gap.assumed.u.size(); ++i)
    if (!is_masked(r.sheet, i)) most = std::max(most, r.gap.assumed.u[i]);
  const Quantity area = arg::area(r.gap.unmeasured_area);
  if (!(most > 0) || r.job.ensemble.runs <= 0) return Message("warnings.could-not-measured-flow-plain", {area});
  return Message("warnings.could-not-measured-flow", {area, arg::length(2 * most)});
}

/// Cloth as its nets lay it, and what is to be said of them.
void lay_glass(Predicted& out, Stages& stage) {
  LaminateOptions& o = out.job.laminate;
  if (!o.drape.on) return;
  stage("drape", [&](const Progress&) { o.draped = laminate::drape(out.sheet, o); });
  append(out.warnings, draping_notes(out));
}

/// Bends that the glass has to follow and the job does not name. Of those it names the bridges are said.
void look_for_radii(Predicted& out) {
  out.found_radii = laminate::find_radii(out.sheet, out.flow_gap);
  std::erase_if(out.found_radii, [&](const FoundRadius& f) { return laminate::is_named(f, out.job.laminate); });
  append(out.warnings, radii_notes(out));
}

/// The glass in the gap that the resin meets.
LaminateMap filled_laminate(const Predicted& out) {
  if (!out.breathing.computed) return out.laminate;
  return laminate::evaluate_laminate(out.sheet, flow::under_filling(out.flow_gap, out.breathing), out.job.laminate);
}

/// Whether the glass leaves a channel behind it.
bool is_open(const Bridge& b) { return b.conductance > 0; }

/// Bubbles and dry places, if the job asks for them; and the radii along which air worms, with what fills them.
void look_for_air(Predicted& out, Stages& stage) {
  if (!out.job.air.on) return;
  stage("residual air", [&](const Progress&) {
    out.air = flow::residual_air(out.sheet, filled_laminate(out), out.job.flow, out.filling, out.job.air);
  });
  for (std::size_t k = 0; k < out.bridges.size(); ++k)
    if (is_open(out.bridges[k])) {
      const InsideRadius& r = out.job.laminate.radii[k];
      out.air.wormed.push_back({r.name, laminate::length_of(r), laminate::roving_mass(r, out.bridges[k])});
    }
  append(out.warnings, air_notes(out));
}

/// What packing every radius would do to the filling.
void compare_packed(Predicted& out, Stages& stage) {
  out.bridges = laminate::bridges(out.sheet, out.flow_gap, out.job.laminate);
  if (std::none_of(out.bridges.begin(), out.bridges.end(), is_open)) return;
  stage("radii", [&](const Progress& p) {
    LaminateOptions packed = out.job.laminate;
    packed.radii.clear();
    const auto gap = flow::under_filling(out.flow_gap, out.breathing);
    const Filling f = flow::fill(out.sheet, laminate::evaluate_laminate(out.sheet, gap, packed), out.job.flow, p);
    const Lead lead = flow::compare_fillings(out.sheet, f, out.filling);
    out.packed = {f.fill_time, flow::dry_area(f), lead.max_s, lead.max_node};
  });
  for (std::size_t k = 0; k < out.bridges.size(); ++k) {
    const Bridge& b = out.bridges[k];
    if (!is_open(b)) continue;
    const InsideRadius& r = out.job.laminate.radii[k];
    out.warnings.push_back(Message(
        "warnings.radius-bridged",
        {arg::name(r.name), arg::length(r.radius, 1), arg::length(b.height, 1), arg::length(laminate::length_of(r), 0),
         arg::mass(laminate::roving_mass(r, b)), arg::time(out.packed.max_lead_s)}));
  }
}

void close_and_pack(Predicted& out, const std::vector<double>& nominal, Stages& stage) {
  const LaminateOptions& laminate = out.job.laminate;
  stage("laminate", [&](const Progress&) {
    out.nominal_laminate = laminate::evaluate_laminate(out.sheet, nominal, laminate);
    out.laminate = laminate::evaluate_laminate(out.sheet, out.flow_gap, laminate);
  });
  out.closing = flow::close_mold(out.sheet, out.flow_gap, laminate, out.job.flow);
  out.nominal_closing = flow::close_mold(out.sheet, nominal, laminate, out.job.flow);
}

/// The front of a rigid half runs in one gap all the time; so its pockets get a U by the mesh.
void rigid_fronts(Predicted& out, const std::vector<double>& nominal, Stages& stage) {
  const FlowOptions& flow = out.job.flow;
  out.nominal_filling =
      stage("flow, nominal", [&](const Progress& p) { return flow::fill(out.sheet, out.nominal_laminate, flow, p); });
  out.filling =
      stage("flow, measured", [&](const Progress& p) { return flow::fill(out.sheet, out.laminate, flow, p); });
  stage("pockets", [&](const Progress&) {
    flow::judge_pockets(out.sheet, nominal, out.job.laminate, flow, out.nominal_filling);
    flow::judge_pockets(out.sheet, out.flow_gap, out.job.laminate, flow, out.filling);
  });
}

/// A light half gives way in a true tool as in this one: both fronts run in the gap that vacuum and resin leave.
void breathing_fronts(Predicted& out, const std::vector<double>& nominal, Stages& stage) {
  const auto run = [&](const char* name, const std::vector<double>& gap, const std::vector<double>& start) {
    return stage(name, [&](const Progress& p) {
      Breathing b = flow::breathe(out.sheet, gap, out.job.laminate, out.job.flow, p, start);
      flow::compare_shapes(b, out.sheet, gap, out.job.laminate, out.job.flow);
      return b;
    });
  };
  out.nominal_breathing = run("breathing, nominal", nominal, {});
  out.breathing = run("breathing, measured", out.flow_gap, out.nominal_breathing.filling.move);
  out.nominal_filling = out.nominal_breathing.front, out.filling = out.breathing.front;
}

void advise(Predicted& out, const std::vector<double>& resin_gap, Stages& stage) {
  const LaminateMap laminate = laminate::evaluate_laminate(out.sheet, resin_gap, out.job.laminate);
  out.advice = stage("schedule", [&](const Progress&) {
    return flow::advise_process(out.sheet, laminate, out.job.flow, out.filling);
  });
  for (const auto& said : {opening_words(out), schedule_words(out)})
    if (!said.empty()) out.warnings.push_back(in_one_sentence(said));
}

/// What feeds each lead, and how probable it is.
void explain_leads(Predicted& out, const std::vector<double>& resin_gap, Stages& stage) {
  std::vector<Feed> feeds;
  for (const auto& region : out.verdict.regions) feeds.push_back({region.name, region.nodes});
  flow::name_feeds(out.sheet, feeds, out.lead);
  if (out.job.ensemble.runs <= 0) return;
  out.ensemble = stage("ensemble", [&](const Progress& p) {
    return flow::draw_fillings(out.sheet, out.gap, resin_gap, out.job.laminate, out.job.flow, out.nominal_filling,
                               out.lead, out.job.ensemble, p);
  });
  for (std::size_t k = 0; k < out.lead.regions.size(); ++k)
    out.lead.regions[k].probability = out.ensemble.region_leads[k];
}

}  // namespace

Predicted predict(Measured measured, const Progress& progress) {
  if (measured.doubt) throw Error(Fault::measurement, say(measured.verdict.headline, {measured.job.units}));
  Predicted out;
  static_cast<Measured&>(out) = std::move(measured);
  Stages stage(progress, out.times);
  settle_process(out);
  const auto nominal = conformity::nominal_gap(out.sheet, out.job.tolerance);
  out.flow_gap = gap_for_flow(out);
  if (out.gap.unmeasured_area > 0) out.warnings.push_back(assumed_note(out));
  append(out.warnings, unlikely_values(out));
  lay_glass(out, stage);
  close_and_pack(out, nominal, stage);
  check_permeability(out, nominal);
  if (out.job.flow.closing.half.empty())
    rigid_fronts(out, nominal, stage);
  else
    breathing_fronts(out, nominal, stage);
  if (out.job.flow.viscosity_spread > 0)
    flow::try_viscosities(out.sheet, filled_laminate(out), out.job.flow, out.filling);
  append(out.warnings, out.filling.warnings);
  append(out.warnings, half_notes(out));
  compare_packed(out, stage);
  look_for_radii(out);
  out.capillary = flow::capillary_numbers(out.sheet, out.filling, out.job.flow);
  append(out.warnings, void_notes(out));
  look_for_air(out, stage);
  append(out.warnings, reinforcement_warnings(out));
  out.lead = flow::compare_fillings(out.sheet, out.nominal_filling, out.filling);
  const auto part = [&](const LaminateMap& laminate, const Filling& filling) {
    return flow::material_use(out.sheet, out.gap, laminate, out.job.laminate, out.job.flow, filling,
                              out.job.correct.prices);
  };
  out.material = part(out.laminate, out.filling),
  out.nominal_material = part(out.nominal_laminate, out.nominal_filling);
  const auto resin_gap = flow::under_filling(out.flow_gap, out.breathing);  // with a rigid half the gap as scanned
  advise(out, resin_gap, stage);
  explain_leads(out, resin_gap, stage);
  append(out.warnings, unsettled_warnings(out));
  return out;
}

}  // namespace gapfront::pipeline
