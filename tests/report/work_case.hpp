// Inspections with work to be done: one correction with a template, and one of every kind.
#pragma once
#include "small.hpp"

/// One build-up with a rectangular template of 300 × 250 mm, too large for one sheet of paper.
inline Inspection with_template() {
  Inspection r;
  r.job.name = "Tool (A) \\ ü";
  r.sheet = cavity::make_sheet({{{0, 0, 0}, {300, 0, 0}, {300, 250, 0}, {0, 250, 0}}, {{0, 1, 2}, {0, 2, 3}}});
  r.gap.nodes.resize(4);
  r.verdict.nominal = r.verdict.deviation = {3, 3, 3, 3};
  r.verdict.node.assign(4, Conformity::conforming);
  r.laminate.nodes.resize(4);
  r.nominal_filling.arrival = r.filling.arrival = {0, 1, 2, 1};
  Correction c;
  c.kind = Kind::build_up, c.name = "C1", c.face = "lower", c.instruction = {free_text("Build up <here>.")},
  c.blend = 15, c.effort = 3;
  c.outline = {{0, 0, 0}, {300, 0, 0}, {300, 250, 0}, {0, 250, 0}, {0, 0, 0}};
  c.centre = Vec3(150, 125, 0);
  c.tape = {{Message("order.target", {arg::name("B1")}), 123.4, Vec3(-50, 0, 0)},
            {Message("bench.edge-towards", {arg::name("+x")}),
             150,
             Vec3(300, 125, 0),
             Way::from_edge,
             {Vec3(300, 125, 0), Vec3(150, 125, 0)}}};
  r.plan.shop_step = 0.05;
  r.plan.references = {{"B1", Vec3(-50, 0, 0), 10, Mark::target}, {"S2", Vec3(320, 270, 0), 0, Mark::station}};
  c.stops = {{Vec3(150, 125, 0), 0.6, 1}, {Vec3(20, 20, 0), 0.1, 2}};
  c.contours = {{0.1, {{10, 10, 0}, {290, 10, 0}, {290, 240, 0}, {10, 10, 0}}}};
  Template t;
  t.stretch = 0.0042, t.origin = Vec3(150, 125, 0);
  for (const Vec3& p : c.outline) t.outline.emplace_back(p.x() - 150, p.y() - 125);
  t.contours = {{0, {{-160, -135, 0}, {160, -135, 0}}}, {0.1, {{-140, -115, 0}, {140, -115, 0}}}};
  t.stops = {{Vec3(0, 0, 0), 0.6, 1}};
  t.rays = {{Message("bench.target-near-side-ball", {arg::name("B1")}), Eigen::Vector2d(-0.85, -0.53)}};
  c.templates = {t};
  c.gap_change = {-0.1, 0, -0.2, 0};
  r.plan.candidates = {c}, r.plan.chosen = {0}, r.plan.after_each = {Effect{}};
  r.plan.effort = correct::default_effort(), r.plan.left = {free_text("R2 is left as it is.")};
  return r;
}

/// One more like the first, in whatever the kind does not change.
inline void add_work(CorrectionPlan& p, Kind kind, const char* face, const Messages& instruction) {
  Correction c = p.candidates[0];
  c.kind = kind, c.face = face, c.instruction = instruction, c.name = "C" + std::to_string(p.candidates.size() + 1);
  p.candidates.push_back(c);
}

inline void add_shims(CorrectionPlan& p) {
  const Argument station = arg::message(Message("order.proposed", {arg::name("Station Ä 1"), arg::place({1, 2, 0})}));
  const Message pieces("join.sum", {Messages(2, Message("list.plain", {arg::length(0.2)}))});
  add_work(p, Kind::shim, "flange",
           {full_sentence({Message("corrections.station-put-from",
                                   {station, arg::length(0.4), arg::length(1), arg::length(1.4), arg::message(pieces)}),
                           Message("order.station-relieve-flange-take-out", {arg::name("S2"), arg::length(0.05)}),
                           Message("corrections.station-will-then-stand", {arg::name("S3"), arg::length(0.05)}),
                           Message("order.upper-half-swings-sideways", {arg::length(0.12)})})});
  Correction& shim = p.candidates.back();
  shim.outline.clear(), shim.templates.clear(), shim.stops.clear(), shim.contours.clear(), shim.tape.clear();
  shim.shims = {{"North end", 0.4, {0.2, 0.2}, 0}, {"S2", -0.05, {}, 0, Vec3(1, 1, 0), 0.05}, {"S3", 0, {}, 0.05}};
  shim.why = free_text(
      "the best found; by the bound reached, no combination leaves less than 1.0 % of the area out (this one 1.2 %), "
      "or "
      "less than 0.012 mm RMS (this one 0.013 mm); of the 6 that leave as little out and come nearest to nominal, the "
      "front is disturbed least, by re-computation");
}

