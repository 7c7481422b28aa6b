// A small inspection made by hand, so that every expected number is known.
#pragma once
#include <limits>

#include "gapfront/inspection.hpp"
#include "gapfront/live.hpp"
#include "gapfront/process_words.hpp"

using namespace gapfront;

/// A sentence that stands in no catalogue.
inline Message free_text(std::string words) { return Message("test.free", {arg::name(std::move(words))}); }

/// Two triangles over a 10 mm square; gaps 3.0, 3.1, 3.2, and one node not measured.
inline Inspection small_inspection() {
  Inspection r;
  r.version = "test";
  r.job.name = "Small";
  r.job.flow.vents = {{"vent", {Vec3(5, 5, 0)}, 2, 0}};
  r.sheet.mesh.points = {{0, 0, 0}, {10, 0, 0}, {10, 10, 0}, {0, 10, 0}};
  r.sheet.mesh.triangles = {{0, 1, 2}, {0, 2, 3}};
  r.sheet.normals.assign(4, Vec3::UnitZ());
  r.sheet.area = {100 / 3.0, 50 / 3.0, 100 / 3.0, 50 / 3.0};
  r.sheet.rim.assign(4, 1);
  r.gap.nodes.resize(4);
  for (int i = 0; i < 3; ++i) {
    r.gap.nodes[i].measured = true;
    r.gap.nodes[i].gap = 3 + 0.1 * i;
    r.gap.nodes[i].along_normal = 3 + 0.1 * i;
    r.gap.nodes[i].U = 0.04;
  }
  r.verdict.nominal.assign(4, 3.0);
  r.verdict.limits.assign(4, {3, 2.7, 3.3});
  r.verdict.deviation = {0, 0.1, 0.2, std::numeric_limits<double>::quiet_NaN()};
  r.verdict.rule = {25.0, 1.645, 3.4, 4.1};
  r.verdict.consumer_risk = 0.3, r.verdict.producer_risk = 0.8;
  r.verdict.at_low = {true, {1, 2, 3}, 3, 2.7, 3.02, 0.03, Conformity::conforming};
  r.verdict.at_high = {true, {4, 5, 6}, 3, 3.3, 3.21, 0.04, Conformity::undecided};
  r.verdict.small_outside = {12.5, 0.41, {7, 8, 9}};
  r.verdict.node = {Conformity::conforming, Conformity::conforming, Conformity::undecided, Conformity::not_measured};
  r.verdict.fraction = {0.5, 1 / 3.0, 0, 1 / 6.0};
  r.verdict.headline = {conformity::verdict_word(Conformity::undecided, false),
                        Message("page.nothing-provably-outside-limits", {arg::fraction(1 / 3.0), arg::area(30)})};
  r.laminate.nodes.resize(4);
  for (Filling* f : {&r.nominal_filling, &r.filling, &r.filling_after}) {
    f->arrival = {0, 1, 2, std::numeric_limits<double>::infinity()};
    f->peak_pressure.assign(4, 1e5);
    f->history = {{0, 0, 1e4, 0}, {1, 5e4, 1e4, 0.5}, {2, 1e5, 1e4, 1}};
  }
  r.nodes_after = {r.verdict.deviation, r.verdict.node, {0, 0, 0, 0}};
  r.lead.seconds = {0, 0.5, -0.25, 0};
  r.lead.percent = {0, 25, -12.5, 0};
  r.lead.max_node = 1;
  r.lead.max_s = 0.5;
  return r;
}

// From here on: something in every place of the result, so that every text of the report and every key of result.json
// is met.

