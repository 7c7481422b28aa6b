// What the work order gets: outlines that can be worked, tapes, depth stops, templates, ports, the half to work on.
#include <catch2/catch.hpp>
#include <cmath>

#include "core/sheet_parts.hpp"
#include "correct/candidates.hpp"
#include "gapfront/confirm.hpp"
#include "gapfront/text.hpp"
#include "plate_case.hpp"

using namespace gapfront;
using plate::Case;
using plate::low;

namespace {

const Correction& only_chosen(const CorrectionPlan& plan) {
  REQUIRE(plan.chosen.size() == 1);
  return plan.candidates[plan.chosen[0]];
}

double across(const std::vector<Vec3>& outline, const Vec3& direction) {
  double minimum = 1e9, most = -1e9;
  for (const Vec3& p : outline) minimum = std::min(minimum, p.dot(direction)), most = std::max(most, p.dot(direction));
  return most - minimum;
}

}  // namespace

TEST_CASE("A region smaller than can be worked is grown to what can") {
  Case c([](const Vec3& p) { return 3 + 1.2 * plate::bump(p, Vec3(20, 10, 0), 14); });
  REQUIRE(c.verdict.regions.size() == 1);
  REQUIRE(across(c.verdict.regions[0].outline, Vec3::UnitX()) < 60);
  c.options.min_size = 90;
  const CorrectInput in{c.sheet, c.gap, c.tolerance, c.verdict, c.laminate, c.flow, c.nominal, c.measured, c.lead};
  const Correction k = correct::surface_candidate(in, c.options, c.verdict.regions[0]);
  for (const Vec3& d : {Vec3(1, 0, 0), Vec3(0, 1, 0), Vec3(0.6, 0.8, 0)})
    CHECK(across(k.outline, d) >= 90 - 10);  // half an edge of the mesh at either side
}

TEST_CASE("The work is feathered out: the change of the gap has no step at the outline") {
  const Case c([](const Vec3& p) { return 3 + low(p); });
  const CorrectionPlan plan = c.plan();
  const Correction& k = only_chosen(plan);
  for (const auto& t : c.sheet.mesh.triangles)
    for (int j = 0; j < 3; ++j)
      CHECK(std::abs(k.gap_change[t[j]] - k.gap_change[t[(j + 1) % 3]]) < 0.25);  // slope 1.54·0.6/45 × edge 10√2: 0.29
}

TEST_CASE("Two low areas whose feathered edges run together are one work") {
  const Case c([](const Vec3& p) {
    return 3 + 0.8 * plate::bump(p, Vec3(-80, 0, 0), 30) + 0.8 * plate::bump(p, Vec3(80, 0, 0), 30);
  });
  REQUIRE(c.verdict.regions.size() == 2);
  CHECK(correct::merged_regions(c.sheet, c.verdict.regions, 25).size() == 2);
  // 160 mm from middle to middle, so their edges are less than that apart.
  const auto one = correct::merged_regions(c.sheet, c.verdict.regions, 160);
  REQUIRE(one.size() == 1);
  CHECK(one[0].name == "R1 + R2");
  CHECK(one[0].nodes.size() == c.verdict.regions[0].nodes.size() + c.verdict.regions[1].nodes.size());
  CHECK(one[0].centre.norm() == Approx(0).margin(1));
}

