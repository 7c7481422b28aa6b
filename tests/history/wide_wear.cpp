// Wear of most of a face, and what may be said when it cannot be told from a seat that moved. Two dates each, noise
// independent from node to node, truth known.
#include <catch2/catch.hpp>
#include <cmath>

#include "dated.hpp"

using namespace gapfront;
using namespace gapfront::test;

TEST_CASE("Wear of most of the lower face is told as that, not as a seat that moved") {
  for (const unsigned seed : {1u, 3u, 5u}) {
    const Recheck r = compared({dated_record({}, 0, seed), dated_record({.lower = all_but_rim(0.15)}, 1500, seed + 1)});
    CHECK(r.datum == DatumState::steady);
    CHECK_FALSE(r.unsure);
    REQUIRE(r.wear.size() == 1);
    const Wear& w = r.wear[0];
    CHECK(w.face == "lower");
    CHECK(std::abs(w.peak - 0.15) <= w.peak_U);
    CHECK(w.area > 25000);
    // 0.3 mm is allowed, and 0.15 mm took 1500 cycles.
    CHECK(w.left_low <= 1500);
    CHECK(w.left_high >= 1500);
  }
}

TEST_CASE("Wear of most of the upper face is told where a rim of both faces stood still") {
  for (const double depth : {0.05, 0.15, 0.3}) {
    const Recheck r = compared({dated_record({}, 0, 1), dated_record({.upper = all_but_rim(depth)}, 1500, 2)});
    CHECK(r.datum == DatumState::steady);
    CHECK_FALSE(r.unsure);
    REQUIRE(r.wear.size() == 1);
    CHECK(r.wear[0].face == "upper");
    CHECK(r.wear[0].area > 25000);
    CHECK(std::abs(r.wear[0].peak - depth) <= r.wear[0].peak_U);
  }
}

TEST_CASE(
    "A wide change of the upper face is not told apart from its seat where no rim says so, and no place is named") {
  const auto by_both = [](const Planted& p) { return compared({dated_record({}, 0, 1), dated_record(p, 1500, 2)}); };
  // The rim moved too; the gap closed, as by a seat that moved beside a rim that wore; the lower face made the rim.
  for (const Recheck& r : {by_both({.upper = all_but_rim(0.15), .seat = 0.05}), by_both({.upper = all_but_rim(-0.15)}),
                           by_both({.lower = all_but_rim(-0.15), .seat = 0.15})}) {
    CHECK(r.datum == DatumState::untold);
    CHECK(r.unsure);
    CHECK(r.wear.empty());
    REQUIRE(r.headline.size() == 2);
    CHECK(r.headline[1].id == "pages.untold-datum");
    CHECK(std::isnan(r.next_cycles));
    CHECK(r.next_why.id == "pages.find-out-seat-or-wear");
  }
}

TEST_CASE("A seat that moved beside a small wear is still told from it") {
  const Recheck r = compared({dated_record({}, 0, 1), dated_record({.lower = hill(0.2), .seat = 0.08}, 1500, 2)});
  CHECK(r.datum == DatumState::half_moved);
  REQUIRE(r.wear.size() == 1);
  CHECK(std::abs(r.wear[0].peak - 0.2) <= r.wear[0].peak_U);
  // The verdict judges the gap with the seat in it: 0.3 − 0.28 mm are left at 0.2 mm in 1500 cycles.
  CHECK(r.wear[0].seat == Approx(0.08).margin(0.005));
  CHECK(r.wear[0].left_low <= 150);
  CHECK(r.wear[0].left_high >= 150);
  CHECK(r.wear[0].left_high < 700);  // without the seat 750
}

TEST_CASE("A rigid motion too small to matter is no seat that moved") {
  auto records = std::vector{dated_record({}, 0, 1), dated_record({.seat = 0.004}, 1500, 2)};
  for (Record& r : records) r.gap.registration *= 1e-4;
  const Recheck r = compared(records);
  CHECK(r.rigid_p < 0.005);
  CHECK(r.datum == DatumState::steady);
}

TEST_CASE("Where the change scatters far more than U says, no place, face or cycles are named") {
  const auto waves = [](const Vec3& p) { return 0.07 * std::sin(p.x() / 15) * std::cos(p.y() / 15); };
  const Recheck r = compared({dated_record({}, 0, 1), dated_record({.lower = waves}, 1500, 2)});
  CHECK(r.inflation > 3);
  CHECK(r.unsure);
  CHECK(r.wear.empty());
  REQUIRE_FALSE(r.headline.empty());
  CHECK(r.headline[0].id == "pages.scatters-too-much");
  CHECK(std::isnan(r.next_cycles));
}

TEST_CASE("A course that bends gets no cycles left, and the next re-check goes by its fastest pace") {
  // Nothing for 3000 cycles, then 0.15 mm in 1000: 0.15 mm are left, for 1000 cycles at that pace.
  const Recheck r = compared({dated_record({}, 0, 1), dated_record({}, 1500, 2), dated_record({}, 3000, 3),
                              dated_record({.lower = hill(0.15)}, 4000, 4)});
  REQUIRE(r.wear.size() == 1);
  CHECK(r.wear[0].bent);
  CHECK(std::isnan(r.wear[0].rate));
  CHECK(std::isnan(r.wear[0].mean_rate));
  CHECK_FALSE(r.wear[0].enough);
  CHECK(std::isinf(r.wear[0].left_high));
  CHECK(r.next_cycles > 4000);
  CHECK(r.next_cycles <= 4500);
  CHECK(r.next_why.id == "pages.half-at-fastest-pace");
}

