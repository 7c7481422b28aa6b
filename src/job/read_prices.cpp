#include <cmath>

#include "job/sections.hpp"

namespace gapfront::job {

void read_prices(Table t, Prices& p) {
  constexpr double kGrams = 1000;  // in a kilogram
  p.currency = t.text("currency").value_or("");
  p.resin = t.number("resin_per_kg", Sign::not_negative).value_or(0) / kGrams;
  p.glass = t.number("glass_per_kg", Sign::not_negative).value_or(0) / kGrams;
  p.hour = t.number("hour", Sign::not_negative).value_or(0);
  p.scrap = t.number("bad_part", Sign::not_negative).value_or(0);
  p.parts = t.number("parts", Sign::not_negative).value_or(0);
  if (p.parts != std::floor(p.parts)) t.fail("parts", "is a whole number of parts still to be made");
  if (!p.any()) t.fail("gives no price; add resin_per_kg = 4.5, hour = 60 or bad_part = 300");
  if (p.currency.empty()) t.fail("currency", "is missing; add currency = \"EUR\"");
  t.done();
}

}  // namespace gapfront::job
