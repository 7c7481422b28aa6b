#include <catch2/catch.hpp>

#include <cmath>
#include "gapfront/text.hpp"

#include "correct/effort.hpp"
#include "plate_case.hpp"

using namespace gapfront;
using plate::Case;
using plate::low;

namespace {

double lifted(const Vec3& p) { return 0.25 - 0.125 * (p.x() / 140 + p.y() / 110); }

const Correction* find(const CorrectionPlan& p, Kind k) {
  for (const auto& c : p.candidates)
    if (c.kind == k) return &c;
  return nullptr;
}

}  // namespace

TEST_CASE("A lifted corner with a low area is cured by shims and a build-up, and the gap is re-computed") {
  const Case c([](const Vec3& p) { return 3 + lifted(p) + low(p); });
  const CorrectionPlan plan = c.plan();
  const Correction* shim = find(plan, Kind::shim);
  REQUIRE(shim);
  CHECK(shim->shims.at(0).change == Approx(-0.5));
  CHECK(shim->shims.at(1).change == Approx(-0.25));
  CHECK_THAT(say(shim->instruction),
             Catch::StartsWith("Station S1: take out 0.50 mm, from 1.00 mm to 0.50 mm (0.50 mm)"));
  const Correction* build = find(plan, Kind::build_up);
  REQUIRE(build);
  CHECK(build->peak == Approx(0.6).epsilon(0.15));
  // ∫ 0.6 (1 − r²)² = 0.6 π R²/3; mass with density 1.8 g/cm³ and a fifth of waste.
  CHECK(build->volume == Approx(0.6 * M_PI * 45 * 45 / 3).epsilon(0.15));
  CHECK(build->mass == Approx(build->volume * 1.8e-3 * 1.2));
  REQUIRE(plan.chosen.size() == 2);
  CHECK(plan.candidates[plan.chosen[0]].kind == Kind::shim);
  CHECK(plan.candidates[plan.chosen[1]].kind == Kind::build_up);
  CHECK(plan.now.nonconforming_area > 0);
  CHECK(plan.after.nonconforming_area == 0);
  CHECK(plan.after.out_of_tolerance_area == 0);
  CHECK(plan.after.rms_lead_s < 0.5 * plan.now.rms_lead_s);
  CHECK_THAT(say(plan.remains), Catch::StartsWith("Nothing"));
  for (std::size_t i = 0; i < c.sheet.size(); ++i) CHECK(std::abs(plan.gap_after[i] - 3) < 0.1);
}

TEST_CASE("In an inch job verdict and corrections are told in inches alone") {
  Case c([](const Vec3& p) { return 3 + lifted(p) + low(p); });
  const CorrectionPlan plan = c.plan();
  Messages said = c.verdict.headline;
  const auto add = [&](const Messages& more) { said.insert(said.end(), more.begin(), more.end()); };
  add(c.verdict.would_change), add(plan.remains), add(plan.left);
  for (const auto& candidate : plan.candidates) add(candidate.instruction), add({candidate.why});
  REQUIRE(said.size() > 6);
  for (const Message& m : said) {
    const std::string sentence = say(m, {UnitSystem::inch});
    CHECK_THAT(sentence, !Catch::Contains("mm"));
    CHECK_THAT(sentence, !Catch::Contains("cm"));
  }
  CHECK_THAT(say(c.verdict.headline, {UnitSystem::inch}), Catch::Contains(" in at x "));
  // 0.5 mm is 0.0197 in (1 in = 25.4 mm exactly).
  const Correction* shim = find(plan, Kind::shim);
  REQUIRE(shim);
  CHECK_THAT(say(shim->instruction, {UnitSystem::inch}),
             Catch::StartsWith("Station S1: take out 0.0197 in, from 0.0394 in to 0.0197 in (0.0197 in)"));
}

TEST_CASE("A tight place is relieved, not built up") {
  const Case c([](const Vec3& p) { return 3 - low(p); });
  const CorrectionPlan plan = c.plan();
  CHECK_FALSE(find(plan, Kind::build_up));
  const Correction* relief = find(plan, Kind::relief);
  REQUIRE(relief);
  CHECK(relief->mass == 0);
  for (double g : relief->gap_change) CHECK(g >= 0);
  CHECK(relief->after.out_of_tolerance_area < relief->before.out_of_tolerance_area);
}

