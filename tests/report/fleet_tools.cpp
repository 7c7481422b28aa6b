// Which tool is it? Names that stand for two, seats, dates and files that mislead, from results made by hand.
#include <algorithm>
#include <catch2/catch.hpp>

#include "core/sha256.hpp"
#include "fleet_reports.hpp"
#include "gapfront/history.hpp"

using namespace gapfront;
using Catch::Contains;

namespace {

/// Scans `key` of a mold.
template <class R>
R scanned(R r, const std::string& key) {
  r.job_sha256 = sha256("job " + key), r.lower_sha256 = sha256("lower " + key), r.upper_sha256 = sha256("upper " + key);
  return r;
}

Record kept_of(const std::string& key, const std::string& date, double cycles, const char* verdict = "conforming") {
  Record r;
  r.date = date, r.cycles = cycles, r.verdict = verdict, r.name = key;
  r.gap.nodes.resize(4), r.arrival.assign(4, 1);
  return scanned(r, key);
}

void store(const std::filesystem::path& file, const std::string& tool, std::vector<Record> all) {
  std::filesystem::create_directories(file.parent_path());
  History history(file, History::Access::write);
  history.begin(tool, square(), all.at(0), 0);
  for (std::size_t i = 1; i < all.size(); ++i) all[i].sheet = history.sheet_id(), history.add(all[i]);
}

Inspection result_of(const Reports& all, const std::string& key, Conformity verdict, const std::string& date,
                     double cycles) {
  Inspection r = scanned(all.result("T-1", verdict, date), key);
  r.job.name = key, r.job.cycles = cycles;
  return r;
}

/// Measured on the sheet of the baseline of these scans.
Inspection on_baseline(Inspection r, const std::string& key) {
  const Record first = scanned(Record(), key);
  r.extra_inputs = {{Message("proof.history-baseline"), "T-1.history",
                     sha256(first.job_sha256 + first.lower_sha256 + first.upper_sha256)}};
  return r;
}

void put(const Reports& all, const Inspection& r, const std::string& folder) {
  all.write(folder + "/result.json", report::result_json(r));
}

std::vector<std::string> names_in(const Fleet& f) {
  std::vector<std::string> out;
  for (const auto& t : f.tools) out.push_back(t.name);
  std::sort(out.begin(), out.end());
  return out;
}

using Names = std::vector<std::string>;

}  // namespace

TEST_CASE("Two histories of one name that share no inspection are two tools, both shown and marked") {
  const Reports all;
  store(all.folder / "x" / "T-1.history", "T-1",
        {kept_of("x1", "2026-01-10", 0), kept_of("x2", "2026-04-10", 1000, "nonconforming")});
  store(all.folder / "y" / "T-1.history", "T-1",
        {kept_of("y1", "2026-02-10", 0), kept_of("y2", "2026-05-10", 500), kept_of("y3", "2026-05-20", 800)});
  put(all, result_of(all, "x2", Conformity::nonconforming, "2026-04-10", 1000), "reports/1");
  put(all, result_of(all, "y3", Conformity::conforming, "2026-05-20", 800), "reports/2");
  Fleet f = all.read();
  REQUIRE(names_in(f) == Names{"x2", "y3"});
  CHECK(f.tools[0].attention == Attention::nonconforming);
  CHECK(f.tools[0].also == std::vector{Attention::namesake});
  CHECK(f.tools[0].kept == 2);
  CHECK(f.tools[0].page == all.folder / "reports/1/report.html");
  CHECK(f.tools[1].attention == Attention::namesake);
  CHECK(f.tools[1].read_from == all.folder / "y" / "T-1.history");
  const std::string page = report::fleet_html(f, all.folder);
  CHECK_THAT(page, Contains("more than one of this name") && Contains((all.folder / "x" / "T-1.history").string()) &&
                       Contains((all.folder / "y" / "T-1.history").string()));
  CHECK_THAT(report::fleet_csv(f, all.folder), Contains("same-name,no,,\"x/T-1.history\"\r\n"));
  // A copy that has gone on is the same tool.
  std::filesystem::remove_all(all.folder / "y");
  store(all.folder / "copy" / "T-1.history", "T-1",
        {kept_of("x1", "2026-01-10", 0), kept_of("x2", "2026-04-10", 1000), kept_of("x3", "2026-05-25", 1200)});
  std::filesystem::remove_all(all.folder / "reports" / "2");
  f = all.read();
  REQUIRE(names_in(f) == Names{"x3"});
  CHECK(f.tools[0].kept == 3);
  CHECK_FALSE(f.tools[0].namesake);
}

