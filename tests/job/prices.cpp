// Prices, and settings that may be changed.
#include "job_text.hpp"

using namespace gapfront;
using namespace gapfront::test;

TEST_CASE("Prices are read in one currency, per gram inside, and choose by cost only where all of that is given") {
  const std::string all = minimum +
                          "[prices]\ncurrency = \"EUR\"\nhour = 60\nbad_part = 400\nparts = 200\n"
                          "resin_per_kg = 5\nglass_per_kg = 4\n";
  const Prices p = read(all).correct.prices;
  CHECK(p.currency == "EUR");
  CHECK(p.hour == 60);
  CHECK(p.bad_part == 400);
  CHECK(p.parts == 200);
  CHECK(p.resin == Approx(0.005));
  CHECK(p.glass == Approx(0.004));
  CHECK(p.decide());
  CHECK_FALSE(read(minimum).correct.prices.decide());
  const Prices material = read(minimum + "[prices]\ncurrency = \"EUR\"\nresin_per_kg = 5\n").correct.prices;
  CHECK(material.material());
  CHECK_FALSE(material.decide());
  const auto prices = [&](const std::string& keys) { return complaint(minimum + "[prices]\n" + keys); };
  CHECK_THAT(prices("hour = 60\n"), Catch::Contains("which money"));
  CHECK_THAT(prices("currency = \"EUR\"\n"), Catch::Contains("without a price"));
  CHECK_THAT(prices("currency = \"EUR\"\nhour = 60\nbad_part = 400\n"), Catch::Contains("parts"));
  CHECK_THAT(prices("currency = \"EUR\"\nhour = 60\nbad_part = 400\nparts = 2.5\n"), Catch::Contains("whole number"));
  CHECK_THAT(prices("currency = \"EUR\"\nhour = -60\n"), Catch::Contains("hour"));
}

TEST_CASE("What the settings of a process may be changed to is read, warm resin with its gel time") {
  const Job job = read(minimum +
                       "[correct]\ndeepest_vacuum = \"80 % of atmosphere\"\nwarm_viscosity = \"0.15 Pa.s\"\n"
                       "warm_gel_time = \"12 min\"\n");
  CHECK(job.correct.least_cavity_pressure == Approx(0.2 * atmosphere_pa));
  CHECK(job.correct.warm_viscosity == Approx(0.15));
  CHECK(job.correct.warm_gel_time == Approx(720));
  CHECK_THAT(complaint(minimum + "[correct]\nwarm_viscosity = \"0.15 Pa.s\"\n"), Catch::Contains("go together"));
}
