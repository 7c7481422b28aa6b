// History and re-check through the real program.
#include <catch2/catch.hpp>
#include <nlohmann/json.hpp>
#include <sstream>

#include "run_program.hpp"
#include "synth/synth.hpp"
#include "test_paths.hpp"

using namespace gapfront;
using namespace gapfront::test;

namespace {

const std::string scans = std::string(SOURCE_DIR) + "/scans/";

std::string slurp(const std::string& file) {
  std::ifstream in(file, std::ios::binary);
  return {std::istreambuf_iterator<char>(in), {}};
}

/// The demo job `name`, with its history in the bench's folder; on a coarser sheet, which takes a third of the time.
std::string demo_job(const Bench& bench, const std::string& name) {
  std::string text = slurp(scans + name + ".toml");
  for (const char* half : {"lower", "upper"}) {
    const std::string file = name + "-" + half + ".ply";
    text.replace(text.find(file), file.size(), scans + file);
  }
  text.replace(text.find("edge = \"6 mm\""), 13, "edge = \"10 mm\"");
  bench.write(name + ".toml", text + "\n[history]\nfile = \"DP-2.history\"\ninstrument = \"scanner 1\"\n");
  return name + ".toml";
}

std::string dated(const Bench& bench, const std::string& date, const std::string& cycles) {
  return bench.job({{"[job]\n", "[job]\ntool = \"P-1\"\ndate = \"" + date + "\"\ncycles = " + cycles + "\n"},
                    {"[laminate]", "[history]\n[laminate]"}});
}

using Jobs = std::vector<std::string>;

/// A job of plates of its own, of the k-th month, with its report in rk.
std::string monthly(const Bench& bench, int k, double height, const std::string& cycles) {
  const std::string name = std::to_string(k), upper = "upper" + name + ".xyz";
  bench.plates(1, height);
  std::filesystem::rename(bench.path("upper.xyz"), bench.path(upper));
  bench.job({{"[job]\n", "[job]\ntool = \"P-1\"\ndate = \"2026-0" + name + "-10\"\ncycles = " + cycles + "\n"},
             {"output = \"report\"", "output = \"r" + name + "\""},
             {"file = \"upper.xyz\"", "file = \"" + upper + "\""},
             {"viscosity", "ensemble = 0\nviscosity"},
             {"[laminate]", "[history]\n[laminate]"}});
  std::filesystem::rename(bench.path("job.toml"), bench.path(name + ".toml"));
  return name + ".toml";
}

/// What became of each in one call.
Jobs states_of(const Bench& bench, const Jobs& jobs, const Jobs& options = {}) {
  Jobs words{"recheck", "--json"}, out;
  words.insert(words.end(), options.begin(), options.end()), words.insert(words.end(), jobs.begin(), jobs.end());
  const auto r = bench.run(words);
  INFO(r.err);
  std::istringstream lines(r.out);
  for (std::string line; std::getline(lines, line);) out.push_back(nlohmann::json::parse(line)["state"]);
  return out;
}

/// The middle of the longest stretch without eight zeros in a row: amid the fields; an empty page holds nothing to
/// damage.
std::size_t amid_the_fields(const std::string& bytes) {
  std::size_t best = 0, at = 0;
  for (std::size_t from = 0; from < bytes.size();) {
    const std::size_t end = std::min(bytes.find(std::string(8, '\0'), from), bytes.size());
    if (end - from > best) best = end - from, at = from + best / 2;
    from = std::max(end, from) + 8;
  }
  return at;
}

}  // namespace