/// A mold that opens, a resin that gels too soon, and each thing that can be said to that.
inline void every_change(Inspection& r) {
  using Change = ProcessChange::Kind;
  r.closing.closing = 3e9, r.closing.reinforcement = 1e9;
  r.filling.opening.history.resize(1);
  r.filling.opening.force = {12, 2e9, 2.5e9, -1e4, 0};
  ProcessAdvice& a = r.advice;
  a.mode = PumpMode::rates, a.pressure_limit = 3e4, a.keeps_limits = a.in_time = false;
  a.gel_time = 100, a.advised.fill_time = 150;
  a.help = {OpeningHelp::Reason::resin,
            1.25,
            1.25,
            {{Change::lower_limit, 2.5e4, 0, Vec3::Zero(), 90},
             {Change::slower, 2e4, 0, Vec3::Zero(), 140},
             {Change::stop_when_full, 0.985},
             {Change::cavity_vacuum, 9e4, 0, Vec3::Zero(), 80},
             {Change::clamping, 3e9},
             {Change::perimeter, 9e4, 40}}};
  a.to_be_in_time = {{Change::thinner_resin, 0.13, 0, Vec3::Zero(), 95},
                     {Change::second_inlet, 0, 0, Vec3(1, 2, 3), 95},
                     {Change::higher_limit, 5e4, 2e9, Vec3::Zero(), 95}};
}

inline Message sum_of(double a, double b) {
  return Message("join.sum",
                 {Messages{Message("list.plain", {arg::length(a)}), Message("list.plain", {arg::length(b)})}});
}

inline void full_job(Inspection& r) {
  Job& job = r.job;
  job.tool = "T-1", job.date = "2026-01-31", job.note = "A note.", job.text = "[job]\n";
  job.invented = true, job.cycles = 120;
  job.flow.inlets = {{"end runner", false, {Vec3(0, 0, 0)}}};
  job.flow.pressure_limit = 4e4;
  job.correct.stations = {{"S1", Vec3(1, 2, 3), 0.5}};
  r.lower_clean.read = 10, r.lower_clean.kept = 9, r.lower_clean.spacing = 1;
  r.gap.unmeasured_area = 16, r.sheet.uncovered_area = 8, r.sheet.masked_area = 28;
  r.verdict.covered = false;
  for (const Missing m : {Missing::lower, Missing::upper, Missing::both, Missing::neither})
    r.verdict.unseen.push_back({Vec3(1, 2, 0), 4, m, {3}});
  job.sheet.masks = {{"B1", Vec3(5, 5, 0), 3}};
  r.job.laminate.plies = {{laminate::find_reinforcement("woven roving 600"), 2, 0}};
  r.job.laminate.zones.resize(1);
  r.job.laminate.zones[0].name = "overlap", r.job.laminate.zones[0].adds = true;
  r.job.laminate.zones[0].plies = {{laminate::find_reinforcement("stitched core mat 300"), 1, 0}};
}

inline void full_verdict(Inspection& r) {
  Verdict& v = r.verdict;
  v.overall = Conformity::nonconforming;
  v.headline = {conformity::verdict_word(v.overall, false),
                Message("page.gap-provably-outside-limits", {arg::fraction(0.031), arg::area(1200),
                                                             arg::length(0.41, 2, true), arg::place({10, 0, 0}, 2)})};
  v.would_change = {Message("page.undecided-over-area-scan",
                            {arg::fraction(0.082), arg::area(3200), arg::length(0.012, 3), arg::length(0.04, 3)}),
                    Message("page.no-better-scan-makes")};
  v.histogram = {{-0.1, 0.25}, {0, 0.5}, {0.1, 0.25}};
  v.regions.resize(2);
  v.regions[0].name = "R1", v.regions[0].high = true, v.regions[0].outline = {{0, 0, 0}, {1, 0, 0}, {1, 1, 0}};
  v.regions[1].name = "R2";
}

