// What a certificate makes of a scan, and what a check measurement makes of a scanner.
#include "gapfront/instrument.hpp"

#include <catch2/catch.hpp>
#include <cmath>

#include "../random.hpp"
#include "files.hpp"
#include "gapfront/error.hpp"
#include "gapfront/text.hpp"

using namespace gapfront;
using Kind = CheckRow::Kind;

namespace {

/// Errors of lengths with the standard deviations `constant` and `per_metre` × L.
struct Scanner {
  double constant, per_metre;
  double error(double length, support::Random& random) const {
    return constant * random.gauss() + per_metre * length / 1000 * random.gauss();
  }
};

std::vector<CheckRow> lengths_by(const Scanner& s, int count, support::Random& random) {
  std::vector<CheckRow> out;
  for (int k = 0; k < count; ++k) {
    const double length = 100 + 900.0 * k / std::max(1, count - 1);
    out.push_back({Kind::length, length, length + s.error(length, random)});
  }
  return out;
}

bool doubts(const InstrumentCheck& c, const std::string& id) {
  for (const Message& m : c.doubts)
    if (m.id == id) return true;
  return false;
}

}  // namespace

// JCGM 100:2008, 4.3.7: u of a bound a is a/√3; a length is the difference of two places.
TEST_CASE("Two places of a scan differ by what the maximum permissible error allows their distance") {
  InstrumentModel m;
  m.constant = 0.012, m.per_metre = 0.03;
  const double size = 600;
  const ScanErrors e = scan::errors_of(m, size, 0.005);
  CHECK(std::sqrt(2.0) * e.place == Approx(0.012 / std::sqrt(3.0)));
  REQUIRE(e.fields.size() == 1);
  const double alike = std::exp(-0.5 * std::pow(size / e.fields[0].length, 2));
  const double u2 = 2 * std::pow(e.place, 2) + 2 * std::pow(e.fields[0].sigma, 2) * (1 - alike);
  CHECK(std::sqrt(u2) == Approx((0.012 + 0.03 * 0.6) / std::sqrt(3.0)));
}

TEST_CASE("A step between two passes has the u of its bound") {
  InstrumentModel m;
  m.step = 0.03, m.width = 100;
  const ScanErrors e = scan::errors_of(m, 500, 0.005);
  REQUIRE(e.fields.size() == 1);
  CHECK(std::sqrt(2.0) * e.fields[0].sigma == Approx(0.03 / std::sqrt(3.0)));
  // The overlap of two strips, 1 − d/w, and exp(−d²/2L²) have the same integral, w.
  CHECK(e.fields[0].length * std::sqrt(2 * M_PI) == Approx(100).epsilon(0.01));
}

TEST_CASE("Of the probing form error only what the points' own scatter leaves is shared by neighbours") {
  InstrumentModel m;
  m.probing = 0.02;
  CHECK(scan::errors_of(m, 500, 0.01).shared.sigma == 0);
  CHECK(scan::errors_of(m, 500, 0.003).shared.sigma == Approx(std::sqrt(0.02 * 0.02 / 12 - 0.003 * 0.003)));
  m.sigma = 0.015, m.length = 4;
  CHECK(scan::errors_of(m, 500, 0.003).shared.sigma == Approx(0.015));
  CHECK(scan::errors_of(m, 500, 0.003).shared.length == Approx(4));
}

// The next length of the same scanner, within twice the standard uncertainty that eight lengths give: 95 % if they gave
// the true one.
TEST_CASE("Eight lengths say how far off the next one may be") {
  support::Random random(71);
  int inside = 0, all = 0, bounded = 0;
  for (int k = 0; k < 120; ++k) {
    const Scanner s{std::exp(random.uniform(std::log(0.003), std::log(0.02))),
                    std::exp(random.uniform(std::log(0.003), std::log(0.04)))};
    const InstrumentCheck c = scan::evaluate_check(lengths_by(s, 8, random));
    for (int next = 0; next < 10; ++next, ++all) {
      const double length = random.uniform(100, 1000), e = std::abs(s.error(length, random));
      inside += e < 2 * std::hypot(c.u_constant, c.u_per_metre * length / 1000);
      bounded += e < c.model.constant + c.model.per_metre * length / 1000;
    }
  }
  const double share = double(inside) / all;
  WARN("eight lengths: 2 u holds for " << 100 * share << " % of " << all << " further ones, the bound for "
                                       << 100.0 * bounded / all << " %");
  CHECK(share > 0.93);
  CHECK(share < 0.985);
}

