#include <algorithm>
#include <cmath>
#include <numbers>

#include "core/nearest_word.hpp"
#include "gapfront/error.hpp"
#include "gapfront/kit.hpp"
#include "job/sections.hpp"

namespace gapfront::job {
namespace {

constexpr double kMostPlies = 1000;  // of one kind: half a metre of glass

/// A relative standard uncertainty. Beyond 100 % a factor would have to say it.
double read_spread(Table& t, const std::string& key, double otherwise) {
  const double spread = t.quantity(key, Dimension::fraction, Sign::not_negative).value_or(otherwise);
  if (spread > 1) t.fail(key, "is a relative standard deviation, at most 100 %");
  return spread;
}

PermeabilityLaw read_permeability(Table t) {
  PermeabilityLaw law;
  const std::string name = t.text("law").value_or("power");
  if (name == "power")
    law.kind = PermeabilityLaw::Kind::power;
  else if (name == "exponential")
    law.kind = PermeabilityLaw::Kind::exponential;
  else if (name == "kozeny-carman")
    law.kind = PermeabilityLaw::Kind::kozeny_carman;
  else if (name == "table")
    law.kind = PermeabilityLaw::Kind::table;
  else
    t.refuse_word("law", name, {"power", "exponential", "kozeny-carman", "table"});
  const auto a = t.quantity("a", Dimension::permeability, Sign::positive);
  const auto b = t.number("b", Sign::not_negative);
  law.table = t.pairs("table", Dimension::fraction, Dimension::permeability);
  if (law.kind == PermeabilityLaw::Kind::table) {
    if (law.table.empty()) t.fail("\"table\" is missing; add table = [[\"0.1\", \"3e-9 m2\"], [\"0.2\", \"1e-9 m2\"]]");
  } else {
    law.a = t.need("a", a, "\"1e-10 m2\"");
    if (law.kind != PermeabilityLaw::Kind::kozeny_carman) law.b = t.need("b", b, "2.5");
  }
  law.ratio = t.number("ratio", Sign::positive).value_or(1);
  law.spread = read_spread(t, "spread", 0);
  t.done();
  return law;
}

CompactionLaw read_compaction(Table t) {
  CompactionLaw law;
  const std::string name = t.text("law").value_or("power");
  if (name == "power")
    law.kind = CompactionLaw::Kind::power;
  else if (name == "table")
    law.kind = CompactionLaw::Kind::table;
  else
    t.refuse_word("law", name, {"power", "table"});
  const auto a = t.number("a", Sign::positive);
  const auto b = t.number("b", Sign::positive);
  law.table = t.pairs("table", Dimension::fraction, Dimension::pressure);
  if (law.kind == CompactionLaw::Kind::table) {
    if (law.table.empty())
      t.fail("\"table\" is missing; add table = [[\"0.15\", \"20 kPa\"], [\"0.25\", \"100 kPa\"]]");
  } else {
    law.a = t.need("a", a, "0.02");
    law.b = t.need("b", b, "0.2");
  }
  t.done();
  return law;
}

/// The built-in glass of that name, or an empty one when the job gives every number itself.
Reinforcement base_reinforcement(const Table& t, const std::string& name, bool complete) {
  for (const auto& r : laminate::reinforcements())
    if (r.name == name) return r;
  if (complete) {
    Reinforcement own;
    own.name = name, own.source = {Message("clamping.job-file")};
    return own;
  }
  std::vector<std::string> known;
  for (const auto& r : laminate::reinforcements()) known.push_back(r.name);
  const std::string near = nearest_word(name, known);
  t.fail("glass", "no built-in glass \"" + name + "\"" +
                      (near.empty() ? "; gapfront glasses lists them" : " (did you mean \"" + near + "\"?)") +
                      "; for your own, give areal_weight, loft, permeability and compaction");
}

Ply read_ply(Table t) {
  Ply ply;
  const std::string name = t.text("glass").value_or("");
  const bool complete = t.has("areal_weight") && t.has("loft") && t.has("permeability") && t.has("compaction");
  if (name.empty() && !complete)
    t.fail("\"glass\" is missing; name a built-in one, or give areal_weight, loft, permeability and compaction");
  auto& g = ply.reinforcement;
  g = base_reinforcement(t, name.empty() ? "own glass" : name, complete);
  bool own = false;  // the user's own numbers win over the built-in ones, and the report says whose they are
  const auto take = [&](double& field, const std::optional<double>& value) {
    if (value) field = *value, own = true;
  };
  take(g.areal_weight, t.quantity("areal_weight", Dimension::areal_weight, Sign::positive));
  take(g.loft, t.quantity("loft", Dimension::length, Sign::positive));
  take(g.density, t.quantity("density", Dimension::density, Sign::positive));
  if (auto law = t.table("permeability")) g.permeability = read_permeability(*law), own = true;
  if (auto law = t.table("compaction")) g.compaction = read_compaction(*law), own = true;
  if (own) {
    const Message rest("clamping.the-rest", {arg::message(in_one_sentence(g.source))});
    g.source = {Message("clamping.job-file")};
    if (!complete) g.source.push_back(rest);
  }
  g.bending_length = t.quantity("bending_length", Dimension::length, Sign::positive).value_or(g.bending_length);
  g.cloth = t.flag("cloth").value_or(g.cloth);
  ply.count = t.number("count", Sign::positive).value_or(1);
  if (ply.count > kMostPlies) t.fail("count", "is more than 1000 plies of one kind; write how many lie there");
  ply.direction_deg = t.quantity("direction", Dimension::angle).value_or(0) * 180 / std::numbers::pi;
  t.done();
  return ply;
}

void read_axis(Table& t, Vec3& axis) {
  if (const auto given = t.point("axis")) axis = *given;
  if (t.has("axis") && !(axis.norm() > 0)) t.fail("axis", "has no direction; write e.g. \"0, 1, 0 mm\"");
}

// Sheared cloth has 1/cos of the angle more glass per area, stretched cloth that much less.
void read_draping(Table& t, LaminateZone& zone) {
  if (const auto shear = t.quantity("shear", Dimension::angle, Sign::not_negative)) {
    // Cloth locks near 55–60° (from memory, order of magnitude only); beyond 75° there is no cloth left to speak of.
    if (!(*shear < 75 * std::numbers::pi / 180)) t.fail("shear", "must be below 75 deg");
    zone.drape /= std::cos(*shear);
  }
  if (const auto stretch = t.number("stretch", Sign::positive)) zone.drape /= *stretch;
  read_axis(t, zone.axis);
  zone.follow = t.points("follow");
  if (zone.follow.size() == 1) t.fail("follow", "needs at least two points");
}

bool any_cloth(const std::vector<Ply>& plies) {
  return std::any_of(plies.begin(), plies.end(), [](const Ply& p) { return p.reinforcement.cloth; });
}

/// Cloth laid as a net, from a start.
void read_drape(Table& t, LaminateOptions& laminate) {
  auto d = t.table("drape");
  if (!d) return;
  DrapeOptions& o = laminate.drape;
  o.on = true;
  o.start = d->need("start", d->point("start"), "\"0, 0, 0 mm\"");
  if (const auto given = d->point("direction")) o.direction = *given;
  if (d->has("direction") && !(o.direction.norm() > 0))
    d->fail("direction", "has no length; write e.g. \"1, 0, 0 mm\"");
  o.lock = d->quantity("shear_limit", Dimension::angle, Sign::positive).value_or(o.lock);
  if (!(o.lock < 75 * std::numbers::pi / 180)) d->fail("shear_limit", "must be below 75 deg");
  d->done();
  if (!any_cloth(laminate.plies) && std::none_of(laminate.zones.begin(), laminate.zones.end(),
                                                 [](const auto& z) { return !z.adds && any_cloth(z.plies); }))
    d->fail("no ply is a cloth, and a mat does not drape as a net; give cloth = true to a ply that is, or take it out");
}

Packing packing_of(Table& t, const std::string& key) {
  const std::string word = t.word(key, {"packed", "tucked", "loose", "roving"}, "packed");
  for (const Packing p : {Packing::tucked, Packing::loose, Packing::roving})
    if (word == to_string(p)) return p;
  return Packing::packed;
}

/// Inside radii, and how the glass lies in them.
void read_radii(Table& t, LaminateOptions& laminate) {
  std::vector<std::string> names;
  for (auto& r : t.tables("radius")) {
    InsideRadius own;
    own.name = r.text("name").value_or("radius " + std::to_string(names.size() + 1));
    refuse_duplicate(r, own.name, names);
    own.path = r.points("path");
    if (own.path.size() < 2) r.fail("path", "needs at least two points along the rounding");
    own.radius = r.need_positive("radius", Dimension::length, "\"5 mm\"");
    own.turn = r.quantity("turn", Dimension::angle, Sign::positive).value_or(own.turn);
    // Towards a half turn the section between two roundings has no end.
    if (own.turn > 170 * std::numbers::pi / 180) r.fail("turn", "must be at most 170 deg");
    own.packing = packing_of(r, "packing");
    r.done();
    laminate.radii.push_back(std::move(own));
  }
}

/// How the glass differs from place to place, where no ply says it.
void read_scatter(Table& t, EnsembleOptions& o) {
  auto s = t.table("scatter");
  if (!s) return;
  o.spread = read_spread(*s, "permeability", o.spread);
  o.length = s->quantity("length", Dimension::length, Sign::positive).value_or(o.length);
  o.weight = read_spread(*s, "areal_weight", o.weight);
  s->done();
}

constexpr double kGravity = 9.80665e3;  // mm/s² (standard, CGPM 1901)

/// A load on so much area: mass (g) times gravity is Pa·mm².
PressedStack read_press(Table t) {
  PressedStack out;
  const auto mass = t.quantity("mass", Dimension::mass, Sign::positive);
  const auto area = t.quantity("area", Dimension::area, Sign::positive);
  const auto pressure = t.quantity("pressure", Dimension::pressure, Sign::positive);
  if (pressure && (mass || area)) t.fail("give pressure, or mass and area, but not both");
  if (mass.has_value() != area.has_value()) t.fail("mass and area belong together; give both, or neither for no load");
  if (mass) out.pressure = *mass * kGravity / *area;
  if (pressure) out.pressure = *pressure;
  out.thickness = t.need_positive("thickness", Dimension::length, "\"4.1 mm\"");
  out.plies = t.number("plies", Sign::positive).value_or(1);
  t.done();
  return out;
}

FilledStrip read_strip(Table t) {
  FilledStrip s;
  s.length = t.need_positive("length", Dimension::length, "\"300 mm\"");
  s.time = t.need_positive("time", Dimension::time, "\"95 s\"");
  s.pressure = t.need_positive("pressure", Dimension::pressure, "\"0.8 bar\"");
  s.viscosity = t.need_positive("viscosity", Dimension::viscosity, "\"0.2 Pa.s\"");
  s.gap = t.need_positive("gap", Dimension::length, "\"3 mm\"");
  s.plies = t.number("plies", Sign::positive).value_or(1);
  t.done();
  return s;
}

BenchGlass read_measured(Table t) {
  BenchGlass out;
  out.glass = t.need("glass", t.text("glass"), "the name of a ply's glass");
  for (auto& p : t.tables("piece")) {
    WeighedPiece piece;
    piece.area = p.need_positive("area", Dimension::area, "\"2000 cm2\"");
    piece.weight = p.need_positive("weight", Dimension::mass, "\"92 g\"");
    p.done();
    out.pieces.push_back(piece);
  }
  for (auto& p : t.tables("press")) out.presses.push_back(read_press(p));
  for (auto& p : t.tables("strip")) out.strips.push_back(read_strip(p));
  t.done();
  return out;
}

/// What was measured goes into every ply of that glass.
void take_measured(Table& t, LaminateOptions& lam) {
  std::vector<std::string> seen;
  for (auto& m : t.tables("measured")) {
    const BenchGlass bench = read_measured(m);
    refuse_duplicate(m, bench.glass, seen);
    int used = 0;
    std::vector<std::string> names;
    const auto take = [&](Ply& p) {
      names.push_back(p.reinforcement.name);
      if (p.reinforcement.name != bench.glass) return;
      p.reinforcement = laminate::update(p.reinforcement, bench).glass;
      ++used;
    };
    for (Ply& p : lam.plies) take(p);
    for (LaminateZone& z : lam.zones)
      for (Ply& p : z.plies) take(p);
    if (!used) m.fail("glass", "no ply is of \"" + bench.glass + "\"; " + suggestion(bench.glass, names));
  }
}

}  // namespace

std::optional<double> read_pressure_fraction(Table& t, const std::string& key) {
  const auto given = t.with_suffix(key, {"of atmosphere"});
  if (!given) return std::nullopt;
  const auto& [text, suffix] = *given;
  if (suffix.empty()) {
    if (text.find('%') != std::string::npos)
      t.fail(key, "a share of what? Write e.g. " + key + " = \"50 % of atmosphere\"");
    return parse_quantity(text, Dimension::pressure, t.place(key));
  }
  const double fraction = parse_quantity(text, Dimension::fraction, t.place(key));
  if (!(fraction >= 0 && fraction <= 1)) t.fail(key, "must lie between 0 and 100 % of atmosphere");
  return fraction * atmosphere_pa;
}

std::string bare_pressure(const Table& t, const std::string& key, const std::string& text) {
  // Number and unit; what follows them ("gauge", "abs") is what is not understood.
  const auto unit = text.find_first_not_of(" \t", text.find_first_of(" \t"));
  std::string bare = unit == std::string::npos ? text : text.substr(0, text.find_first_of(" \t", unit));
  parse_quantity(bare, Dimension::pressure, t.place(key));
  return bare;
}

std::optional<double> read_vacuum(Table& t, const std::string& key) {
  const auto given = t.with_suffix(key, {"of atmosphere", "below atmosphere", "absolute"});
  if (!given) return std::nullopt;
  const auto& [text, suffix] = *given;
  const bool percent = text.find('%') != std::string::npos;
  if (suffix.empty() && percent)
    t.fail(key, "a share of what? Write e.g. " + key + " = \"" + text + " of atmosphere\"");
  if (suffix.empty()) {
    const std::string bare = bare_pressure(t, key, text);
    t.fail(key, "does not say from where the pressure counts; write \"" + bare + " below atmosphere\" or \"" + bare +
                    " absolute\" (or a share, \"50 % of atmosphere\")");
  }
  double vacuum = 0;
  if (suffix == "of atmosphere")
    vacuum = atmosphere_pa * parse_quantity(text, Dimension::fraction, t.place(key));
  else
    vacuum = parse_quantity(text, Dimension::pressure, t.place(key));
  if (suffix == "absolute") vacuum = atmosphere_pa - vacuum;
  // A tenth of a millibar: 1013.25 mbar is an atmosphere, whatever the last digit was rounded to.
  if (!(vacuum >= -10 && vacuum <= atmosphere_pa + 10)) t.fail(key, "must lie between none and a whole atmosphere");
  return std::clamp(vacuum, 0.0, atmosphere_pa);
}

void read_laminate(Table t, Job& job) {
  auto& lam = job.laminate;
  lam.resin_density = t.quantity("resin_density", Dimension::density, Sign::positive).value_or(lam.resin_density);
  if (const auto p = read_pressure_fraction(t, "clamping")) {
    if (!(*p > 0)) t.fail("clamping", "must be greater than zero");
    lam.clamping_pressure = *p;
  }
  if (const auto w = t.quantities("weight_fraction", Dimension::fraction); t.has("weight_fraction")) {
    if (w.size() != 2 || w[0] >= w[1]) t.fail("weight_fraction", "needs two rising values, e.g. [\"20 %\", \"45 %\"]");
    lam.weight_fraction_low = w[0], lam.weight_fraction_high = w[1];
  }
  read_axis(t, lam.axis);
  for (auto& p : t.tables("ply")) lam.plies.push_back(read_ply(p));
  if (lam.plies.empty()) t.fail("no glass; add a [[laminate.ply]] with glass = \"…\" and count = 2");
  std::vector<std::string> names;
  for (auto& z : t.tables("zone")) {
    LaminateZone zone;
    zone.name = z.text("name").value_or("zone " + std::to_string(names.size() + 1));
    refuse_duplicate(z, zone.name, names);
    zone.adds = z.flag("adds").value_or(false);
    zone.where = read_region(z);
    for (auto& p : z.tables("ply")) zone.plies.push_back(read_ply(p));
    read_draping(z, zone);
    if (zone.adds && zone.plies.empty()) z.fail("adds nothing; give ply = [{ glass = \"…\", count = 1 }]");
    z.done();
    lam.zones.push_back(std::move(zone));
  }
  take_measured(t, lam);
  read_drape(t, lam), read_radii(t, lam), read_scatter(t, job.ensemble);
  t.done();
}

}  // namespace gapfront::job