TEST_CASE("Inspections of a job with a history are listed, shown, exported and found sound") {
  const Bench bench;
  bench.plates();
  std::string text = bench.read(dated(bench, "2026-01-10", "0"));
  text.replace(text.find("[job]\n"), 6, "[job]\nname = \"plate number 1\"\n");
  bench.write("job.toml", text);
  const auto first = bench.inspect("job.toml");
  INFO(first.err);
  REQUIRE(first.code == 0);
  bench.plates(1, 1.0001);  // other scans
  REQUIRE(bench.inspect(dated(bench, "2026-03-10", "800")).code == 0);
  REQUIRE(bench.inspect("job.toml").code == 0);  // the same again: replaces
  const auto list = bench.run({"history", "P-1"});
  INFO(list.err);
  CHECK(list.code == 0);
  CHECK_THAT(list.out, Catch::Contains("Tool        P-1, 2 inspections") && Catch::Contains("2026-03-10"));
  CHECK_THAT(bench.run({"history", "P-1.history", "--show", "1"}).out, Catch::Contains("2026-01-10, 0 cycles") &&
                                                                           Catch::Contains("SHA-256") &&
                                                                           Catch::Contains("plate number 1\n"));
  const auto csv = bench.run({"history", "P-1", "--csv"}).out;
  CHECK(std::count(csv.begin(), csv.end(), '\n') == 3);
  CHECK_THAT(csv, Catch::StartsWith("id,baseline,date,cycles") && Catch::Contains(",2026-03-10,800,"));
  CHECK_THAT(bench.run({"history", "P-1", "--check"}).out, Catch::Contains("sound, 2 inspections"));
  const auto refused = [&](const std::vector<std::string>& arguments, const char* words) {
    const auto r = bench.run(arguments);
    CHECK(r.code == 1);
    CHECK(r.out.empty());
    CHECK_THAT(r.err, Catch::Contains(words) && Catch::StartsWith("gapfront: "));
    CHECK(std::count(r.err.begin(), r.err.end(), '\n') == 1);
  };
  refused({"history", "P-2"}, "neither P-2 nor P-2.history is in /");
  refused({"history", "P-1", "--show", "9"}, "there is no inspection 9; gapfront history FILE lists them");
  refused({"history", "P-1", "--show", "0"}, "there is no inspection 0");
  refused({"history", "P-1", "--show", "first"}, "--show");
  refused({"history", "P-1", "--csv", "--check"}, "excludes");
  refused({"history", "report"}, "is a folder");
  refused({"history", "job.toml"}, "is no history of gapfront");
  bench.write("empty", "");
  refused({"history", "empty"}, "is empty");
  // A file that another program wrote into: what a terminal would obey is not passed on.
  std::string bytes = bench.read("P-1.history");
  for (std::size_t at; (at = bytes.find("plate number")) != std::string::npos;) bytes.replace(at, 6, "plate\033");
  bench.write("forged.history", bytes);
  CHECK_THAT(bench.run({"history", "forged.history", "--show", "1"}).out, Catch::Contains("plate?number 1\n"));
  CHECK(bench.read("empty").empty());
}

TEST_CASE("A damaged history is told by the check, with exit code 1") {
  const Bench bench;
  bench.plates();
  REQUIRE(bench.inspect(dated(bench, "2026-01-10", "0")).code == 0);
  std::string bytes = bench.read("P-1.history");
  bytes[amid_the_fields(bytes)] ^= 1;
  bench.write("P-1.history", bytes);
  const auto r = bench.run({"history", "P-1", "--check"});
  CHECK(r.code == 1);
  CHECK_THAT(r.err, Catch::Contains("take the last good copy"));
}

TEST_CASE("The same scans under another date are warned of, and the entry is taken out again") {
  const Bench bench;
  bench.plates();
  REQUIRE(bench.inspect(dated(bench, "2026-01-10", "500")).code == 0);
  const auto again = bench.inspect(dated(bench, "2026-03-10", "400"));
  CHECK(again.code == 0);
  CHECK_THAT(again.out, Catch::Contains("the same two scans already, as the inspection of 2026-01-10") &&
                            Catch::Contains("the cycles fall"));
  CHECK_THAT(bench.run({"history", "P-1", "--remove", "1"}).err, Catch::Contains("is the baseline that 1 later"));
  CHECK_THAT(bench.run({"history", "P-1", "--remove", "2026-04-01"}).err, Catch::Contains("has no such inspection"));
  const auto gone = bench.run({"history", "P-1", "--remove", "2026-03-10"});
  CHECK(gone.code == 0);
  CHECK_THAT(gone.out, Catch::Contains("Removed inspection 2 of 2026-03-10 (400 cycles)"));
  CHECK_THAT(bench.run({"history", "P-1"}).out, Catch::Contains("1 inspection"));
}

