// Built-in generic reinforcements. They are starting values: a user's own measurements always win.
#include <cstdio>

#include "core/nearest_word.hpp"
#include "gapfront/error.hpp"
#include "gapfront/laminate.hpp"

namespace gapfront::laminate {
namespace {

constexpr double g_per_m2 = 1e-6;  // g/m² → g/mm²

template <class... T>
std::string print(const char* form, T... values) {
  char text[300];
  std::snprintf(text, sizeof text, form, values...);
  return text;
}

constexpr const char* kByName = "by name, its scatter from memory";
// Two 300 g/m² glass layers stitched to a core of 180 g/m² polypropylene (0.91 g/cm³): 780 g/m² in all, solid
// thickness 0.433 mm, hence a mean density of 1.80 g/cm³. The core counts as reinforcement in the fractions.
constexpr const char* kCoreMakeUp =
    "two 300 g/m2 glass mats on a 180 g/m2 polypropylene core (0.91 g/cm3), core counted with the fibre, from memory; "
    "butt the core at seams and do not overlap it";

/// g/cm³. Glass is known to 0.02 (E-glass 2.54 to 2.56, from memory); a core of another make shifts the mean by more.
double density_u(const Reinforcement& r) { return r.density < 2.5e-3 ? 0.1 : 0.02; }

// Where each number is from, and how far to trust it. The forms of the laws are the usual ones (a power law; Robitaille
// & Gauvin 1998 for compaction); no constant was taken from a publication, so all say "from memory", with how
// far it may be off (own judgement).
std::vector<SourcedNumber> numbers_of(const Reinforcement& r, const char* make_up) {
  const auto& k = r.permeability;
  const auto& c = r.compaction;
  return {{"areal weight", print("%.0f g/m2", r.areal_weight / g_per_m2), "± 5 %", make_up},
          {"density", print("%.2f g/cm3", r.density * 1e3), print("± %.2f", density_u(r)), "from memory"},
          {"loft", print("%.2f mm", r.loft), "± 25 %", "from memory"},
          {"permeability", print("%.1e m2 × Vf^-%.1f", k.a * 1e-6, k.b), "within a factor of 3",
           "from memory, order of magnitude only"},
          {"its scatter from place to place of a roll", print("%.0f %%", 100 * k.spread), "", "from memory"},
          {"compaction", print("Vf = %.4f × P^%.2f (P in Pa, form of Robitaille and Gauvin 1998)", c.a, c.b),
           "with Vf ± 15 %", "from memory, order of magnitude only"}};
}

/// The same as messages.
Messages said_of(const Reinforcement& r, bool core) {
  const auto& k = r.permeability;
  const auto& c = r.compaction;
  Messages out{Message(core ? "clamping.areal-weight-g-m-two" : "clamping.areal-weight-g-m",
                       {arg::number(r.areal_weight / g_per_m2)})};
  if (core) out.push_back(Message("clamping.butt-core-seams-do"));
  out.push_back(Message("clamping.density-g-cm-from", {arg::number(r.density * 1e3, 2), arg::number(density_u(r), 2)}));
  out.push_back(Message("clamping.loft-25-from-memory", {arg::length(r.loft)}));
  const std::string a = print("%.1e", k.a * 1e-6);  // m²; its digits are said with the language's decimal sign
  const std::size_t power = a.find('e');
  out.push_back(Message("clamping.permeability-m-vf-within", {arg::number(std::stod(a.substr(0, power)), 1),
                                                              arg::number(k.b, 1), arg::name(a.substr(power))}));
  out.push_back(Message("clamping.scatter-from-place-place", {arg::number(100 * k.spread)}));
  out.push_back(Message("clamping.compaction-vf-p-p", {arg::number(c.a, 4), arg::number(c.b, 2)}));
  return out;
}

Reinforcement make(const char* name, const char* make_up, double weight, double loft, double density, double k_a,
                   double k_b, double spread, double c_a, double c_b) {
  Reinforcement r;
  r.name = name;
  r.areal_weight = weight * g_per_m2;
  r.loft = loft;
  r.density = density * 1e-3;
  r.permeability = {
      .kind = PermeabilityLaw::Kind::power, .a = k_a, .b = k_b, .table = {}, .ratio = 1, .spread = spread};
  r.compaction = {.kind = CompactionLaw::Kind::power, .a = c_a, .b = c_b, .table = {}};
  r.numbers = numbers_of(r, make_up);
  r.source = said_of(r, make_up != kByName);
  return r;
}

Reinforcement cloth(Reinforcement r) {
  r.cloth = true;
  return r;
}

}  // namespace

const std::vector<Reinforcement>& reinforcements() {
  // What the constants are meant to give, all from memory: a random mat near 2e-9 m² at 17 % by volume, a fabric near
  // 1.5e-10 m² at 45 %, a mat near 30 % and a fabric near 50 % by volume under 1 bar. `spread` is the scatter between
  // places of one roll, own choice.
  static const std::vector<Reinforcement> list = {
      //   name                      source       g/m²  loft mm  g/cm³  K: a mm²  b   spread  Vf = A·P^B
      make("chopped strand mat 300", kByName, 300, 1.0, 2.55, 1.0e-5, 3.0, 0.25, 0.0533, 0.15),
      make("chopped strand mat 450", kByName, 450, 1.5, 2.55, 1.0e-5, 3.0, 0.25, 0.0533, 0.15),
      make("continuous filament mat 450", kByName, 450, 2.2, 2.55, 2.0e-5, 3.0, 0.25, 0.0250, 0.20),
      make("stitched core mat 300", kCoreMakeUp, 780, 3.2, 1.80, 3.0e-5, 3.0, 0.30, 0.0445, 0.15),
      cloth(make("woven roving 600", kByName, 600, 0.75, 2.55, 1.5e-5, 3.0, 0.25, 0.2500, 0.06)),
      cloth(make("knitted biaxial 600", kByName, 600, 0.70, 2.55, 1.0e-5, 3.0, 0.25, 0.2320, 0.07)),
  };
  return list;
}

const Reinforcement& find_reinforcement(const std::string& name) {
  const auto& list = reinforcements();
  std::vector<std::string> known;
  for (const auto& r : list) {
    if (r.name == name) return r;
    known.push_back(r.name);
  }
  throw Error(Fault::input, "laminate: no built-in glass \"" + name + "\"; " + suggestion(name, known) +
                                " (or give areal_weight, loft, permeability and compaction of your own)");
}

}  // namespace gapfront::laminate
