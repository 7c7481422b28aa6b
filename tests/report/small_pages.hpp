// A small re-check and a small diagnosis made by hand.
#pragma once
#include <limits>

#include "gapfront/pages.hpp"
#include "small.hpp"

using namespace gapfront;

inline Sheet square() {
  Mesh m;
  m.points = {{0, 0, 0}, {10, 0, 0}, {10, 10, 0}, {0, 10, 0}};
  m.triangles = {{0, 1, 2}, {0, 2, 3}};
  return cavity::make_sheet(m);
}

inline Job small_job() {
  Job j;
  j.name = "Small <tool>", j.tool = "T-1", j.date = "2026-05-20";
  j.flow.vents = {{"vent", {Vec3(5, 5, 0)}, 2, 0}};
  return j;
}

inline Recheck worn() {
  Recheck r;
  r.sheet = square();
  r.then.date = "2026-01-10", r.now.date = "2026-05-20", r.now.cycles = 4000, r.then.fill_time = r.now.fill_time = 100;
  r.drift = {0, 0.2, 0.1, std::numeric_limits<double>::quiet_NaN()};
  r.remainder = r.drift, r.U = {0.02, 0.02, 0.02, 0.02}, r.u_transform = {0, 0, 0, 0};
  r.significant = {0, 1, 0, 0};
  r.front.seconds = {0, 1, 2, 3};
  r.headline = {free_text("Worn in one place & more.")};
  Wear w;
  w.name = "W1", w.face = "lower", w.area = 50, w.mean = 0.1, w.mean_U = 0.01, w.peak = 0.2, w.peak_U = 0.02;
  w.worst = Vec3(10, 0, 0), w.course = {{0, 3, 0.01}, {4000, 3.2, 0.01}};
  w.line = history::fit_line(w.course), w.rate = w.line.rate, w.rate_U = w.line.t * w.line.u_rate;
  w.limit = 3.3, w.enough = true, w.left = 2000, w.left_low = 1500, w.left_high = 2600;
  r.wear = {w};
  r.moved = {{"B2", "upper", false, 0.4, 0.05}};
  r.front.max_node = 3, r.front.max_s = 3;
  r.next_cycles = 4750, r.next_date = "2026-06-13",
  r.next_why = free_text("half of the cycles that are left at the least");
  r.cancels = {Message("pages.nominal-tolerance-drop-out")}, r.notes = {free_text("Read <this>.")};
  return r;
}

inline Inspection dry_inspection() {
  Inspection r;
  r.job = small_job(), r.version = "test", r.sheet = square();
  r.gap.nodes.resize(4);
  r.verdict.nominal.assign(4, 3), r.verdict.deviation.assign(4, 0), r.verdict.node.resize(4);
  r.laminate.nodes.resize(4);
  r.filling.arrival = {0, 1, 2, std::numeric_limits<double>::infinity()}, r.nominal_filling.arrival = {0, 1, 2, 3};
  r.lead.seconds = {0, 0, 0, 0};
  Correction c;
  c.kind = Kind::build_up, c.name = "C1", c.effort = 2.5, c.before.dry_area = 300;
  r.plan.candidates = {c};
  return r;
}

inline Diagnosis dry() {
  Diagnosis d;
  d.fillings = 12;
  SpotDiagnosis s;
  s.spot = {Vec3(5, 5, 0), 4, 9, 10};
  s.trouble = 0.8, s.model = conformity::chance_of(48, 64), s.now = s.model, s.nominal = conformity::chance_of(0, 64),
  s.predicted = s.gap_explains = true;
  s.headline = {free_text("The gap explains the dry spot.")}, s.discriminate = {free_text("Press clay <there>.")};
  s.causes = {{CauseKind::gap_region, "R1", free_text("the gap that is too wide"), 0.04, conformity::chance_of(16, 64),
               0.95, true}};
  s.suspects = {{free_text("a runner that leaks"), free_text("the runner's seal"), 0.5, 0.3}};
  s.plan_works = true, s.plan_trouble = 0.3, s.plan_chance = conformity::chance_of(20, 64), s.plan_fill_time = 90;
  s.cure_by = CureBy::one, s.cure = 0, s.cure_trouble = 0.04, s.cure_text = {free_text("This correction cures it.")};
  s.cure_steps = {free_text("Build up R1.")};
  d.cured_below = 0.05;
  d.spots = {s};
  return d;
}

inline Measured shot_mold() {
  Measured m;
  m.job = small_job(), m.version = "test";
  return m;
}

/// A shot with one cause of each kind, and one vent that stayed dry.
inline ShotFound small_shot() {
  ShotFound f;
  f.verdict = ShotVerdict::abnormal;
  f.permeability = {0.9, 0.7, 1.1}, f.viscosity = {1.2, 1.0, 1.5}, f.leak = {0.02, 0, 0.06};
  f.resistance = {1.33, 1.2, 1.5}, f.normal_low = 0.8, f.normal_high = 1.25, f.earlier = 4, f.resists = 2;
  const auto add = [&](ShotCause cause, Message what, Message check) {
    ShotCandidate c;
    c.cause = cause, c.probability = 0.25, c.amount = {1.3, 1.1, 1.5};
    c.what = std::move(what), c.check = std::move(check);
    f.causes.push_back(c);
  };
  add(ShotCause::thick_resin, Message("shot.thick-resin", {arg::number(1.3, 2)}), Message("shot.check-resin"));
  add(ShotCause::wide_gap, Message("shot.wide-gap", {arg::length(0.2)}), Message("shot.check-closed"));
  add(ShotCause::clogged_vent, Message("shot.clogged-vent", {arg::name("V <1>")}),
      Message("shot.check-vent", {arg::name("V <1>")}));
  add(ShotCause::none, Message("shot.nothing"), {});
  for (int k = 0; k < 5; ++k) f.course.push_back({10. * k, 1e5 * k, 1e4, 2e4 * k, 1.5e4 * k, 1.9e4 * k});
  f.vents = {{"V <1>", std::numeric_limits<double>::infinity(), 40, 44}};
  f.volume = 5e5, f.duration = 50, f.cavity = 4.8e5, f.fillings = 20;
  f.headline = {Message("shot.not-normal", {arg::message(f.causes[0].what), arg::probability(0.25)})};
  f.check = {f.causes[0].check, Message("shot.note-viscosity")};
  return f;
}
inline std::string small_shot_json(const ShotFound& f = small_shot()) {
  ShotLog log;
  log.file = "folder/monday <1>.csv";
  return report::shot_json(shot_mold(), log, f);
}