inline void full_registration(Inspection& r) {
  Alignment& a = r.alignment;
  a.method = {Message("proof.targets-seen-both-halves", {arg::name("targets + flange"), 7L}),
              Message("proof.tool-frame-from-targets", {7L}),
              Message("proof.flange-stand-off-places", {arg::length(0), 40L, 52L})};
  a.residuals.resize(1);
  a.residuals[0].name = "B1", a.residuals[0].residual = Vec3(0.01, 0, 0), a.residuals[0].leave_one_out = 0.02;
  a.covariance.setConstant(1.0 / 3e9);
  a.methods = {{"targets", 3.2, 0.01}, {"flange", 1.1, 0.02}, {"location in the plane, as declared", 0.3, 0.03}};
  a.flange.emplace();
  a.flange->rock = 0.05;
  a.left_out = {"B7"};
  a.shared_noise = {0.012, 6};
  a.closure.chi2 = 12.3, a.closure.dof = 15, a.closure.p = 0.66;
  a.nominal = {{"upper", 0.02, 0.9, 1.2, 0.4}};
  a.warnings = {Message("warnings.align-target-disagrees-others", {arg::name("B1"), arg::length(0.31, 3)})};
}

inline void full_front(Inspection& r) {
  for (Filling* f : {&r.nominal_filling, &r.filling, &r.filling_after})
    f->fill_time = 200, f->last_node = 2, f->opening.history = {{0, 2e9, 1e9, 1e4, 0}, {200, 2e9, 2.5e9, -1e4, 1}};
  r.filling.opening.force = r.filling.opening.history.back();
  r.closing.closing = 2e9, r.closing.reinforcement = 1e9, r.closing.area = 100;
  r.filling.pockets.resize(1);
  r.filling.vent_closed_at = {12, std::numeric_limits<double>::infinity()};
  r.filling.warnings = {Message("warnings.front-stalls-cavity-dry", {arg::fraction(0.02, 0)})};
  r.lead.regions.resize(1);
  LeadRegion& early = r.lead.regions[0];
  early.centre = Vec3(1, 2, 0), early.area = 30, early.peak_s = 0.5, early.mean_s = 0.25;
  early.peak_mm = 12, early.peak_percent = 25, early.peak_node = 1, early.path = {0, 1}, early.source = 0;
  early.fed_by = "R1", early.probability = 0.75;
  r.ensemble.runs = 32, r.ensemble.lead_s = 0.1, r.ensemble.pocket = 0.25;
  r.ensemble.fill_time_low = 180, r.ensemble.fill_time_high = 220;
  r.ensemble.max_low = 0.2, r.ensemble.max_high = 0.8;
  r.advice.steps = {{0, 2e4}, {1e5, 1e4}};
  r.breathing.computed = true, r.breathing.dry.move = {-0.1, 0, 0, 0}, r.breathing.changes = {0.1, 0.0004};
  r.nominal_breathing = r.breathing, r.advice.pressure_limit = 3e4;
  r.laminate.zones = {{"", 100}};
  r.air.computed = true, r.air.area = {50, 20, 15, 10, 5}, r.air.held = {70, 10, 5, 10, 5};
  r.air.node = {AirClass::sound, AirClass::in_bundles, AirClass::between_bundles, AirClass::dry};
  r.air.inside = {0, 0.02, 0, 0}, r.air.between = {0, 0, 0.03, 0}, r.air.worst = 2;
  r.air.formed_inside = 100, r.air.formed_between = 200, r.air.bled = 20;
  r.air.wormed = {{"north corner", 200, 12}};
}

inline void full_spots(Inspection& r) {
  r.spots = {{"spot", 3.0, 0.04, 3.01, 0.05, 0.2, true}, {"far", 0, 0, 3.01, 0.05, 0, false}};
  SpotShift& shift = r.spot_shift;
  shift.readings = 6, shift.parameters = 3, shift.removed = true, shift.pivot = Vec3(1, 2, 3);
  shift.offset = -0.0789, shift.offset_U = 0.012, shift.tilt = Vec3(1 / 3e3, 0, 0);
  shift.p = 0.0123, shift.p_tilt = 0.2, shift.p_beyond = 0.3;
}

