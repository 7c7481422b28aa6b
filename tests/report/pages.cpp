// The pages of a re-check and of a diagnosis, on small results made by hand.
#include <catch2/catch.hpp>
#include <cmath>
#include <limits>

#include "gapfront/error.hpp"
#include "gapfront/pages.hpp"

using namespace gapfront;
using Catch::Contains;

namespace {

Sheet square() {
  Mesh m;
  m.points = {{0, 0, 0}, {10, 0, 0}, {10, 10, 0}, {0, 10, 0}};
  m.triangles = {{0, 1, 2}, {0, 2, 3}};
  return make_sheet(m);
}

Job job() {
  Job j;
  j.name = "Small <tool>", j.tool = "T-1", j.date = "2026-05-20";
  j.flow.vents = {{"vent", {Vec3(5, 5, 0)}, 2, 0}};
  return j;
}

Recheck worn() {
  Recheck r;
  r.sheet = square();
  r.then.date = "2026-01-10", r.now.date = "2026-05-20", r.now.cycles = 4000, r.then.fill_time = r.now.fill_time = 100;
  r.drift = {0, 0.2, 0.1, std::numeric_limits<double>::quiet_NaN()};
  r.remainder = r.drift, r.U = {0.02, 0.02, 0.02, 0.02}, r.u_transform = {0, 0, 0, 0};
  r.significant = {0, 1, 0, 0};
  r.front.seconds = {0, 1, 2, 3};
  r.headline = "Worn in one place & more.";
  Wear w;
  w.name = "W1", w.face = "lower", w.area = 50, w.mean = 0.1, w.mean_U = 0.01, w.peak = 0.2, w.peak_U = 0.02;
  w.worst = Vec3(10, 0, 0), w.course = {{0, 3, 0.01}, {4000, 3.2, 0.01}};
  w.line = fit_line(w.course), w.rate = w.line.rate, w.rate_U = w.line.t * w.line.u_rate;
  w.limit = 3.3, w.enough = true, w.left = 2000, w.left_low = 1500, w.left_high = 2600;
  r.wear = {w};
  r.next_cycles = 4750, r.next_date = "2026-06-13", r.next_why = "half of the cycles that are left at the least";
  r.cancels = {"The instrument's error drops out."}, r.notes = {"Read <this>."};
  return r;
}

Inspection inspection() {
  Inspection r;
  r.job = job(), r.version = "test", r.sheet = square();
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

Diagnosis dry() {
  Diagnosis d;
  d.fillings = 12;
  SpotDiagnosis s;
  s.spot = {Vec3(5, 5, 0), 4, 9, 10};
  s.trouble = 0.8, s.model = chance_of(48, 64), s.now = s.model, s.nominal = chance_of(0, 64),
  s.predicted = s.gap_explains = true;
  s.headline = "The gap explains the dry spot.", s.discriminate = "Press clay <there>.";
  s.causes = {{CauseKind::gap_region, "R1", "the gap that is too wide", 0.04, chance_of(16, 64), 0.95, true}};
  s.cure_by = CureBy::one, s.cure = 0, s.cure_trouble = 0.04, s.cure_text = "This correction cures it.";
  s.cure_steps = {"Build up R1."};
  d.cured_below = 0.05;
  d.spots = {s};
  return d;
}

}  // namespace

TEST_CASE("The page of a re-check says verdict, rate, cycles left, next date and what drops out, from its JSON alone") {
  const std::string json = recheck_json(job(), worn()), page = page_of(json).html;
  CHECK_THAT(page, Contains("Worn in one place &amp; more."));
  CHECK_THAT(page, Contains("+0.050\u00a0mm<br>± "));  // 0.2 mm over 4,000 cycles is 0.05 per 1,000
  CHECK_THAT(page, Contains("2000 cycles (95 %: 1500 to 2600)") && Contains("2026-06-13"));
  CHECK_THAT(page, Contains("drops out") && Contains("limit 3.300 mm."));  // the chart's text alternative
  CHECK_THAT(page, Contains("Small &lt;tool&gt;") && Contains("Read &lt;this&gt;.") && !Contains("<this>"));
}

TEST_CASE("The page of a diagnosis shows the spot as seen, the causes before and after, the proof and the cure") {
  const std::string json = diagnosis_json(inspection(), dry()), page = page_of(json).html;
  CHECK_THAT(page, Contains("class=\"seen\"") && Contains("Seen in 9 of 10 parts."));
  CHECK_THAT(page, Contains("spot left, of 80 %") && Contains("<td>4 %</td><td>95 %</td><td>25 % (15 % – 37 %)</td>"));
  CHECK_THAT(page, Contains("Press clay &lt;there&gt;.") && Contains("Build up R1.") && Contains("2.5 h"));
}

TEST_CASE("Pages without a script ask the network for nothing and have a picture for every map with words for it") {
  for (const std::string& page :
       {page_of(recheck_json(job(), worn())).html, page_of(diagnosis_json(inspection(), dry())).html}) {
    for (const char* word : {"http://", "https://", "<script", "url(", "@import"}) CHECK_THAT(page, !Contains(word));
    CHECK_THAT(page, Contains("default-src 'none'"));
    std::size_t maps = 0, words = 0;
    for (std::size_t at = 0; (at = page.find("<svg ", at)) != std::string::npos; ++at) ++maps;
    for (std::size_t at = 0; (at = page.find("role=\"img\" aria-label=\"", at)) != std::string::npos; ++at) ++words;
    CHECK(maps >= 4);
    CHECK(maps == words);
  }
}

TEST_CASE("A file that is none of the three results is refused in one line with a remedy") {
  CHECK_THROWS_WITH(page_of("{"), Contains("make it again"));
  CHECK_THROWS_WITH(page_of("{\"format\":\"other\"}"), Contains("give result.json, recheck.json or diagnosis.json"));
  CHECK_THROWS_WITH(page_of("{\"format\":\"gapfront re-check\",\"format_version\":2}"), Contains("reads 1"));
  CHECK_THROWS_WITH(page_of("{\"format\":\"gapfront diagnosis\",\"format_version\":2}"), Contains("incomplete"));
}