TEST_CASE("Results of one name that cannot be the course of one tool are two rows, and others one") {
  const Reports all;
  put(all, result_of(all, "x", Conformity::nonconforming, "2026-05-10", 1000), "1");
  const auto with = [&](const Inspection& r) {
    put(all, r, "2");
    return names_in(all.read());
  };
  const auto second = [&](const char* date, double cycles) {
    return result_of(all, "y", Conformity::conforming, date, cycles);
  };
  CHECK(with(second("2026-05-20", 1500)) == Names{"y"});
  CHECK(with(second("2026-05-20", 0)) == Names{"y"});  // not counted, or counted anew
  CHECK(with(second("2026-05-10", 1200)) == Names{"y"});
  CHECK(with(second("2026-05-10", 1000)) == Names{"x", "y"});
  CHECK(with(second("2026-05-20", 500)) == Names{"x", "y"});
  CHECK(with(second("", 1000)) == Names{"x"});
  // The same scans with another job; one scan kept; scanned again since the first were in doubt, or after the work.
  Inspection r = second("2026-05-10", 1000);
  r.lower_sha256 = sha256("lower x");
  CHECK(with(r).size() == 1);
  r = second("2026-05-10", 1000);
  r.doubt = Doubt{};
  CHECK(with(r).size() == 1);
  r = second("2026-05-10", 1000);
  r.expects = Message("list.inspection-of", {arg::name("x"), arg::name("2026-05-10")});
  CHECK(with(r).size() == 1);
}

TEST_CASE("Re-checks whose baselines take turns are of two tools, without their histories too") {
  const Reports all;
  put(all, result_of(all, "x1", Conformity::conforming, "2026-01-10", 0), "1");
  put(all, on_baseline(result_of(all, "x2", Conformity::nonconforming, "2026-04-10", 1000), "x1"), "2");
  put(all, result_of(all, "y1", Conformity::conforming, "2026-02-10", 0), "3");
  put(all, on_baseline(result_of(all, "y2", Conformity::conforming, "2026-05-10", 1000), "y1"), "4");
  const Fleet f = all.read();
  REQUIRE(names_in(f) == Names{"x2", "y2"});
  CHECK(f.tools[0].namesake);
  // One after the other they may be of a tool that was mended.
  put(all, result_of(all, "y1", Conformity::conforming, "2026-04-20", 1000), "3");
  CHECK(names_in(all.read()) == Names{"y2"});
}

TEST_CASE("A result that each of two tools of its name may have goes to the nearer one, or stands by itself") {
  const Reports all;
  store(all.folder / "x" / "T-1.history", "T-1", {kept_of("x1", "2026-01-10", 0)});
  store(all.folder / "y" / "T-1.history", "T-1", {kept_of("y1", "2026-02-10", 0)});
  put(all, result_of(all, "more", Conformity::undecided, "2026-05-20", 1000), "x/reports/2");
  CHECK(names_in(all.read()) == Names{"more", "y1"});
  std::filesystem::remove_all(all.folder / "x" / "reports");
  put(all, result_of(all, "more", Conformity::undecided, "2026-05-20", 1000), "reports/2");
  CHECK(names_in(all.read()) == Names{"more", "x1", "y1"});
}

TEST_CASE("A seat that has moved is a reason where no limit is reached too, and so is a target") {
  const Reports all;
  Recheck r = worn();
  r.wear.clear(), r.datum = DatumState::half_moved;
  all.add("T-1", r);
  all.add(all.result("T-1", Conformity::nonconforming));
  FleetTool t = all.read().tools.at(0);
  CHECK(t.attention == Attention::seat);
  CHECK(t.also == std::vector{Attention::nonconforming});
  CHECK_THAT(report::fleet_csv(all.read(), all.folder),
             Contains("1,seat,") && Contains(",nonconforming,no,half moved,"));
  r.datum = DatumState::target_moved;
  all.add("T-1", r);
  t = all.read().tools.at(0);
  CHECK(t.attention == Attention::nonconforming);
  CHECK(t.also == std::vector{Attention::target});
  CHECK_THAT(report::fleet_html(all.read(), all.folder), Contains("target has moved"));
  // At its limit, but not by the seat: the wear first, the seat as well.
  r = worn();
  r.datum = DatumState::half_moved, r.wear[0].left = r.wear[0].left_low = r.wear[0].left_high = 0;
  all.add("T-1", r);
  CHECK(all.read().tools.at(0).attention == Attention::worn_out);
  CHECK(all.read().tools[0].also == std::vector{Attention::seat, Attention::nonconforming});
}