TEST_CASE("A re-check against another date stands beside that since the baseline") {
  const Bench bench;
  bench.plates();
  REQUIRE(bench.run({"recheck", dated(bench, "2026-01-10", "0")}).code == 0);
  bench.plates(1, 1.0001);
  REQUIRE(bench.run({"recheck", dated(bench, "2026-02-10", "800")}).code == 0);
  bench.plates(1, 1.0002);
  const auto r = bench.run({"recheck", dated(bench, "2026-03-10", "900"), "--against", "2026-02-10", "--json"});
  INFO(r.err);
  REQUIRE(r.code == 0);
  const auto asked = nlohmann::json::parse(r.out);
  CHECK(asked["then"]["date"] == "2026-02-10");
  const auto standing = nlohmann::json::parse(bench.read("report/recheck.json"));
  CHECK(standing["then"]["date"] == "2026-01-10");
  CHECK(standing["next"]["cycles"] == asked["next"]["cycles"]);
  CHECK(nlohmann::json::parse(bench.read("report/recheck-against-2026-02-10.json"))["then"]["date"] == "2026-02-10");
}

TEST_CASE("Of many re-checks, one before which the history has changed is run again, and no other") {
  const Bench bench;
  const auto job = [&](int k, double height, const std::string& cycles) { return monthly(bench, k, height, cycles); };
  const auto a = job(1, 1, "0"), b = job(2, 1.0001, "300"), c = job(3, 1.0002, "600"), d = job(4, 1.0003, "900");
  const auto states = [&](const Jobs& jobs) { return states_of(bench, jobs); };
  using Words = Jobs;
  CHECK(states({a, b, d}) == Words{"re-checked", "re-checked", "re-checked"});
  CHECK(states({a, b, d}) == Words{"unchanged", "unchanged", "unchanged"});
  // A date between two: what comes after it counts it, what was before does not.
  CHECK(states({a, b, c, d}) == Words{"unchanged", "unchanged", "re-checked", "re-checked"});
  CHECK(states({a, b, c, d}) == Words{"unchanged", "unchanged", "unchanged", "unchanged"});
  job(2, 1.0004, "300");  // other scans under a date of before
  CHECK(states({b, a}) == Words{"re-checked", "unchanged"});
  CHECK(states({a, b, c, d}) == Words{"unchanged", "unchanged", "re-checked", "re-checked"});
}

TEST_CASE("After a new baseline its own re-check is gone, and what came later is compared with it, once") {
  const Bench bench;
  const Jobs all{monthly(bench, 1, 1, "0"), monthly(bench, 2, 1.0001, "300"), monthly(bench, 3, 1.0002, "600"),
                 monthly(bench, 4, 1.0003, "900")};
  REQUIRE(states_of(bench, all) == Jobs(4, "re-checked"));
  REQUIRE(bench.has("r3/recheck.html"));
  REQUIRE(bench.run({"recheck", "--new-baseline", "3.toml"}).code == 0);
  CHECK_FALSE(bench.has("r3/recheck.html"));
  CHECK_FALSE(bench.has("r3/recheck.json"));
  CHECK(states_of(bench, all) == Jobs{"unchanged", "unchanged", "unchanged", "re-checked"});
  CHECK(nlohmann::json::parse(bench.read("r4/recheck.json"))["then"]["date"] == "2026-03-10");
  CHECK(states_of(bench, all) == Jobs(4, "unchanged"));
}