TEST_CASE("Merged areas lie within one outline, on the template as well") {
  const Case c([](const Vec3& p) {
    return 3 + 0.8 * plate::bump(p, Vec3(-50, 0, 0), 30) + 0.8 * plate::bump(p, Vec3(50, 0, 0), 30);
  });
  CorrectOptions o = c.options;
  o.blend = 60;
  const auto one = correct::merged_regions(c.sheet, c.verdict.regions, o.blend);
  REQUIRE(one.size() == 1);
  const CorrectInput in{c.sheet, c.gap, c.tolerance, c.verdict, c.laminate, c.flow, c.nominal, c.measured, c.lead};
  Correction k = correct::surface_candidate(in, o, one[0]);
  correct::add_details(in, o, k);
  REQUIRE(k.templates.size() == 1);
  const auto inside = [](const auto& loop, double x, double y) {
    bool in = false;
    for (std::size_t i = 1; i < loop.size(); ++i)
      if ((loop[i].y() > y) != (loop[i - 1].y() > y) &&
          x < loop[i].x() + (y - loop[i].y()) * (loop[i - 1].x() - loop[i].x()) / (loop[i - 1].y() - loop[i].y()))
        in = !in;
    return in;
  };
  for (const double x : {-50.0, 50.0}) {
    CHECK(inside(k.outline, x, 1));
    CHECK(inside(k.templates[0].outline, x - k.templates[0].origin.x(), 1 - k.templates[0].origin.y()));
  }
}

TEST_CASE("The half that the nominal surfaces show to be off is the one to work on, whatever the preference") {
  Case c([](const Vec3& p) { return 3 + low(p); });
  // The upper face is hollow: the lower stays on its nominal plane, the measured mid-point lies higher.
  for (auto& n : c.gap.nodes) n.mid.z() = n.gap / 2;
  const Mesh plane_at_0{{{-200, -200, 0}, {200, -200, 0}, {200, 200, 0}, {-200, 200, 0}}, {{0, 1, 2}, {0, 2, 3}}};
  Mesh plane_at_3 = plane_at_0;
  for (auto& p : plane_at_3.points) p.z() = 3;
  CorrectInput in{c.sheet, c.gap, c.tolerance, c.verdict, c.laminate, c.flow, c.nominal, c.measured, c.lead};
  c.options.face = "lower";
  CHECK(correct::surface_candidate(in, c.options, c.verdict.regions[0]).face == "lower");
  in.nominal_lower = &plane_at_0, in.nominal_upper = &plane_at_3;
  const Correction k = correct::surface_candidate(in, c.options, c.verdict.regions[0]);
  CHECK(k.face == "upper");
  CHECK_THAT(say(k.why), Catch::Contains("by the nominal surfaces the lower face is off by 0.00 mm"));
}

TEST_CASE("A place is given by the two nearest references whose tapes cross well, else by the edges") {
  Case c([](const Vec3& p) { return 3 + low(p); }, false);
  const CorrectionPlan by_edge = c.plan();
  const Correction& k = only_chosen(by_edge);
  REQUIRE(k.tape.size() == 2);
  // 90 − 30 and 120 − 60, squarely in over the face.
  for (const auto& t : k.tape) {
    CHECK(t.distance == Approx(60).margin(2));
    CHECK(t.way == Way::from_edge);
  }
  const std::string from[] = {say(k.tape[0].from), say(k.tape[1].from)};
  CHECK(std::min(from[0], from[1]) == "the edge of the moulding face (seal line) on its +x side");
  CHECK(std::max(from[0], from[1]) == "the edge of the moulding face (seal line) on its −y side");
  c.options.references = {{"far", Vec3(-200, 0, 0)},
                          {"near", Vec3(130, -30, 0)},
                          {"in line", Vec3(150, -31, 0)},
                          {"aside", Vec3(60, 150, 0)}};
  const CorrectionPlan by_name = c.plan();
  const Correction& n = only_chosen(by_name);
  REQUIRE(n.tape.size() == 2);
  CHECK(say(n.tape[0].from) == "near");
  CHECK(n.tape[0].distance == Approx(70).margin(2));
  CHECK(say(n.tape[1].from) == "aside");
}

