// What work, bad parts, resin and glass cost.
#include "job/sections.hpp"

namespace gapfront::job {
namespace {

constexpr double kGrams = 1000;  // in a kilogram
constexpr int kMostParts = 1000000;

}  // namespace

void read_prices(Table t, Prices& p) {
  const auto number = [&](const char* key, double& value, double per) {
    if (const auto v = t.number(key, Sign::positive)) value = *v / per;
  };
  p.currency = t.text("currency").value_or("");
  number("hour", p.hour, 1), number("bad_part", p.bad_part, 1);
  number("resin_per_kg", p.resin, kGrams), number("glass_per_kg", p.glass, kGrams);
  if (const auto n = t.number("parts")) {
    if (*n != static_cast<int>(*n) || *n < 1 || *n > kMostParts)
      t.fail("parts", "must be a whole number from 1 to 1000000: the parts that the run still makes");
    p.parts = static_cast<int>(*n);
  }
  t.done();  // a mistyped key first: what it should have given is missing then
  if (p.currency.empty()) t.fail("currency", "is missing; say which money it is, currency = \"EUR\"");
  if (!p.material() && !(p.hour > 0) && !(p.bad_part > 0))
    t.fail("currency", "without a price; add hour = 60 and bad_part = 400, or resin_per_kg = 5");
  const bool some = p.hour > 0 || p.bad_part > 0;
  if (some && !p.decide())
    t.fail(!(p.hour > 0)       ? "hour"
           : !(p.bad_part > 0) ? "bad_part"
                               : "parts",
           "is missing: corrections are chosen by cost with hour, bad_part and parts together; add it, or leave the "
           "others out");
}

}  // namespace gapfront::job