TEST_CASE("Against a later date nothing is re-checked, and a refused job leaves the later ones finished") {
  const Bench bench;
  const Jobs all{monthly(bench, 1, 1, "0"), monthly(bench, 2, 1.0001, "300"), monthly(bench, 3, 1.0002, "600"),
                 monthly(bench, 4, 1.0003, "900")};
  const Jobs against{"--against", "2026-03-10"};
  CHECK(states_of(bench, {all[0], all[2], all[3]}) == Jobs(3, "re-checked"));
  CHECK(states_of(bench, all, against) == Jobs{"unchanged", "failed", "failed", "re-checked"});
  CHECK(states_of(bench, all, against) == Jobs{"unchanged", "failed", "failed", "unchanged"});
  const auto refused = bench.run({"recheck", "2.toml", "--against", "2026-03-10"});
  CHECK(refused.code == 1);
  CHECK_THAT(refused.err,
             Catch::Contains("--against 2026-03-10: is later than 2.toml, of 2026-02-10; re-check the later job "
                             "against 2026-02-10"));
  CHECK_FALSE(bench.has("r2/result.json"));
}

TEST_CASE("Of many re-checks, one whose comparison is of earlier scans is run again") {
  const Bench bench;
  const auto taken = [&](double height, const std::string& date, const std::string& cycles) {
    bench.plates(1, height);
    return bench.run({"recheck", dated(bench, date, cycles)}).code;
  };
  REQUIRE(taken(1, "2026-01-10", "0") == 0);
  REQUIRE(taken(1.0001, "2026-02-10", "800") == 0);
  const auto against = [&] {
    const auto r = bench.run({"recheck", "job.toml", "--at-once", "1", "--against", "2026-01-10", "--json"});
    return nlohmann::json::parse(r.out)["state"];
  };
  CHECK(against() == "re-checked");
  CHECK(against() == "unchanged");
  REQUIRE(taken(1.0002, "2026-03-10", "900") == 0);  // recheck.json is of these scans, the other file is not
  CHECK(against() == "re-checked");
}

TEST_CASE("Re-checks of an earlier run go when they are not of the report's scans any more") {
  const Bench bench;
  const auto taken = [&](double height, const std::string& date, const std::string& cycles) {
    bench.plates(1, height);
    return bench.run({"recheck", dated(bench, date, cycles), "--against", "2026-01-10"}).code;
  };
  bench.plates();
  REQUIRE(bench.run({"recheck", dated(bench, "2026-01-10", "0")}).code == 0);
  REQUIRE(taken(1.0001, "2026-02-10", "800") == 0);
  const std::string page = "report/recheck-against-2026-01-10.json";
  REQUIRE(bench.has(page));
  // The same scans again: both stay.
  REQUIRE(bench.inspect("job.toml").code == 0);
  CHECK(bench.has(page));
  CHECK(bench.has("report/recheck.html"));
  // A page that is gone is made again.
  bench.remove("report/recheck-against-2026-01-10.html");
  const auto many = [&] {
    const auto r = bench.run({"recheck", "job.toml", "--at-once", "1", "--against", "2026-01-10", "--json"});
    return nlohmann::json::parse(r.out)["state"];
  };
  CHECK(many() == "re-checked");
  CHECK(many() == "unchanged");
  // Other scans, of which nothing else was compared.
  bench.plates(1, 1.0002);
  REQUIRE(bench.run({"recheck", dated(bench, "2026-03-10", "900")}).code == 0);
  CHECK_FALSE(bench.has(page));
  CHECK_FALSE(bench.has("report/recheck-against-2026-01-10.html"));
  CHECK(bench.has("report/recheck.json"));
  // Beside a report that ends in a doubt none stays, and a file of one's own is left alone.
  bench.write("report/recheck-against-mine.json", "{}");
  std::istringstream points(bench.read("upper.xyz"));
  std::ostringstream lower;  // so that the halves run through each other
  for (double x, y, z; points >> x >> y >> z;) lower << x << " " << y << " " << z - 2.5 << "\n";
  bench.write("upper.xyz", lower.str());
  const auto doubt = bench.inspect("job.toml");
  INFO(doubt.err);
  REQUIRE(doubt.code == 2);
  CHECK_FALSE(bench.has("report/recheck.json"));
  CHECK_FALSE(bench.has("report/recheck.html"));
  CHECK(bench.has("report/recheck-against-mine.json"));
}

