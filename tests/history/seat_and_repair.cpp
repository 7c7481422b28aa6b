// What a re-check says first: a seat that takes the gap to its limit, a change that has vanished, and the place that
// decides.
#include <algorithm>
#include <catch2/catch.hpp>
#include <cmath>

#include "dated.hpp"

using namespace gapfront;
using namespace gapfront::test;

namespace {

std::vector<std::string> said(const Recheck& r) {
  std::vector<std::string> out;
  for (const Message& m : r.headline) out.push_back(m.id);
  return out;
}
bool says(const Recheck& r, const std::string& id) {
  const auto all = said(r);
  return std::find(all.begin(), all.end(), id) != all.end();
}

/// Worn by so much at so many cycles.
std::vector<Record> worn_at(const std::vector<std::pair<double, double>>& dates) {
  std::vector<Record> out;
  for (const auto& [cycles, top] : dates)
    out.push_back(dated_record({.lower = hill(top)}, cycles, static_cast<unsigned>(out.size()) + 1));
  return out;
}

}  // namespace

TEST_CASE("Where only the seat takes the gap past its limit, the seat comes first and the wear is told by itself") {
  auto records = worn_at({{0, 0}, {700, 0.1}});
  records.push_back(dated_record({.lower = hill(0.2), .seat = 0.2}, 1400, 3));
  records.back().verdict = "nonconforming";
  const Recheck r = compared(records);
  REQUIRE(r.datum == DatumState::half_moved);
  REQUIRE(r.wear.size() == 1);
  const Wear& w = r.wear[0];
  CHECK(w.by_seat);
  CHECK_FALSE(at_limit(w));
  // 0.1 mm are left of 0.3 at 0.1 mm in 700 cycles, once the seat is right.
  CHECK(w.limit == Approx(3.3).margin(1e-6));
  CHECK(w.left_low <= 700);
  CHECK(w.left_high >= 700);
  CHECK(r.seat_first);
  CHECK(said(r) == std::vector<std::string>{"pages.worn-one-place-changed", "pages.by-seat-not-wear",
                                            "pages.put-seat-right-first"});
  CHECK(std::isnan(r.next_cycles));
  CHECK(r.next_why.id == "pages.seat-first");
}

TEST_CASE("A wear that is past its limit without the seat too is called so, and the seat still comes first") {
  auto records = worn_at({{0, 0}, {700, 0.2}});
  records.push_back(dated_record({.lower = hill(0.4), .seat = 0.1}, 1400, 3));
  records.back().verdict = "nonconforming";
  const Recheck r = compared(records);
  REQUIRE(r.wear.size() == 1);
  CHECK(at_limit(r.wear[0]));
  CHECK_FALSE(r.wear[0].by_seat);
  CHECK(says(r, "pages.has-reached-limit"));
  CHECK(says(r, "pages.put-seat-right-first"));
  CHECK(r.next_why.id == "pages.seat-first-then-mend");
}

TEST_CASE("A gap out of tolerance by the seat alone sends to the seat, not to a date") {
  std::vector<Record> records{dated_record({}, 0, 1), dated_record({.seat = 0.4}, 1500, 2)};
  records.back().verdict = "nonconforming";
  const Recheck r = compared(records);
  REQUIRE(r.datum == DatumState::half_moved);
  CHECK(r.wear.empty());
  CHECK(says(r, "pages.out-by-seat"));
  CHECK(r.next_why.id == "pages.seat-first");
}

TEST_CASE("A change that was proven and is gone is said with where and when, until a new baseline") {
  const Recheck r = compared(worn_at({{0, 0}, {600, 0.14}, {1200, 0.28}, {1500, 0}}));
  CHECK(r.wear.empty());
  REQUIRE(r.vanished.size() == 1);
  const Vanished& v = r.vanished[0];
  CHECK(std::abs(v.was - 0.28) <= v.was_U);
  CHECK((v.at - Vec3(20, 10, -1.0 / 3)).norm() < 6);  // half an edge
  CHECK(v.cycles == 1200);
  CHECK(v.gone_cycles == 1500);
  CHECK(says(r, "pages.change-vanished"));
  CHECK(says(r, "pages.vanished-find-out"));
  // At the pace of before the 0.3 mm are used up 1290 cycles from now.
  CHECK(r.next_cycles <= 1500 + 0.5 * 1290);
  CHECK(r.next_cycles > 1500 + 0.25 * 1290);
  CHECK(r.next_why.id == "pages.half-at-fastest-pace");
  const Recheck later = compared(worn_at({{0, 0}, {600, 0.14}, {1200, 0.28}, {1500, 0}, {1800, 0.07}}));
  REQUIRE(later.wear.size() == 1);
  REQUIRE(later.vanished.size() == 1);
  CHECK(later.vanished[0].gone_cycles == 1500);
  CHECK(std::abs(later.vanished[0].left - 0.07) < 0.02);
}

