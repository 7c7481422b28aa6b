#include "core/nearest_word.hpp"
#include "job/sections.hpp"

namespace gapfront::job {
namespace {

/// "metric", "inch", or a list of thicknesses.
std::vector<double> read_stock(Table& t, UnitSystem units) {
  if (!t.has("stock")) return correct::stock_set(units == UnitSystem::inch ? "inch" : "metric");
  if (t.is_text("stock")) {
    const std::string name = *t.text("stock");
    if (name != "metric" && name != "inch")
      t.fail("stock", "must be \"metric\", \"inch\", or a list such as [\"0.1 mm\", \"0.5 mm\"]; [] means no shims (" +
                          suggestion(name, {"metric", "inch"}) + ")");
    return correct::stock_set(name);
  }
  return t.quantities("stock", Dimension::length, Sign::positive);
}

Kind read_kind(Table& t) {
  const std::string name = t.need("kind", t.text("kind"), "\"build-up\"");
  std::vector<std::string> known;
  for (int k = 0; k < kKinds; ++k) {
    const Kind kind = static_cast<Kind>(k);
    if (name == to_string(kind)) return kind;
    known.push_back(to_string(kind));
  }
  t.refuse_word("kind", name, known);
}

/// Own rows take the place of the built-in ones of the same kind; what a row does not say stays as it was.
void read_effort(Table& t, std::vector<Effort>& table) {
  for (auto& row : t.tables("effort")) {
    const Kind kind = read_kind(row);
    for (auto& e : table) {
      if (e.kind != kind) continue;
      const auto hours = [&](const char* key, double& value) {
        if (const auto s = row.quantity(key, Dimension::time, Sign::not_negative)) value = *s / 3600;
      };
      hours("fixed", e.fixed), hours("each", e.each), hours("per_cm2", e.per_cm2), hours("per_part", e.per_part);
      if (!(e.fixed > 0)) row.fail("fixed", "must be greater than zero: corrections are ranked by benefit per hour");
      if (const auto text = row.text("what")) e.what = Message("list.plain", {arg::name(*text)});
    }
    row.done();
  }
}

}  // namespace

void read_correct(Table t, Job& job) {
  auto& c = job.correct;
  const auto length = [&](const char* key, double& value, Sign sign = Sign::positive) {
    value = t.quantity(key, Dimension::length, sign).value_or(value);
  };
  const auto whole = [&](const char* key, int& value, int minimum, int most) {
    const auto n = t.number(key);
    if (!n) return;
    if (*n != static_cast<int>(*n) || *n < minimum || *n > most)
      t.fail(key, "must be a whole number from " + std::to_string(minimum) + " to " + std::to_string(most));
    value = static_cast<int>(*n);
  };
  c.stock = read_stock(t, job.units);
  whole("max_pieces", c.max_pieces, 1, 20);
  length("max_stack", c.max_stack);
  length("relieve_flange", c.relieve_flange, Sign::not_negative);
  whole("propose", c.propose, 0, 24);
  length("flange_margin", c.flange_margin, Sign::not_negative);
  length("present", c.present, Sign::not_negative);
  c.face = t.text("face").value_or("");
  if (!c.face.empty()) t.word("face", {"lower", "upper"}, "");
  c.touch_tool = t.flag("touch_tool").value_or(c.touch_tool);
  length("min_size", c.min_size);
  length("blend", c.blend, Sign::not_negative);
  length("contour_step", c.contour_step);
  length("stop_spacing", c.stop_spacing);
  if (job.units == UnitSystem::inch) c.shop_step = 0.0508;  // 2 thou
  length("shop_step", c.shop_step);
  length("workmanship", c.workmanship.hand, Sign::not_negative);
  length("shim_workmanship", c.workmanship.shim, Sign::not_negative);
  c.workmanship.reach = c.stop_spacing;
  c.filler_density = t.quantity("filler_density", Dimension::density, Sign::positive).value_or(c.filler_density);
  c.waste = t.number("waste", Sign::positive).value_or(c.waste);
  if (c.waste < 1) t.fail("waste", "is a factor on the filler that stays, so at least 1; 1.2 is a fifth more");
  c.letter = t.word("paper", {"A4", "letter"}, job.units == UnitSystem::inch ? "letter" : "A4") == "letter";
  read_effort(t, c.effort);
  if (const auto vacuum = read_vacuum(t, "deepest_vacuum"))
    c.least_cavity_pressure = std::max(100.0, atmosphere_pa - *vacuum);
  c.warm_viscosity = t.quantity("warm_viscosity", Dimension::viscosity, Sign::positive).value_or(0);
  c.warm_gel_time = t.quantity("warm_gel_time", Dimension::time, Sign::positive).value_or(0);
  if ((c.warm_viscosity > 0) != (c.warm_gel_time > 0))
    t.fail("warm_viscosity", "and warm_gel_time go together: warm resin runs more easily and gels sooner; give both");

  std::vector<std::string> names;
  for (auto& s : t.tables("station")) {
    Station station;
    station.name = s.need("name", s.text("name"), "\"S1\"");
    refuse_duplicate(s, station.name, names);
    station.at = s.need("at", s.point("at"), "\"-230, -180, 0 mm\"");
    station.present = s.quantity("present", Dimension::length, Sign::not_negative).value_or(c.present);
    s.done();
    c.stations.push_back(std::move(station));
  }
  names.clear();
  for (auto& r : t.tables("reference")) {
    Reference reference;
    reference.name = r.need("name", r.text("name"), "\"dowel 1\"");
    refuse_duplicate(r, reference.name, names);
    reference.at = r.need("at", r.point("at"), "\"-230, 0, 0 mm\"");
    r.done();
    c.references.push_back(std::move(reference));
  }
  t.done();
}

}  // namespace gapfront::job
