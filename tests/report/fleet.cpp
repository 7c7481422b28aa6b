// The page of many tools, from results and re-checks made by hand.
#include <algorithm>
#include <catch2/catch.hpp>

#include "core/sha256.hpp"
#include "fleet_reports.hpp"
#include "gapfront/error.hpp"
#include "gapfront/fleet.hpp"
#include "gapfront/history.hpp"
#include "gapfront/pages.hpp"
#include "unsaid.hpp"

using namespace gapfront;
using Catch::Contains;

namespace {

std::vector<std::string> tools_of(const Fleet& f) {
  std::vector<std::string> out;
  for (const auto& t : f.tools) out.push_back(t.tool);
  return out;
}

}  // namespace

TEST_CASE("The head of a result is what the whole of it says before its maps") {
  const Reports all;
  Inspection r = full_inspection();
  r.job.text = "# \"seal\": {[ \\\" and \"sheet\"\n";  // keys and brackets within a text
  r.job_sha256 = std::string(64, 'a');
  const std::string json = report::result_json(r);
  all.write("result.json", json);
  const Inspection whole = report::read_result(json), head = report::result_head(all.folder);
  CHECK(head.job.tool == whole.job.tool);
  CHECK(head.job.text == r.job.text);
  CHECK(head.job_sha256 == r.job_sha256);
  CHECK(head.version == whole.version);
  CHECK(head.extra_inputs.size() == whole.extra_inputs.size());
  CHECK(head.verdict.overall == whole.verdict.overall);
  CHECK(head.outcome.now.air.p == whole.outcome.now.air.p);
  CHECK(head.outcome.now.out_area == whole.outcome.now.out_area);
  CHECK(head.doubt.has_value() == whole.doubt.has_value());
  for (const std::size_t size : {std::size_t(0), std::size_t(1), std::size_t(200), json.find("\"seal\"") - 1}) {
    all.write("result.json", json.substr(0, size));
    CHECK_THROWS_WITH(report::result_head(all.folder), Contains("result.json: ") && Contains("inspect again"));
  }
}

TEST_CASE("Tools stand by what they ask for, then by the chance of trapped air") {
  const Reports all;
  all.add(all.result("good", Conformity::conforming));
  all.add(all.result("open", Conformity::undecided));
  all.add(all.result("out", Conformity::nonconforming));
  Inspection air = all.result("air", Conformity::conforming);
  air.outcome.now.air = conformity::chance_of(20, 64);
  all.add(air);
  air.job.tool = "more-air", air.outcome.now.air = conformity::chance_of(40, 64);
  all.add(air);
  Inspection few = all.result("few-air", Conformity::conforming);
  few.outcome.now.air = conformity::chance_of(3, 64);  // from 1 % to 13 %: not proven above one in twenty
  all.add(few);
  Inspection doubt = all.result("doubt", Conformity::not_judged);
  doubt.doubt = Doubt{};
  all.add(doubt);
  Inspection opens = all.result("opens", Conformity::conforming);
  opens.outcome.now.balance = 0.9;
  all.add(opens);
  Recheck r = worn();
  all.add(all.result("worn", Conformity::conforming));
  r.wear[0].left = r.wear[0].left_low = r.wear[0].left_high = 0;
  all.add("worn", r);
  all.add(all.result("due", Conformity::conforming));
  all.add("due", worn());  // next: 2026-06-13
  CHECK(tools_of(all.read("2026-06-13")) ==
        std::vector<std::string>{"worn", "opens", "doubt", "out", "more-air", "air", "due", "open", "few-air", "good"});
  const Fleet before = all.read("2026-06-12");
  const auto due =
      std::find_if(before.tools.begin(), before.tools.end(), [](const auto& t) { return t.tool == "due"; });
  REQUIRE(due != before.tools.end());
  CHECK(due->attention == Attention::none);
  CHECK(first_to_end(*due)->left_low == 1500);
}

TEST_CASE("A tool of which a re-check left a place out is due, and its row says so") {
  const Reports all;
  Recheck r = worn();
  r.wear.clear();
  all.add(all.result("T-1", Conformity::conforming));
  all.add("T-1", r);
  CHECK(all.read().tools.at(0).attention == Attention::none);
  r.not_compared = 8000, r.next_cycles = std::nan(""), r.next_date.clear();
  all.add("T-1", r);
  const Fleet f = all.read();
  CHECK(f.tools.at(0).attention == Attention::due);
  CHECK_THAT(report::fleet_html(f, all.folder), Contains("Not all compared"));
}

TEST_CASE("Every reason that holds is in a tool's row, and a date that has passed is marked") {
  const Reports all;
  Inspection air = all.result("T-1", Conformity::undecided);
  air.outcome.now.air = conformity::chance_of(40, 64);
  all.add(air);
  all.add("T-1", worn());  // next: 2026-06-13
  const auto tool = [&](const char* day) { return all.read(day).tools.at(0); };
  CHECK(tool("2026-06-12").attention == Attention::dry_spots);
  CHECK(tool("2026-06-12").also == std::vector{Attention::undecided});
  CHECK_FALSE(tool("2026-06-12").overdue);
  CHECK(tool("2026-06-20").attention == Attention::dry_spots);
  CHECK(tool("2026-06-20").also == std::vector{Attention::due, Attention::undecided});
  CHECK(tool("2026-06-20").overdue);
  const Fleet late = all.read("2026-06-20");
  CHECK_THAT(report::fleet_html(late, all.folder), Contains("overdue") && Contains("re-check due"));
  CHECK_THAT(report::fleet_csv(late, all.folder), Contains(",due undecided,yes,steady,"));
}