TEST_CASE("Depth stops lie on the grid of tool coordinates and carry the depth that was re-computed") {
  const Case c([](const Vec3& p) { return 3 - low(p); });
  const CorrectionPlan plan = c.plan();
  const Correction& k = only_chosen(plan);
  REQUIRE(k.stops.size() > 5);
  CHECK(k.stops[0].depth == Approx(0.6).epsilon(0.15));
  for (std::size_t s = 1; s < k.stops.size(); ++s) {
    const Vec3& p = k.stops[s].at;
    CHECK(std::abs(std::remainder(p.x(), 20)) < 1e-9);
    CHECK(std::abs(std::remainder(p.y(), 20)) < 1e-9);
    CHECK(k.stops[s].depth == Approx(low(p)).margin(0.08));  // smoothed over a mesh of 10 mm
  }
  for (const auto& l : k.contours) CHECK(std::abs(std::remainder(l.depth, 0.1)) < 1e-9);
  CHECK(k.contours.size() >= 5);
}

TEST_CASE("On a plane the template is the outline itself, unstretched") {
  const Case c([](const Vec3& p) { return 3 + low(p); });
  const CorrectionPlan plan = c.plan();
  const Correction& k = only_chosen(plan);
  REQUIRE(k.templates.size() == 1);
  const Template& t = k.templates[0];
  CHECK(t.stretch < 1e-6);
  CHECK(t.along == 'x');
  REQUIRE(t.outline.size() == k.outline.size());
  const auto length = [](const auto& line) {
    double sum = 0;
    for (std::size_t i = 1; i < line.size(); ++i) sum += (line[i] - line[i - 1]).norm();
    return sum;
  };
  CHECK(length(t.outline) == Approx(length(k.outline)).epsilon(1e-6));
  // Paper x is tool x: the farthest point to the right is that of the outline.
  double right = -1e9, truth = -1e9;
  for (const auto& p : t.outline) right = std::max(right, p.x());
  for (const Vec3& p : k.outline) truth = std::max(truth, p.x() - t.origin.x());
  CHECK(right == Approx(truth).margin(1e-3));
}

// With the vent in a corner the rim feeds the middle last: by symmetry of a wide plate the last point is far from it.
TEST_CASE("A last point far from the vent makes moving the vent there a candidate, with its effect re-computed") {
  Case c([](const Vec3&) { return 3.0; });
  c.flow.vents[0].path = {Vec3(-90, -60, 0)};
  c.nominal = c.measured =
      flow::fill(c.sheet, laminate::evaluate_laminate(c.sheet, c.verdict.nominal, c.laminate), c.flow);
  c.lead = flow::compare_fillings(c.sheet, c.nominal, c.measured);
  REQUIRE(c.measured.last_to_vent > 50);
  const CorrectionPlan plan = c.plan();
  const auto found = std::find_if(plan.candidates.begin(), plan.candidates.end(), [](const Correction& k) {
    return say(k.instruction).find("mm from the vent \"middle\". Move the vent \"middle\" to x") != std::string::npos;
  });
  REQUIRE(found != plan.candidates.end());
  const Correction& k = *found;
  CHECK(k.kind == Kind::vent_move);
  // The front closes on the whole middle line at about the same time: which of its nodes is last is a matter of chance,
  // how much air is left is not (404 of 4527 mm²).
  CHECK(k.after.dry_area < 0.2 * k.before.dry_area);
  CHECK(k.after.rms_lead_s == Approx(0).margin(1e-6));  // against the nominal front with the vent in its new place
  // This one or a better place for a vent is chosen.
  REQUIRE(!plan.chosen.empty());
  CHECK(plan.after.dry_area < 0.2 * plan.now.dry_area);
}

TEST_CASE("A vent that a correction adds is looked for in the new job, by its place") {
  Correction c;
  c.kind = Kind::vent_add, c.port = "vent 2", c.port_to = {Vec3(184, -43, 0)}, c.port_radius = 8;
  FlowOptions job;
  job.vents = {{"end vent", {Vec3(186, 0, 0)}, 8, 0}};
  CHECK(correct::port_made(c, job) == Confirmed::Port::missing);
  job.vents.push_back({"another name", {Vec3(180, -50, 0)}, 8, 0});
  CHECK(correct::port_made(c, job) == Confirmed::Port::there);
  job.vents.back().radius = 3;  // drilled too small
  CHECK(correct::port_made(c, job) == Confirmed::Port::missing);
  c.kind = Kind::build_up;
  CHECK(correct::port_made(c, job) == Confirmed::Port::none);
}