TEST_CASE("A tool that must not be touched gets glass, which never adds over-packing") {
  Case c([](const Vec3& p) { return 3 + 2.5 * low(p); });
  c.options.touch_tool = false;
  const CorrectionPlan plan = c.plan();
  CHECK_FALSE(find(plan, Kind::build_up));
  const Correction* patch = find(plan, Kind::reinforcement_patch);
  REQUIRE(patch);
  CHECK(patch->after.nonconforming_area == patch->before.nonconforming_area);
  std::vector<double> now;
  for (const auto& n : c.gap.nodes) now.push_back(n.gap);
  CHECK(laminate::evaluate_laminate(c.sheet, now, plan.laminate_after).over_packed_area <=
        laminate::evaluate_laminate(c.sheet, now, c.laminate).over_packed_area);
}

TEST_CASE("A sound tool gets no correction") {
  const Case c([](const Vec3&) { return 3.0; });
  const CorrectionPlan plan = c.plan();
  CHECK(plan.candidates.empty());
  CHECK(plan.chosen.empty());
}

TEST_CASE("Without a stock the plan says that shims were left out") {
  const CorrectionPlan plan = Case([](const Vec3& p) { return 3 + lifted(p); }, false).plan();
  REQUIRE_FALSE(plan.warnings.empty());
  CHECK_THAT(say(plan.warnings[0]), Catch::Contains("no stock"));
}

TEST_CASE("Candidates are ranked by benefit per hour") {
  const Case c([](const Vec3& p) { return 3 + lifted(p) + low(p); });
  const CorrectionPlan plan = c.plan();
  for (std::size_t k = 1; k < plan.candidates.size(); ++k)
    CHECK(plan.candidates[k - 1].benefit >= plan.candidates[k].benefit);
  CHECK(plan.candidates.front().name == "C1");
}

// 0.5·(1 + 3)/10 + 2/10 + 5/50 = 0.5 by the definition in the header.
TEST_CASE("The loss is the sum of the shares it names") {
  Effect e;
  e.nonconforming_area = 1, e.out_of_tolerance_area = 3, e.dry_area = 2, e.rms_lead_s = 5;
  CHECK(correct::loss(e, {.sheet_area = 10, .nominal_fill_time = 50}) == Approx(0.5));
  CHECK(correct::effort_hours(CorrectOptions{}, Kind::shim, 2, 0) == Approx(1.0));
}

TEST_CASE("With a light half the front meets the gap under filling, the tolerance the gap as scanned") {
  Case c([](const Vec3& p) { return 3 + low(p); });
  c.flow.closing.half = {{"skin", {}, 1.2e10, 6, 0, 0.3, 0}};
  std::vector<double> now;
  for (const auto& n : c.gap.nodes) now.push_back(n.gap);
  const Breathing nominal = flow::breathe(c.sheet, c.verdict.nominal, c.laminate, c.flow);
  const Breathing measured = flow::breathe(c.sheet, now, c.laminate, c.flow, {}, nominal.filling.move);
  REQUIRE(measured.converged);
  const Filling rigid = c.measured;
  c.nominal = nominal.front, c.measured = measured.front;
  c.lead = flow::compare_fillings(c.sheet, c.nominal, c.measured);
  CorrectInput in{c.sheet, c.gap, c.tolerance, c.verdict, c.laminate, c.flow, c.nominal, c.measured, c.lead};
  in.breathing = &measured, in.nominal_breathing = &nominal;
  const CorrectionPlan plan = correct::plan_corrections(in, c.options);
  REQUIRE(plan.chosen.size() == 1);
  CHECK(plan.candidates[plan.chosen[0]].kind == Kind::build_up);
  CHECK(std::abs(rigid.fill_time / c.measured.fill_time - 1) > 0.02);
  // Out of tolerance: the bump of 0.6 mm, not what vacuum and resin do to the half.
  CHECK(plan.now.out_of_tolerance_area < 0.25 * M_PI * 90 * 90);
  CHECK(plan.after.out_of_tolerance_area == 0);
  REQUIRE(plan.breathing_after.computed);
  CHECK(plan.breathing_after.converged);
  CHECK(plan.after.fill_time == plan.breathing_after.front.fill_time);
  CHECK(plan.after_each.back().rms_lead_s == plan.after.rms_lead_s);
  // Breathing held as it was comes near to breathing computed anew: the candidate alone was verified with it.
  const Effect& held = plan.candidates[plan.chosen[0]].after;
  CHECK(plan.after.fill_time == Approx(held.fill_time).epsilon(0.02));
  CHECK(plan.after.rms_lead_s < 0.6 * plan.now.rms_lead_s);  // measured: 0.52; the work feathers out
}