TEST_CASE("A re-check that could tell nothing is due, and no tool without wear") {
  const Reports all;
  Recheck r = worn();
  r.wear.clear(), r.unsure = true, r.datum = DatumState::untold;
  r.next_cycles = std::nan(""), r.next_date.clear();
  all.add(all.result("T-1", Conformity::conforming));
  all.add("T-1", r);
  const Fleet f = all.read();
  CHECK(f.tools.at(0).attention == Attention::due);
  CHECK_THAT(report::fleet_html(f, all.folder), Contains("Cannot be told"));
}

TEST_CASE("Where no re-check is to come, its cells in the table of a fleet are empty as on the page") {
  const Reports all;
  Recheck r = worn();
  r.wear[0].left = r.wear[0].left_low = r.wear[0].left_high = 0;  // at its limit: nothing is waited for
  all.add(all.result("T-1", Conformity::conforming));
  all.add("T-1", r);
  const Fleet f = all.read();
  REQUIRE(f.tools.at(0).attention == Attention::worn_out);
  CHECK_THAT(report::fleet_csv(f, all.folder), Contains(",,,2026-05-20,") && !Contains("2026-06-13"));
  const FleetTool late = all.read("2026-06-20").tools.at(0);
  CHECK_FALSE(late.overdue);
  CHECK(late.also.empty());
}

TEST_CASE("The newest inspection of a tool counts, and a re-check only until a new baseline") {
  const Reports all;
  all.add(all.result("T-1", Conformity::nonconforming, "2026-01-10"));
  all.add(all.result("T-1", Conformity::conforming, "2026-05-20"));
  Recheck r = worn();
  r.now.job_sha256 = std::string(64, 'a');
  all.add("T-1", r);
  const Fleet first = all.read();
  REQUIRE(first.tools.size() == 1);
  CHECK(first.tools[0].verdict == Conformity::conforming);
  CHECK(first.tools[0].date == "2026-05-20");
  REQUIRE(first.tools[0].recheck);
  CHECK(first.tools[0].recheck->wear.at(0).peak == Approx(0.2));

  Record now = r.then;
  now.gap.nodes.resize(4), now.arrival.assign(4, 1);
  History history(all.folder / "T-1.history", History::Access::write);
  history.begin("T-1", square(), now, 0);
  now.date = "2026-05-20", now.cycles = 4000, now.verdict = "conforming", now.job_sha256 = std::string(64, 'a');
  now.sheet = history.sheet_id();
  history.add(now);
  CHECK(all.read().tools.at(0).recheck.has_value());
  CHECK(all.read().tools.at(0).kept == 2);
  history.begin("T-1", square(), now, history.sheet_id());  // the same inspection is the new baseline
  CHECK(!all.read().tools.at(0).recheck);
  now.date = "2026-07-01", now.verdict = "nonconforming", now.job_sha256 = std::string(64, 'b');
  history.begin("T-1", square(), now, history.sheet_id());
  const FleetTool t = all.read().tools.at(0);
  CHECK(!t.recheck);
  CHECK(t.date == "2026-07-01");  // only the history knows it, and nothing of its trapped air
  CHECK(t.verdict == Conformity::nonconforming);
  CHECK(t.air.draws == 0);
}

TEST_CASE("An inspection after the last re-check makes it history: the later verdict stands, and no wear of before") {
  const Reports all;
  Recheck r = worn();
  r.then.job_sha256 = std::string(64, 'a');
  r.wear[0].left = r.wear[0].left_low = r.wear[0].left_high = 0;
  all.add("T-1", r);
  all.add(all.result("T-1", Conformity::nonconforming, "2026-05-20"));
  REQUIRE(all.read().tools.at(0).attention == Attention::worn_out);
  // Measured on the baseline of that re-check: no history is here to say so.
  Inspection later = all.result("T-1", Conformity::conforming, "2026-05-27");
  later.extra_inputs = {{Message("proof.history-baseline"), "T-1.history", sha256(r.then.job_sha256)}};
  all.add(later);
  const Fleet f = all.read();
  const FleetTool& t = f.tools.at(0);
  CHECK(t.attention == Attention::due);  // the wear was to be mended, and no re-check says that it is
  CHECK(t.inspected_since);
  CHECK(!t.recheck);
  CHECK(t.verdict == Conformity::conforming);
  CHECK_THAT(report::fleet_html(f, all.folder), Contains("inspected since, not re-checked") && !Contains("Mend the"));
  // The re-check that was planned is due all the same, and one that was asked for at once too.
  CHECK(all.read("2026-06-20").tools.at(0).attention == Attention::due);
  r.seat_first = true, r.next_cycles = std::nan(""), r.next_date.clear();
  all.add("T-1", r);
  CHECK(all.read().tools.at(0).attention == Attention::due);
}