TEST_CASE("A new measurement after the work tells which correction did what was predicted") {
  const Case c([](const Vec3& p) { return 3 + 0.25 - 0.125 * (p.x() / 140 + p.y() / 110) + low(p); });
  Prediction then;
  then.sheet = c.sheet, then.plan = c.plan();
  then.after = then.plan.gap_after;
  then.gap = c.gap, then.gap.registration.setZero();
  for (auto& n : then.gap.nodes) {
    then.before.push_back(n.gap);
    n.u_lower = n.u_instrument = 0.01, n.u_upper = n.u_registration = n.u_temperature = 0;
  }
  REQUIRE(then.plan.chosen.size() == 2);
  // Measured again on a mesh of half the edge, which has the old nodes among its own: the shims as ordered, and a share
  // of the filler.
  const Sheet again = plate::sheet(240, 180, 5);
  const Correction& filler = then.plan.candidates[then.plan.chosen[1]];
  REQUIRE(filler.kind == Kind::build_up);
  const auto measured = [&](double fraction) {
    plate::Noise noise{5};
    return plate::gap(again, 0.01, [&](const Vec3& p) {
      const auto column = std::lround((p.x() + 120) / 10), row = std::lround((p.y() + 90) / 10);
      const std::size_t i = row * 25 + column;
      return then.after[i] - (1 - fraction) * filler.gap_change[i] + 0.005 * noise();
    });
  };
  const auto full = correct::confirm(then, again, measured(1));
  REQUIRE(full.size() == 5);  // four stations and one region
  for (const auto& r : full) {
    CAPTURE(r.correction, r.part, r.before, r.predicted, r.achieved, r.En);
    CHECK(r.En <= 1);
    CHECK(say(r.says) == "It did what was predicted.");
  }
  const auto half = correct::confirm(then, again, measured(0.5));
  CHECK(half.back().kind == Kind::build_up);
  CHECK(half.back().En > 1);
  CHECK(say(half.back().says) == "It did less than was predicted.");
  CHECK(say(half.front().says) == "It did what was predicted.");
  CHECK(say(correct::confirm(then, again, measured(1.8)).back().says) == "It did more than was predicted.");
  CHECK(say(correct::confirm(then, again, measured(-2)).back().says) == "The gap went the other way.");
  // Shims that are only half as ordered open the gap everywhere: that is not laid to the filler, which is as ordered.
  const auto half_shims = correct::confirm(then, again, [&] {
    GapMap gap = measured(1);
    for (NodeGap& n : gap.nodes) n.gap += 0.1;
    return gap;
  }());
  CHECK(half_shims.front().En > 1);
  CHECK(half_shims.back().En <= 1);
  CHECK(half_shims.back().seat == Approx(0.1).margin(0.01));
  CHECK_THAT(say(half_shims.back().says),
             Catch::StartsWith("It did what was predicted.") && Catch::Contains("that is no part of this work"));
  // More than was ordered, and out of the limits by it, is no praise.
  const GapMap deep = measured(3);
  const Verdict verdict = conformity::judge(again, deep, c.tolerance);
  const Confirmed over = correct::confirm(then, again, deep, &verdict).back();
  CHECK(over.worst_is == Conformity::nonconforming);
  CHECK(over.worst < -c.tolerance.minus);
  CHECK_THAT(say(over.says), Catch::StartsWith("It went too far.") && Catch::Contains("outside the limits"));
  // A single place beyond a limit, in a mean that is within: both are said.
  GapMap spike = measured(1);
  const int node = nearest_node(again, filler.centre);
  spike.nodes[std::size_t(node)].gap += c.tolerance.plus + 0.1;
  const Verdict but_one = conformity::judge(again, spike, c.tolerance);
  REQUIRE(but_one.deviation[std::size_t(node)] > c.tolerance.plus);
  CHECK_THAT(say(correct::confirm(then, again, spike, &but_one).back().says),
             Catch::Contains("at its place beyond a limit; the mean gap over 25 mm about it"));
  const Sheet elsewhere = [&] {
    Sheet s = again;
    for (Vec3& p : s.mesh.points) p.x() += 1000;
    return s;
  }();
  CHECK_FALSE(correct::confirm(then, elsewhere, measured(1)).back().can_tell);
}

