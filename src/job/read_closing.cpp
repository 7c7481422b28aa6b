// [closing]: what holds the mold shut besides the vacuum in the cavity, and how stiff the upper half is.
#include "job/sections.hpp"

namespace gapfront::job {
namespace {

StiffZone read_half(Table t, bool first, std::vector<std::string>& names) {
  StiffZone z;
  z.name = t.text("name").value_or("part " + std::to_string(names.size() + 1));
  refuse_duplicate(t, z.name, names);
  const bool everywhere = !t.has("polygon") && !t.has("box") && !t.has("path") && !t.has("at");
  if (everywhere && !first) t.fail("where is it? only the first one may be everywhere; give polygon, box or path");
  if (!everywhere) z.where = read_region(t);
  z.modulus = t.need_positive("modulus", Dimension::pressure, "\"12 GPa\"");
  z.thickness = t.need_positive("thickness", Dimension::length, "\"6 mm\"");
  z.core = t.quantity("core", Dimension::length, Sign::not_negative).value_or(0);
  z.poisson = t.number("poisson", Sign::not_negative).value_or(z.poisson);
  if (!(z.poisson < 0.5)) t.fail("poisson", "must be below 0.5");
  z.bending = t.quantity("bending", Dimension::stiffness, Sign::positive).value_or(0);
  t.done();
  return z;
}

}  // namespace

void read_closing(Table t, Job& job) {
  auto& c = job.flow.closing;
  c.pressure = t.quantity("pressure", Dimension::pressure, Sign::not_negative).value_or(0);
  c.force = t.quantity("force", Dimension::force, Sign::not_negative).value_or(0);
  c.perimeter_vacuum = read_vacuum(t, "perimeter_vacuum").value_or(0);
  c.perimeter_width = t.quantity("perimeter_width", Dimension::length, Sign::positive).value_or(0);
  if (t.has("perimeter_vacuum") != t.has("perimeter_width"))
    t.fail("perimeter_vacuum and perimeter_width belong together; give both, or neither");
  c.safety = t.number("safety", Sign::positive).value_or(c.safety);
  if (!(c.safety >= 1)) t.fail("safety", "must be at least 1: what closes against what opens");
  c.wet_glass = t.number("wet_glass", Sign::positive).value_or(c.wet_glass);
  if (!(c.wet_glass <= 1)) t.fail("wet_glass", "is a share of what dry glass pushes with, 1 or below, e.g. 0.6");
  c.wet_glass_spread = t.number("wet_glass_spread", Sign::not_negative).value_or(0);
  c.unloading = t.number("unloading", Sign::positive).value_or(c.unloading);
  if (!(c.unloading >= 1 && c.unloading <= 20)) t.fail("unloading", "is a power from 1 (as it was loaded) to 20");
  c.everywhere = t.flag("everywhere").value_or(false);
  std::vector<std::string> names;
  for (auto& part : t.tables("half")) c.half.push_back(read_half(part, c.half.empty(), names));
  c.clamped_rim = t.word("rim", {"turns", "clamped"}, "turns") == "clamped";
  for (auto& part : t.tables("support")) {
    c.supports.push_back(read_region(part));
    part.done();
  }
  for (const char* key : {"rim", "support", "unloading"})
    if (t.has(key) && c.half.empty())
      t.fail(key, "is only for an upper half that gives way; add [[closing.half]] with modulus and thickness");
  t.done();
}

}  // namespace gapfront::job