TEST_CASE("A history needs a day, and keeps to one tool") {
  const Bench bench;
  bench.plates();
  bench.job();
  const auto undated = bench.run({"recheck", "job.toml"});
  CHECK(undated.code == 1);
  CHECK_THAT(undated.err, Catch::Contains("a history needs the day of the scans"));
  REQUIRE(bench.inspect(dated(bench, "2026-01-10", "0")).code == 0);
  bench.job({{"[job]\n", "[job]\ntool = \"P-2\"\ndate = \"2026-01-11\"\n"},
             {"[laminate]", "[history]\nfile = \"P-1.history\"\n[laminate]"}});
  const auto other = bench.run({"recheck", "job.toml"});
  CHECK(other.code == 1);
  CHECK_THAT(other.err, Catch::Contains("is the history of tool \"P-1\""));
}

// The truth is the generator's: 0.5 mm of wear on the lower face after 3000 cycles, at (-95, -15, -45), radius 45 mm.
TEST_CASE("Re-checking the worn demo tool finds its wear in place, size, rate and face") {
  const Bench bench;
  const auto base = bench.run({"recheck", demo_job(bench, "worn-tool-1")});
  INFO(base.err);
  REQUIRE(base.code == 0);
  CHECK_THAT(base.out, Catch::Contains("This is the baseline of tool DP-2"));
  const auto third = bench.run({"recheck", demo_job(bench, "worn-tool-3"), "--json"});
  INFO(third.err << third.out);
  REQUIRE(third.code == 0);
  const auto j = nlohmann::json::parse(third.out);
  const auto truth = synth::load_truth(scans + "worn-tool-3-truth.json").mold.defects.at(0);
  CHECK(j["datum"] == "steady");
  REQUIRE(j["wear"].size() == 1);
  const auto& w = j["wear"][0];
  CHECK(w["face"] == "lower");
  Vec3 centre;
  for (int k = 0; k < 3; ++k) centre[k] = w["centre_mm"][k];
  WARN("centre off by " << (centre - truth.centre).norm() << " mm, peak " << w["peak_mm"] << " ± " << w["peak_U_mm"]
                        << ", rate " << w["rate_mm_per_cycle"] << " ± " << w["rate_U_mm_per_cycle"]);
  CHECK((centre - truth.centre).norm() < 10);  // one edge of the sheet
  // The top lies between the nodes of a 10 mm sheet; where it is, the generator's wear of radius R is (1 − r²/R²)² of
  // its greatest.
  Vec3 at;
  for (int k = 0; k < 3; ++k) at[k] = w["worst_mm"][k];
  const double fade = std::pow(1 - (at - truth.centre).squaredNorm() / (truth.radius * truth.radius), 2);
  CHECK(fade > 0.98);  // within 4.5 mm, half an edge
  CHECK(std::abs(w["peak_mm"].get<double>() - truth.gap_change) < w["peak_U_mm"].get<double>());
  // Closer than U says: over five seeds of the generator the peak scattered by 0.004 mm about 0.501 mm.
  CHECK(w["peak_mm"].get<double>() == Approx(truth.gap_change).epsilon(0.02));
  CHECK(std::abs(w["rate_mm_per_cycle"].get<double>() - truth.per_cycle) < w["rate_U_mm_per_cycle"].get<double>());
  CHECK(w["cycles_left_high"] == 0);  // 0.5 mm is beyond the tolerance of 0.3 mm
}