TEST_CASE("The bound takes in every error seen, of lengths and flats") {
  support::Random random(72);
  auto rows = lengths_by({0.004, 0.01}, 9, random);
  rows.push_back({Kind::length, 500, 500.09});
  rows.push_back({Kind::flat, 300, 0.2});
  const InstrumentModel m = scan::evaluate_check(rows).model;
  for (const CheckRow& r : rows) {
    const double error = r.kind == Kind::flat ? r.measured : std::abs(r.measured - r.reference);
    CHECK(error <= (m.constant + m.per_metre * r.reference / 1000) * (1 + 1e-9));
  }
}

TEST_CASE("A scale that all lengths share is seen") {
  std::vector<CheckRow> rows;
  support::Random random(73);
  for (double l = 100; l <= 1000; l += 100) rows.push_back({Kind::length, l, l * 1.00004 + 0.002 * random.gauss()});
  const InstrumentCheck c = scan::evaluate_check(rows);
  CHECK(std::abs(c.scale - 40e-6) < c.scale_U);
  CHECK(c.scale > c.scale_U);
}

TEST_CASE("What is known badly is said to be") {
  support::Random random(74);
  const Scanner s{0.005, 0.01};
  CHECK(doubts(scan::evaluate_check(lengths_by(s, 2, random)), "instrument.few-lengths"));
  CHECK(doubts(scan::evaluate_check(lengths_by(s, 5, random)), "instrument.some-lengths"));
  CHECK_FALSE(doubts(scan::evaluate_check(lengths_by(s, 8, random)), "instrument.some-lengths"));
  CHECK(doubts(scan::evaluate_check(lengths_by(s, 8, random)), "instrument.no-steps"));
  std::vector<CheckRow> alike;
  for (int k = 0; k < 9; ++k) alike.push_back({Kind::length, 500.0 + k, 500.0 + k + s.error(500, random)});
  CHECK(doubts(scan::evaluate_check(alike), "instrument.lengths-alike"));
  alike = {{Kind::sphere, 0, 0.012}, {Kind::step, 0, -0.02}};
  const InstrumentCheck few = scan::evaluate_check(alike);
  CHECK(doubts(few, "instrument.few-spheres"));
  CHECK(doubts(few, "instrument.few-steps"));
  CHECK(few.model.probing == Approx(0.012));
  CHECK(few.model.step == Approx(0.02));
}

TEST_CASE("A check measurement is read with its unit, or refused with line and remedy") {
  const auto read = [](const std::string& text, double unit = 1) {
    return scan::read_check(files::write("check.csv", text), unit);
  };
  const auto rows = read("kind;reference;measured\n# remark\nlength;0,5;0,50001  # ball bar\nsphere;;0,00001\n", 1000);
  REQUIRE(rows.size() == 2);
  CHECK(rows[0].reference == Approx(500));
  CHECK(rows[0].measured == Approx(500.01));
  CHECK(rows[1].kind == Kind::sphere);
  CHECK(rows[1].measured == Approx(0.01));
  const std::string head = "kind,reference,measured\n";
  using Catch::Contains;
  CHECK_THROWS_WITH(read("kind,measured\n"), Contains("check.csv:1") && Contains("kind,reference,measured"));
  CHECK_THROWS_WITH(read(head + "ball,1,1\n"), Contains("check.csv:2") && Contains("length, sphere, flat or step"));
  CHECK_THROWS_WITH(read(head + "length,,300\n"), Contains("reference must be a length above zero"));
  CHECK_THROWS_WITH(read(head + "length,300,0.012\n"), Contains("differ by more than a tenth"));
  CHECK_THROWS_WITH(read(head + "sphere,,abc\n"), Contains("no number"));
  CHECK_THROWS_WITH(read(head + "sphere,,-0.01\n"), Contains("below zero"));
  CHECK_THROWS_WITH(read(head), Contains("holds no measurement"));
}