inline void full_plan(Inspection& r) {
  CorrectionPlan& p = r.plan;
  p.now = {1200, 1500, 12, 4, 300, 210, 40}, p.after = {0, 100, 3, 1, 0, 205, 12};
  p.now.pocket = 0.5, p.now.expected_dry_area = 350, p.after.pocket = 0.25, p.after.expected_dry_area = 80;
  Correction shim, fill;
  shim.kind = Kind::shim, shim.name = "C1", shim.face = "flange", shim.peak = 0.1234567;
  shim.instruction = {
      full_sentence({Message("corrections.station-put-from", {arg::name("S1"), arg::length(0.4), arg::number(1, 2),
                                                              arg::length(1.4), arg::message(sum_of(0.2, 0.2))}),
                     Message("corrections.station-will-then-stand", {arg::name("S2"), arg::length(0.05)})})};
  shim.shims = {{"S1", -0.5, {0.2, 0.1}, 0.01}};
  shim.why = in_one_sentence(
      {Message("order.no-other-combination"), Message("order.leave-little-out-come", {arg::number(6)})});
  shim.before = p.now, shim.after = p.after, fill.before = p.now, fill.after = p.after;
  fill.kind = Kind::build_up, fill.name = "C2", fill.face = "lower", fill.region = "R1";
  fill.area = 1200, fill.volume = 800, fill.mass = 2, fill.outline = {{0, 0, 0}, {1, 0, 0}, {1, 1, 0}};
  fill.instruction = {full_sentence(
      {Message("work.build-up-lower-face",
               {arg::place(Vec3(1, 2, -3)), arg::length(0.4), arg::area(1200), arg::mass(2), arg::tape(15)}),
       Message("corrections.measured-after-rigid-move"),
       Message("corrections.lower-face-because", {arg::message(Message("corrections.convex-one-there-so"))})})};
  Template part;
  part.part = 1, part.outline = {{0, 0}, {1, 0}, {1, 1}, {0, 0}}, part.joins = {{"a", {0.5, 0}}};
  fill.templates = {part};
  p.candidates = {shim, fill}, p.chosen = {0, 1}, p.after_each = {p.now, p.after};
  p.remains = {Message("corrections.area-stays-out-tolerance", {arg::fraction(0.003), arg::area(100), arg::area(20)}),
               Message("order.gap-glass-drawn-random", {arg::probability(0.25), arg::area(80)})};
  p.warnings = {Message("corrections.only-first-candidates-were", {12L, 20L})};
}

inline void full_outcome(Inspection& r) {
  Outcome& o = r.outcome;
  o.works = true;
  o.now = {1500, 1500, 1500, {0.25, 0.12, 0.43, 8, 32}, 350, 0.8, -1e4, true, 200};
  o.after = {120, 80, 190, {0.125, 0.04, 0.29, 4, 32}, 80, 1.1, -1e3, true, 200};
  o.nominal = {0, 0, 0, {0, 0, 0.11, 0, 32}, 0, 1.2, 1e3, true, 200};
}

/// What the page's trials begin with.
inline void full_live(Inspection& r) {
  LiveCase c;
  c.mesh = r.sheet.mesh;
  c.gap = {3, 3.1, 3.2, 3}, c.low.assign(4, 2.7), c.high.assign(4, 3.3), c.breathing = {-0.1, 0, 0, 0};
  c.laminate = r.job.laminate, c.flow = r.job.flow, c.corrections = r.plan.candidates;
  r.live = live::pack(c);
}

inline Inspection full_inspection() {
  Inspection r = small_inspection();
  full_job(r), full_verdict(r), full_registration(r), full_front(r), full_spots(r), full_plan(r), full_outcome(r);
  full_live(r);
  r.warnings = {Message("warnings.glass-weight-outside-window", {arg::area(1200)}),
                Message("warnings.unsettled-shape-under-load")};
  every_change(r);
  for (const auto& said : {pipeline::opening_words(r), pipeline::schedule_words(r)})
    r.warnings.insert(r.warnings.end(), said.begin(), said.end());
  r.times = {{"scan", 1.5}};
  return r;
}