TEST_CASE("A change that has come back was not mended, and what chance made and took is none") {
  const Recheck back = compared(worn_at({{0, 0}, {600, 0.14}, {1200, 0.28}, {1500, 0}, {1800, 0.4}}));
  CHECK(back.vanished.empty());
  const Recheck mild = compared(worn_at({{0, 0}, {600, 0.14}, {1200, 0.28}, {1500, 0.24}}));
  CHECK(mild.vanished.empty());
  int vanished = 0;
  for (unsigned seed = 1; seed <= 20; ++seed) {
    std::vector<Record> records;
    for (unsigned k = 0; k < 5; ++k) records.push_back(dated_record({}, 500.0 * k, 100 * seed + k));
    vanished += !compared(records).vanished.empty();
  }
  CHECK(vanished == 0);
}

TEST_CASE("The place that may come to its limit first leads, its course straight or bent, and a speck does not") {
  const auto place = [](const char* name, double peak, double soonest) {
    Wear w;
    w.name = name, w.peak = peak, w.peak_U = 0.02, w.mean = peak / 2, w.mean_U = 0.01;
    w.line.dof = 9, w.line.rate = peak / 1000, w.left = w.left_high = 1e9, w.left_low = 5000, w.soonest = soonest;
    return w;
  };
  Recheck r;
  Wear bent = place("bent", 0.2, 1500);
  bent.bent = true, bent.left_low = 0;
  r.wear = {place("straight", 0.3, 4000), bent, place("speck", -0.03, 900)};
  REQUIRE(first_to_end(r));
  CHECK(first_to_end(r)->name == "bent");
  CHECK(earliest_end(*first_to_end(r)) == 1500);
  r.wear = {place("small", 0.2, 4000), place("great", 0.3, 4000)};
  CHECK(first_to_end(r)->name == "great");
  r.wear = {place("speck", -0.03, 900)};
  CHECK(first_to_end(r)->name == "speck");
}

TEST_CASE("Rows of a history have one hash whatever their order, and another when one of before changes") {
  std::vector<Record> rows = worn_at({{0, 0}, {600, 0.1}, {1200, 0.2}});
  const Record last = rows[1];
  const std::string before = history::rows_sha256(rows, last);
  std::swap(rows[0], rows[2]);
  CHECK(history::rows_sha256(rows, last) == before);
  rows[0].lower_sha256 = "another scan of later on";
  CHECK(history::rows_sha256(rows, last) == before);
  rows[2].lower_sha256 = "another scan of before";
  CHECK(history::rows_sha256(rows, last) != before);
}

TEST_CASE("A re-check of an older date counts nothing of later on, in its figures as in its hash of rows") {
  const std::vector<Record> all = worn_at({{0, 0}, {600, 0.1}, {1200, 0.2}, {1800, 0.29}});
  const auto at = [&](std::size_t rows, std::size_t now, std::size_t then) {
    const std::vector<Record> some(all.begin(), all.begin() + static_cast<std::ptrdiff_t>(rows));
    return history::recheck(trough(), some, now, then, {}, trough_null());
  };
  const Recheck known = at(3, 2, 0), again = at(4, 2, 0);
  REQUIRE(known.wear.size() == 1);
  REQUIRE(again.wear.size() == 1);
  CHECK(again.wear[0].course.size() == 3);
  CHECK(again.wear[0].rate == known.wear[0].rate);
  CHECK(again.wear[0].left == known.wear[0].left);
  CHECK(again.rows_sha256 == known.rows_sha256);
  CHECK(again.rows_sha256 == history::rows_sha256(all, all[2]));
  // Only that a later one is there is told.
  CHECK(std::isfinite(known.next_cycles));
  CHECK(std::isnan(again.next_cycles));
  CHECK(again.next_why.id == "pages.later-inspection");
  // Compared with a later date it counts until that one.
  const Recheck with_later = at(4, 1, 2);
  CHECK(with_later.rows_sha256 == known.rows_sha256);
  CHECK(at(3, 1, 2).headline.size() == with_later.headline.size());
}

TEST_CASE("The baseline counts whatever its cycles are, in the figures as in the hash of rows") {
  std::vector<Record> rows = worn_at({{900, 0}, {600, 0.1}, {1200, 0.2}});
  const Recheck early = history::recheck(trough(), rows, 1, 0, {}, trough_null());
  CHECK(early.rows_sha256 == history::rows_sha256(rows, rows[1]));
  rows[0].lower_sha256 = "another scan of the baseline";
  CHECK(early.rows_sha256 != history::rows_sha256(rows, rows[1]));
}