TEST_CASE("A course that bends and has come to its limit says so, without the rate of a straight line") {
  auto records = std::vector{dated_record({}, 0, 1), dated_record({}, 1500, 2), dated_record({}, 3000, 3),
                             dated_record({.lower = hill(0.45)}, 4000, 4)};
  records.back().verdict = "nonconforming";
  const Recheck r = compared(records);
  REQUIRE(r.wear.size() == 1);
  CHECK(at_limit(r.wear[0]));
  CHECK(r.wear[0].bent);
  CHECK_FALSE(r.wear[0].straight());
  CHECK(std::isnan(r.wear[0].rate));
  CHECK(r.headline.at(1).id == "pages.has-reached-limit");
  CHECK(std::isnan(r.next_cycles));  // it is mended, not re-checked as it is
  CHECK(r.next_date.empty());
  CHECK(r.next_why.id == "pages.mend-place-before-more");
}

TEST_CASE("A wear near its limit may have reached it, which is said instead of cycles from none on") {
  const Recheck r = compared({dated_record({}, 0, 1), dated_record({.lower = hill(0.145)}, 1500, 2),
                              dated_record({.lower = hill(0.29)}, 3000, 3)});
  REQUIRE(r.wear.size() == 1);
  REQUIRE(r.wear[0].enough);
  REQUIRE_FALSE(at_limit(r.wear[0]));
  REQUIRE(r.wear[0].left_low < 1);
  CHECK(r.headline.at(1).id == "pages.may-have-reached-limit");
}

TEST_CASE("The next re-check is no farther ahead than the run since the baseline") {
  const Recheck r = compared({dated_record({}, 0, 1), dated_record({}, 600, 2)});
  CHECK(r.wear.empty());
  CHECK(r.next_cycles <= 1200);
  CHECK(r.next_cycles > 600);
}

TEST_CASE("What comes next hangs on the baseline, whatever date an inspection is compared with") {
  const std::vector<Record> records{dated_record({}, 0, 1), dated_record({.lower = hill(0.1)}, 2000, 2),
                                    dated_record({.lower = hill(0.105)}, 2100, 3)};
  const Recheck since_baseline = compared(records), since_last = compared(records, 1);
  CHECK(since_last.next_cycles == since_baseline.next_cycles);
  CHECK(since_last.next_date == since_baseline.next_date);
}

TEST_CASE("A limit that one place passes and the least area does not is not called reached") {
  std::vector<Record> records{dated_record({}, 0, 1), dated_record({.lower = hill(0.33, 36)}, 1500, 2)};
  RecheckOptions o;
  o.tolerance.min_area = 8000;  // a disc of 100 mm, over which the mean is a seventh of the top
  records.back().verdict = "conforming";
  const Recheck r = history::recheck(trough(), records, 1, 0, o, trough_null());
  REQUIRE(r.wear.size() == 1);
  CHECK(r.wear[0].peak > 0.3);
  CHECK(r.wear[0].narrow);
  CHECK_FALSE((r.wear[0].enough && r.wear[0].left_high <= 0));
  records.back().verdict = "nonconforming";
  const Recheck as_judged = history::recheck(trough(), records, 1, 0, o, trough_null());
  REQUIRE(as_judged.wear.size() == 1);
  CHECK(as_judged.wear[0].left_high <= 0);
}

TEST_CASE("Limits that have changed between the dates are said, and those that were not kept too") {
  std::vector<Record> records{dated_record({}, 0, 1), dated_record({}, 1500, 2)};
  CHECK(compared(records).cancels.at(0).id == "pages.tolerance-not-kept");
  for (Record& r : records) r.limits = {3, 0.3, 0.3, "a"};
  CHECK(compared(records).cancels.at(0).id == "pages.nominal-tolerance-drop-out");
  records[1].limits = {3.2, 0.3, 0.3, "b"};
  CHECK(compared(records).cancels.at(0).id == "pages.tolerance-was-other");
  records[1].limits = {3, 0.3, 0.3, "c"};
  CHECK(compared(records).cancels.at(0).id == "pages.tolerance-elsewhere-other");
}

TEST_CASE("Scans that stand in the history already, falling cycles and dates before the baseline are named") {
  const auto ids = [](const std::vector<Record>& records, const Record& entry) {
    std::vector<std::string> out;
    for (const Message& m : history::doubts_of(records, entry)) out.push_back(m.id);
    return out;
  };
  const std::vector<Record> kept{dated_record({}, 1000, 1), dated_record({}, 2000, 2)};
  Record entry = dated_record({}, 3000, 3);
  CHECK(ids(kept, entry).empty());
  CHECK(ids({kept[0], kept[1], entry}, entry).empty());
  entry.upper_sha256 = kept[1].upper_sha256;
  CHECK(ids(kept, entry) == std::vector<std::string>{"warnings.history-one-same-scan"});
  entry.lower_sha256 = kept[1].lower_sha256;
  CHECK(ids(kept, entry) == std::vector<std::string>{"warnings.history-same-scans"});
  Record falling = dated_record({}, 3000, 4);
  falling.cycles = 1500;
  CHECK(ids(kept, falling) == std::vector<std::string>{"warnings.history-cycles-fall"});
  Record early = dated_record({}, 500, 5);
  CHECK(ids(kept, early) == std::vector<std::string>{"warnings.history-before-baseline"});
}
