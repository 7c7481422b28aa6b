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
  REQUIRE(all.size() == 4);
  CHECK(all[0].id == "gap.lower-limit");
  CHECK(all[0].measured == 3.0);
  CHECK(all[0].decision == Conformity::conforming);
  CHECK(all[1].id == "gap.upper-limit");
  CHECK(all[1].measured == 3.2);
  CHECK(all[1].decision == Conformity::undecided);
  CHECK(all[1].at == Vec3(10, 10, 0));
  CHECK(all[3].id == "deviation.R1");
  CHECK(all[3].what == "gap minus nominal, mean over the region R1");
  CHECK(report::characteristics_csv(r).find("\"gap.upper-limit\",\"mean gap about the place nearest to its upper "
                                            "limit, or farthest above\",10.00,10.00,0.00,3.0000,"
                                            ",3.3000,3.2000,0.0400,2.00,\"undecided\",\"ISO 14253-1\"\r\n") !=
        std::string::npos);
  const auto j = nlohmann::json::parse(report::characteristics_json(r));
  CHECK(j["coverage_factor"] == 2);
  CHECK(j["characteristics"][3]["measured_mm"] == 0.25);
  CHECK(j["characteristics"][3]["upper_limit_mm"].is_null());
  // With a rigid part, regions are cut from the remainder; the list says so.
  r.verdict.rigid_significant = true;
  CHECK(report::characteristics(r)[3].what.find("less the best rigid move") != std::string::npos);
}

TEST_CASE("In doubt the list judges nothing and sums up nothing") {
  Inspection r = small_inspection();
  r.doubt = Doubt{};
  r.verdict.node.assign(4, Conformity::not_judged);
  r.verdict.at_low.found = true;
  CHECK(report::characteristics(r).empty());
}