TEST_CASE("Without the history a re-check from before the newest inspection does not say when the next is due") {
  const Reports all;
  Recheck r = worn();  // of 2026-05-20, next: 2026-06-13
  r.then = scanned(r.then, "first"), r.now = scanned(r.now, "second");
  all.add("T-1", r);
  const auto with = [&](const Inspection& third) {
    put(all, third, "third");
    return all.read("2026-06-20").tools.at(0);
  };
  const Inspection third = result_of(all, "third", Conformity::conforming, "2026-05-25", 4000);
  const FleetTool mended = with(third);  // a new baseline, as it may be
  CHECK(mended.inspected_since);
  CHECK_FALSE(mended.overdue);
  CHECK(mended.attention == Attention::none);
  CHECK_THAT(report::fleet_html(all.read("2026-06-20"), all.folder),
             Contains("inspected since, not re-checked") && Contains("Its history is not here"));
  CHECK(with(on_baseline(third, "first")).overdue);
  CHECK_FALSE(with(on_baseline(third, "other")).overdue);
  // With the history it is known.
  store(all.folder / "T-1.history", "T-1", {kept_of("first", "2026-01-10", 0), kept_of("second", "2026-05-20", 4000)});
  CHECK(with(third).overdue);
  CHECK_THAT(report::fleet_html(all.read("2026-06-20"), all.folder), !Contains("Its history is not here"));
}

TEST_CASE("An inspection dated in the future is said with its date, and no next date comes of it") {
  const Reports all;
  all.add(all.result("T-1", Conformity::conforming));  // 2026-05-20
  all.add("T-1", worn());
  CHECK(all.read("2026-05-20").tools.at(0).attention == Attention::none);
  const Fleet f = all.read("2026-05-19");
  CHECK(f.tools.at(0).attention == Attention::future);
  CHECK(f.tools[0].future == "2026-05-20");
  CHECK_THAT(report::fleet_html(f, all.folder),
             Contains("dated in the future") && Contains("2026-05-20") && !Contains("2026-06-13"));
  CHECK_THAT(report::fleet_csv(f, all.folder), Contains("1,future,") && !Contains("2026-06-13"));
  // It need not be the one that is shown.
  store(all.folder / "T-1.history", "T-1", {kept_of("first", "2027-01-10", 0)});
  CHECK(all.read("2026-06-01").tools.at(0).future == "2027-01-10");
}

TEST_CASE("A tool one of whose files could not be read says so in its row, and the page at its head") {
  const Reports all;
  all.add(all.result("T-1", Conformity::conforming));
  all.add(all.result("T-2", Conformity::conforming));
  all.write("histories/T-1.history", "no database");
  Fleet f = all.read();
  REQUIRE(f.tools.size() == 2);
  CHECK(f.tools[0].tool == "T-1");
  CHECK(f.tools[0].attention == Attention::unread);
  CHECK(f.tools[1].attention == Attention::none);
  const std::string page = report::fleet_html(f, all.folder), path = (all.folder / "histories/T-1.history").string();
  CHECK(page.find("1 file could not be read") < page.find("<table"));
  CHECK(page.find(path) < page.find("</table>"));
  // By its folder; and what nothing tells, at the head alone.
  all.write("T-22026-05-20/recheck.json", "{");
  all.write("histories/T-3.history", "no database");
  f = all.read();
  CHECK(f.tools.at(1).unread == std::vector{all.folder / "T-22026-05-20" / "recheck.json"});
  CHECK(f.tools.at(0).unread.size() == 1);
  CHECK_THAT(report::fleet_html(f, all.folder), Contains("3 files could not be read"));
}

TEST_CASE("A place that has grown narrower up to its limit is to be cleaned, not mended") {
  FleetTool tool;
  tool.recheck.emplace();
  Wear w;
  w.enough = true, w.peak = -0.4;
  tool.recheck->wear = {w};
  CHECK(report::work_for(tool, Attention::worn_out).id == "fleet.do-clean");
  w.peak = 0.4;
  tool.recheck->wear.push_back(w);
  CHECK(report::work_for(tool, Attention::worn_out).id == "fleet.do-worn-out");
}
