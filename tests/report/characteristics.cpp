#include "gapfront/characteristics.hpp"

#include <catch2/catch.hpp>
#include <nlohmann/json.hpp>

#include "small.hpp"

TEST_CASE("The list of characteristics names the gaps that decide, with their limits, U and decision") {
  Inspection r = small_inspection();
  r.verdict.at_low = {true, {0, 0, 0}, 3, 2.7, 3.0, 0.03, Conformity::conforming};
  r.verdict.at_high = {true, {10, 10, 0}, 3, 3.3, 3.2, 0.04, Conformity::undecided};
  r.verdict.mean = 0.08, r.verdict.mean_budget.U = 0.03;
  DeviationRegion region;
  region.name = "R1", region.centre = {1, 2, 3}, region.mean = 0.25, region.mean_U = 0.02;
  r.verdict.regions = {region};
  const auto all = report::characteristics(r);
  REQUIRE(all.size() == 5);
  CHECK(all[0].id == "gap");
  CHECK(all[0].decision == Conformity::undecided);
  CHECK(all[1].id == "gap.lower-limit");
  CHECK(all[1].measured == 3.0);
  CHECK(all[1].decision == Conformity::conforming);
  CHECK(all[2].id == "gap.upper-limit");
  CHECK(all[2].measured == 3.2);
  CHECK(all[2].decision == Conformity::undecided);
  CHECK(all[2].at == Vec3(10, 10, 0));
  CHECK(all[2].area == Approx(491).margin(0.5));  // a disc of 25 mm
  CHECK(all[4].id == "deviation.R1");
  CHECK(all[4].what == "gap minus nominal, mean over the region R1");
  CHECK(report::characteristics_csv(r).find("\"gap.upper-limit\",\"mean gap about the place nearest to its upper "
                                            "limit, or farthest above\",10.00,10.00,0.00,3.0000,"
                                            ",3.3000,3.2000,0.0400,2.00,\"undecided\",\"ISO 14253-1\",491,no\r\n") !=
        std::string::npos);
  const auto j = nlohmann::json::parse(report::characteristics_json(r));
  CHECK(j["coverage_factor"] == 2);
  CHECK(j["characteristics"][4]["measured_mm"] == 0.25);
  CHECK(j["characteristics"][4]["upper_limit_mm"].is_null());
  // With a rigid part, regions are cut from the remainder; the list says so.
  r.verdict.rigid_significant = true;
  CHECK(report::characteristics(r)[4].what.find("less the best rigid move") != std::string::npos);
}

TEST_CASE("The list of characteristics names what is not measured, and its decision on the whole is not conforming") {
  Inspection r = small_inspection();
  r.verdict.at_low = {true, {0, 0, 0}, 3, 2.7, 3.0, 0.03, Conformity::conforming};
  r.verdict.at_high = {};
  r.verdict.overall = Conformity::undecided, r.verdict.covered = false;
  r.gap.unmeasured_area = 8100;
  r.verdict.unseen = {{{1, 2, 3}, 8000, Missing::upper, {}}, {{4, 5, 6}, 100, Missing::lower, {}}};
  const auto all = report::characteristics(r);
  REQUIRE(all.size() == 6);
  CHECK(all[0].decision == Conformity::undecided);
  CHECK(all[2].id == "not-measured");
  CHECK(all[2].area == 8100);
  CHECK(all[2].decision == Conformity::not_measured);
  CHECK(all[3].id == "not-measured.1");
  CHECK(all[3].at == Vec3(1, 2, 3));
  CHECK(all[3].area == 8000);
  CHECK(all[4].area == 100);
  // Too little to decide: the total is enough.
  r.verdict.covered = true;
  CHECK(report::characteristics(r).size() == 4);
}

TEST_CASE("Limits that nobody has confirmed are a guess in every row of the list") {
  Inspection r = small_inspection();
  r.job.unconfirmed.push_back({"cavity.nominal"});
  const std::string csv = report::characteristics_csv(r);
  CHECK(csv.find(",no\r\n") == std::string::npos);
  CHECK(csv.find(",yes\r\n") != std::string::npos);
  CHECK(nlohmann::json::parse(report::characteristics_json(r))["limits_are_a_guess"] == true);
}

TEST_CASE("A zone has a row with its own decision") {
  Inspection r = small_inspection();
  ZoneVerdict rib;
  rib.name = "rib", rib.area = 50, rib.overall = Conformity::nonconforming;
  r.verdict.zones = {rib};
  const auto all = report::characteristics(r);
  REQUIRE(all.size() > 1);
  CHECK(all[1].id == "gap.zone.rib");
  CHECK(all[1].decision == Conformity::nonconforming);
  CHECK(all[1].area == 50);
}

TEST_CASE("In doubt the list judges nothing and sums up nothing") {
  Inspection r = small_inspection();
  r.doubt = Doubt{};
  r.verdict.node.assign(4, Conformity::not_judged);
  r.verdict.at_low.found = true;
  CHECK(report::characteristics(r).empty());
}