TEST_CASE("What comes next is taken from the re-check since the baseline that is there") {
  const std::vector<Record> all = worn_at({{0, 0}, {600, 0.1}, {1200, 0.2}});
  Recheck base = compared(all);
  const Recheck computed = compared(all, 1);
  CHECK(computed.next_cycles == base.next_cycles);
  base.next_cycles = 1234;
  CHECK(history::recheck(trough(), all, 2, 1, {}, trough_null(), &base).next_cycles == 1234);
}

TEST_CASE("A seat that moves fast brings the next re-check before it can take the gap to its limit") {
  // 0.2 of 0.3 mm in 1500 cycles: 0.1 mm is left for 750, and half of that is 375.
  const Recheck r = compared({dated_record({}, 0, 1), dated_record({.seat = 0.2}, 1500, 2)});
  REQUIRE(r.datum == DatumState::half_moved);
  CHECK(r.next_why.id == "pages.half-as-seat-moves");
  CHECK(r.next_cycles > 1500);
  CHECK(r.next_cycles <= 1500 + 375);
  // One that came later moves as fast as it moved since then.
  const Recheck late =
      compared({dated_record({}, 0, 1), dated_record({}, 1000, 2), dated_record({.seat = 0.15}, 1500, 3)});
  REQUIRE(late.datum == DatumState::half_moved);
  CHECK(late.next_cycles <= 1500 + 250);
}

TEST_CASE("A place that has grown narrower is to be cleaned before it is mended, and is not told as worn") {
  const Recheck r = compared(worn_at({{0, 0}, {700, -0.45}}));
  REQUIRE(r.wear.size() == 1);
  REQUIRE(at_limit(r.wear[0]));
  CHECK(says(r, "pages.narrower-one-place"));
  CHECK(says(r, "pages.no-wear-narrows"));
  CHECK(r.next_why.id == "pages.clean-place-before-more");
}

TEST_CASE("A front that comes later is told with where it does so by the most") {
  auto records = worn_at({{0, 0}, {700, 0}});
  CHECK(latest_front(compared(records)) == std::pair(-1, 0.0));
  records[1].arrival[7] += 20, records[1].arrival[8] += 30;
  const auto [node, seconds] = latest_front(compared(records));
  CHECK(node == 8);
  CHECK(seconds == Approx(30));
}

TEST_CASE("How far each face moved since the baseline is told per node, out of the cavity") {
  const Record first = dated_record({}, 0, 1), later = dated_record({.upper = hill(0.3)}, 700, 2);
  const FaceMoves moves = history::moves_since(trough(), later.gap, first);
  CHECK(moves.since == first.date);
  double lower = 0, upper = 0;
  for (std::size_t i = 0; i < trough().size(); ++i) {
    const double planted = hill(0.3)(trough().mesh.points[i]);
    lower = std::max(lower, std::abs(moves.lower[i])), upper = std::max(upper, std::abs(moves.upper[i] - planted));
  }
  CHECK(lower < 6 * kWideNoise);
  CHECK(upper < 6 * kWideNoise);
}

TEST_CASE("A place that has grown narrower between two dates has no rate, and its cause is asked for") {
  const Recheck r = compared(worn_at({{0, 0}, {700, -0.2}}));
  REQUIRE(r.wear.size() == 1);
  CHECK(r.wear[0].paceless());
  CHECK_FALSE(r.wear[0].straight());
  CHECK_FALSE(r.wear[0].enough);
  CHECK(said(r) == std::vector<std::string>{"pages.narrower-one-place", "pages.no-wear-narrows"});
  // What grows on comes to its limit at that pace: 0.1 mm are left at 0.2 mm in 700 cycles.
  CHECK(r.next_cycles <= 700 + 175);
}

TEST_CASE("What to do where no cycle is left for certain goes by the cause, and mending is for what has worn") {
  const std::vector<Record> same{dated_record({}, 0, 1), dated_record({}, 700, 2)};
  CHECK(compared(same, 0, 0.01).next_why.id == "pages.unseen-wear-may-reach");
  const std::vector<Record> seat{dated_record({}, 0, 1), dated_record({.seat = 0.1}, 700, 2)};
  const Recheck moved = compared(seat, 0, 0.105);
  REQUIRE(moved.datum == DatumState::half_moved);
  CHECK(moved.next_why.id == "pages.seat-first");
}