TEST_CASE("A seat that is to be put right first is said before wear, and what has vanished asks for a look") {
  const Reports all;
  Recheck r = worn();
  r.seat_first = r.wear[0].by_seat = true, r.wear[0].seat = 0.2, r.datum = DatumState::half_moved;
  r.next_cycles = std::nan(""), r.next_date.clear();
  all.add("T-1", r);
  all.add(all.result("T-1", Conformity::nonconforming));
  Fleet f = all.read();
  CHECK(f.tools.at(0).attention == Attention::seat);
  CHECK(f.tools.at(0).also == std::vector{Attention::nonconforming});
  CHECK_THAT(report::fleet_html(f, all.folder), Contains("seat has moved") && !Contains("Mend the place"));
  r = worn();
  r.vanished = {{Vec3(1, 2, 3), 0.27, 0.01, "2026-03-10", "2026-04-10", 2000, 2400, 0}};
  all.add("T-1", r);
  all.write("T-12026-05-20/result.json", report::result_json(all.result("T-1", Conformity::conforming)));
  f = all.read();
  CHECK(f.tools.at(0).attention == Attention::vanished);
  CHECK(f.tools.at(0).recheck->vanished.at(0).was == Approx(0.27));
}

TEST_CASE("Of a course that bends the row of a fleet says the fastest pace") {
  const Reports all;
  Recheck r = worn();
  r.wear[0].bent = true, r.wear[0].enough = false, r.wear[0].left_low = 0, r.wear[0].soonest = 1440;
  r.wear[0].left = r.wear[0].left_high = std::numeric_limits<double>::infinity();
  all.add("T-1", r);
  CHECK_THAT(report::fleet_html(all.read(), all.folder), Contains("not before 1400 cycles"));
  const auto page = [&] { return report::page_files(report::recheck_json(small_job(), r), "recheck").back().second; };
  CHECK_THAT(page(), Contains("No straight line is drawn") && !Contains("weighted regression"));  // the chart's caption
  r.wear[0].bent = false;
  CHECK_THAT(page(), !Contains("No straight line is drawn") && Contains("weighted regression"));
}

TEST_CASE("What cannot be read is named, and the others stand") {
  const Reports all;
  all.add(all.result("good", Conformity::conforming));
  all.write("broken/result.json", "{\"format\": \"gapfront result\", \"for");
  all.write("old/recheck.json", "{\"format\": \"gapfront re-check\", \"format_version\": 1, \"sheet\": {}}");
  all.write("broken.history", "no database");
  const Fleet f = all.read();
  CHECK(tools_of(f) == std::vector<std::string>{"good"});
  REQUIRE(f.lost.size() == 3);
  CHECK_THAT(f.lost[0], Contains("broken/result.json"));
  CHECK_THAT(f.lost[1], Contains("broken.history"));
  CHECK_THAT(f.lost[2], Contains("format version is 1"));
  CHECK_THAT(report::fleet_html(f, all.folder), Contains("Not read") && Contains("broken.history"));
  CHECK_THROWS_AS(report::read_fleet(all.folder / "nowhere", "2026-01-01"), Error);
}

TEST_CASE("The page of a fleet loads nothing, links to the reports, and leaves nothing in English") {
  const Reports all;
  Inspection r = all.result("=A & <b> #1", Conformity::conforming);
  r.job.invented = true;
  all.write("a & #1/result.json", report::result_json(r));
  for (const Conformity c : {Conformity::undecided, Conformity::nonconforming, Conformity::not_measured}) {
    Inspection other = all.result(std::string("T-") + to_string(c), c);
    other.outcome.now.air = {};
    all.add(other);
  }
  all.add("worn", worn());
  Recheck open = worn();
  open.wear[0].enough = false;
  all.add("open", open);
  open.wear.clear(), open.next_date.clear();
  all.add("steady", open);
  all.write("broken/result.json", "{");
  Fleet f = all.read();
  const std::string page = report::fleet_html(f, all.folder);
  for (const char* word : {"http://", "https://", "url(", "@import", "<b> #1"}) CHECK_THAT(page, !Contains(word));
  CHECK_THAT(page, Contains("default-src 'none'") && Contains("=A &amp; &lt;b&gt; #1"));
  CHECK_THAT(page, Contains("href=\"a%20%26%20%231/report.html\""));
  CHECK_THAT(report::fleet_html(f, all.folder / "broken"), Contains("href=\"../a%20%26%20%231/report.html\""));
  f.voice.language = "marked", f.lost.clear();
  CHECK(unsaid(report::fleet_html(f, all.folder)) == std::vector<std::string>{});
  const std::string csv = report::fleet_csv(f, all.folder);
  CHECK(std::count(csv.begin(), csv.end(), '\n') == 8);
  CHECK_THAT(csv, Contains("\"'=A & <b> #1\"") && Contains(",2000,1500,2600,4750,2026-06-13,2026-05-20,"));
}