TEST_CASE("Where one face has changed since the baseline, that one is worked on") {
  plate::Case c([](const Vec3& p) { return 3 + plate::low(p); });
  FaceMoves moves{std::vector<double>(c.sheet.size(), 0.01), std::vector<double>(c.sheet.size(), -0.01), "2026-01-10"};
  for (std::size_t i = 0; i < c.sheet.size(); ++i) moves.upper[i] += plate::low(c.sheet.mesh.points[i]);
  CorrectInput in{c.sheet, c.gap, c.tolerance, c.verdict, c.laminate, c.flow, c.nominal, c.measured, c.lead};
  REQUIRE(c.verdict.regions.size() == 1);
  CHECK(correct::surface_candidate(in, c.options, c.verdict.regions[0]).face == "lower");
  in.moves = &moves;
  const Correction k = correct::surface_candidate(in, c.options, c.verdict.regions[0]);
  CHECK(k.face == "upper");
  CHECK(k.why.id == "corrections.worn-there-since");
  // What was there from the start is not told by what changed since.
  for (std::size_t i = 0; i < c.sheet.size(); ++i) moves.upper[i] = -0.01 + 0.2 * plate::low(c.sheet.mesh.points[i]);
  CHECK(correct::surface_candidate(in, c.options, c.verdict.regions[0]).face == "lower");
}

TEST_CASE("A place that has grown narrower since the baseline is cleaned and scanned again before anything comes off") {
  plate::Case c([](const Vec3& p) { return 3 - plate::low(p); });
  FaceMoves moves{std::vector<double>(c.sheet.size(), 0), std::vector<double>(c.sheet.size(), 0), "2026-01-10"};
  for (std::size_t i = 0; i < c.sheet.size(); ++i) moves.lower[i] = -plate::low(c.sheet.mesh.points[i]);
  CorrectInput in{c.sheet, c.gap, c.tolerance, c.verdict, c.laminate, c.flow, c.nominal, c.measured, c.lead};
  REQUIRE(c.verdict.regions.size() == 1);
  const auto told = [&] { return say(correct::surface_candidate(in, c.options, c.verdict.regions[0]).instruction); };
  CHECK_THAT(told(), !Catch::Contains("scan it again before anything is taken off"));
  in.moves = &moves;
  CHECK_THAT(told(), Catch::Contains("scan it again before anything is taken off"));
}

TEST_CASE("A half that sits otherwise is no change of a face") {
  Case c([](const Vec3& p) { return 3 + low(p); });
  FaceMoves moves{std::vector<double>(c.sheet.size(), 0), std::vector<double>(c.sheet.size(), 0), "2026-01-10"};
  for (std::size_t i = 0; i < c.sheet.size(); ++i) moves.upper[i] = 0.3 + 0.004 * c.sheet.mesh.points[i].x();
  CorrectInput in{c.sheet, c.gap, c.tolerance, c.verdict, c.laminate, c.flow, c.nominal, c.measured, c.lead};
  in.moves = &moves;
  REQUIRE(c.verdict.regions.size() == 1);
  CHECK(correct::surface_candidate(in, c.options, c.verdict.regions[0]).why.id != "corrections.worn-there-since");
}