inline void add_relief(CorrectionPlan& p) {
  add_work(p, Kind::relief, "upper",
           {free_text(
               "Relieve the upper face around x 1, y 2, z −3 by up to 0.40 mm (over 12 cm²), feathered out over 15 "
               "mm around its outline; the upper face because it is the convex one there, so it is easier to reach.")});
  p.candidates.back().tape = {
      {Message("bench.place-edge-nearest", {arg::message(Message("order.station-2", {arg::name("S2")}))}),
       12,
       Vec3(1, 1, 0),
       Way::along_edge,
       {Vec3(1, 1, 0), Vec3(1, 0, 0)}},
      {Message("bench.place-edge-so-found"), 13, Vec3(1, 0, 0), Way::from_edge, {}}};
  p.candidates.back().tape_side = "−y";
  p.candidates.back().templates.clear();
  p.candidates.back().no_template = free_text(
      "The face is curved so much both ways there that paper would stretch by more than 2 % even in 16 pieces: mark "
      "the "
      "outline by the coordinates.");
}

inline void add_reinforcement(CorrectionPlan& p) {
  add_work(
      p, Kind::reinforcement_patch, "laminate",
      {free_text("Lay 1 extra ply of mat 450 within the outline around x 1, y 2, z 3 (12 cm², 5 g) in every part; the "
                 "tool stays "
                 "as "
                 "it is.")});
  add_work(
      p, Kind::radius_packing, "laminate",
      {free_text(
          "Pack the radius around x 1, y 2, z 3 with roving: 120 mm long, 12 mm wide, 3.0 cm³ to fill, 4 g of glass in "
          "every "
          "part; the tool stays as it is.")});
  p.candidates.back().templates.clear();
  p.candidates.back().no_template = free_text("Roving is packed along the radius and needs no template.");
}

inline void add_ports(CorrectionPlan& p) {
  for (const Kind kind : {Kind::vent_move, Kind::inlet_move}) {
    add_work(p, kind, "port",
             {Message("work.last-point-fill-lies", {arg::place({1, 2, 3}), arg::length(120, 0), arg::name("middle")}),
              kind == Kind::vent_move ? Message("advice.move-vent", {arg::name("middle"), arg::place({1, 2, 3})})
                                      : Message("work.move-inlet", {arg::name("gate"), arg::place({1, 2, 3})})});
    p.candidates.back().outline.clear(), p.candidates.back().templates.clear();
    p.candidates.back().stops.clear(), p.candidates.back().contours.clear();
  }
}

/// One correction of every kind, with everything a work order may say.
inline Inspection with_all_kinds() {
  Inspection r = with_template();
  r.job.tool = "no. 7", r.job.date = "2026-01-01", r.job.invented = true;
  CorrectionPlan& p = r.plan;
  add_shims(p), add_relief(p), add_reinforcement(p), add_ports(p);
  p.candidates[0].instruction = {
      free_text("Build up the lower face around x 1, y 2, z −3 by up to 0.40 mm (over 12 cm²), 2 g of filler with "
                "waste, feathered out over 15 mm around its outline; the lower face because the job prefers it.")};
  p.candidates[0].templates.push_back(p.candidates[0].templates[0]);
  p.candidates[0].templates[0].part = 1, p.candidates[0].templates[1].part = 2;
  for (auto& t : p.candidates[0].templates) t.joins = {{"a", {0, 0}}, {"b", {10, 0}}};
  p.candidates[0].area = 75000, p.candidates[0].peak = 0.6, p.candidates[0].mean = 0.3, p.candidates[0].volume = 2e4,
  p.candidates[0].mass = 40;
  p.chosen.clear(), p.after_each.clear();
  for (int k = 0; k < static_cast<int>(p.candidates.size()); ++k) {
    p.chosen.push_back(k);
    p.after_each.push_back({100, 200, 3, 1, 50, 200, 12, 0.25, 60});
  }
  p.now = {200, 300, 4, 2, 60, 200, 20, 0.5, 90};
  p.effort.push_back({Kind::shim, 1, 2, 3, 0, Message("list.plain", {arg::name("whatever our shop does")})});
  p.remains = {
      free_text("The whole measured area is then within tolerance and no pocket stays dry as computed, but one may.")};
  p.left = {free_text(
      "R2 around x 1, y 2, z 3, 1.2 cm², is left as it is: what it would gain is less than the computation can "
      "tell.")};
  return r;
}
