// The demo scenarios: what is wrong with each mold, how it was scanned, and the job file that inspects it.
#include <algorithm>
#include <cmath>
#include <cstdio>
#include <filesystem>
#include <fstream>
#include <sstream>
#include <stdexcept>
#include "synth/synth.hpp"

namespace gapfront::synth {
namespace {

constexpr const char* kInvented = "Invented data: no real tool, no real part.";

std::string number(double v, int digits) {
  char text[32];
  std::snprintf(text, sizeof text, "%.*f", digits, v);
  // "-0.0" would be a needless puzzle in a file for people.
  const std::string out = text;
  const bool zero = out.find_first_of("123456789") == std::string::npos;
  return zero && out[0] == '-' ? out.substr(1) : out;
}

std::string place(const Vec3& p, int digits = 1) {
  return number(p.x(), digits) + ", " + number(p.y(), digits) + ", " + number(p.z(), digits) + " mm";
}

/// A ball's centre as someone reads it off a screen: a millimetre out here and there.
Vec3 rough(const Vec3& p, Random& random) { return p + random.triple(); }

struct Names {
  std::string job, title, tool, date;
};

/// The new tool is fed all round; the others along the end −x, where a race-track along a side leads the front most.
void write_ports(std::ostream& t, const Truth& truth) {
  const Shape& s = truth.mold.shape;
  // Half way between the edge of the dish and the seal line.
  const std::string end = number(s.half_x + s.seal / 2, 0);
  if (truth.scenario != "new-tool") {
    t << "[[flow.inlet]]\nname = \"end runner\"\npath = [\"-" << end << ", -60, 0 mm\", \"-" << end
      << ", 60, 0 mm\"]\nradius = \"8 mm\"\n";
    t << "[[flow.vent]]\nname = \"end vent\"\nat = \"" << end << ", 0, 0 mm\"\nradius = \"8 mm\"\n";
  } else {
    t << "[[flow.inlet]]\nname = \"perimeter runner\"\nperimeter = true\n";
    t << "[[flow.vent]]\nname = \"centre vent\"\nat = \"0, 0, -" << number(s.depth, 0) << " mm\"\nradius = \"5 mm\"\n";
  }
}

// Free thickness 2 × 0.95 + 1.4 = 3.3 mm: the nominal 3 mm gap nips the glass, a gap over 3.3 mm leaves a channel.
// 2 × 450 + 300 g/m² in 3 mm are 15.7 % by volume, 28 % by weight.
constexpr const char* kReinforcementAndFlow = R"(
[laminate]
resin_density = "1.2 g/cm3"
clamping = "50 % of atmosphere"
weight_fraction = ["22 %", "34 %"]
[[laminate.ply]]
glass = "chopped strand mat 450"
count = 2
areal_weight = "450 g/m2"
loft = "0.95 mm"
density = "2.55 g/cm3"
permeability = { law = "power", a = "7.2e-12 m2", b = 2.5, ratio = 1.0 }
compaction = { law = "power", a = 0.0467, b = 0.2 }
[[laminate.ply]]
glass = "stitched core mat 300"
count = 1
areal_weight = "300 g/m2"
loft = "1.4 mm"
density = "2.55 g/cm3"
permeability = { law = "power", a = "1.46e-12 m2", b = 2.5, ratio = 1.0 }
compaction = { law = "power", a = 0.0211, b = 0.2 }

[flow]
viscosity = "0.3 Pa.s"
pressure_limit = "0.4 bar above atmosphere"
cavity_pressure = "0.5 bar absolute"
gel_time = "20 min"
rate = "1 L/min"
)";

std::string job_text(const Truth& truth, const Names& names, const char* suffix) {
  const Mold& mold = truth.mold;
  std::ostringstream t;
  t << "# " << kInvented << " Made by: synth scenario " << truth.scenario << "\n[job]\n";
  t << "name = \"" << names.title << "\"\ntool = \"" << names.tool << "\"\ndate = \"" << names.date << "\"\n";
  t << "note = \"" << kInvented << ' ' << truth.story << "\"\ninvented = true\n";
  t << "cycles = " << number(mold.cycles, 0) << "\nunits = \"mm\"\n";
  for (const char* half : {"lower", "upper"})
    t << "\n[" << half << "]\nfile = \"" << names.job << '-' << half << '.' << suffix << "\"\nunit = \"mm\"\n";

  t << "\n# The tooling balls sit in the same seats when the mold is closed.\n[align]\nmethod = \"targets\"\n";
  Random random(truth.scanner.seed + 77);
  for (const Ball& b : mold.balls) {
    t << "[[align.target]]\nname = \"" << b.name << "\"\nball = \"" << number(b.diameter, 0) << " mm\"\n";
    t << "lower = \"" << place(rough(truth.poses.lower * b.centre, random)) << "\"\n";
    t << "upper = \"" << place(rough(truth.poses.upper * b.centre, random)) << "\"\n";
    t << "tool = \"" << place(b.centre) << "\"\n";
  }

  t << "\n[cavity]\nnominal = \"" << number(mold.nominal, 1) << " mm\"\n";
  t << "tolerance = \"" << number(mold.tolerance, 1) << " mm\"\nedge = \"6 mm\"\nseal = [\n";
  for (const Vec3& p : mold.seal_polygon()) t << "  \"" << number(p.x(), 1) << ", " << number(p.y(), 1) << " mm\",\n";
  t << "]\nu_instrument = \"0.01 mm\"\n";

  t << kReinforcementAndFlow;
  write_ports(t, truth);
  // The vacuum in the cavity is gone where resin has come.
  t << "\n# A channel around the cavity, at a deeper vacuum, keeps the mold shut against the resin.\n[closing]\n"
       "perimeter_vacuum = \"90 % of atmosphere\"\nperimeter_width = \"60 mm\"\n";

  t << "\n[correct]\nstock = [\"0.05 mm\", \"0.1 mm\", \"0.2 mm\", \"0.5 mm\", \"1 mm\"]\n";
  for (const Station& s : mold.stations)
    t << "[[correct.station]]\nname = \"" << s.name << "\"\nat = \"" << place(s.at) << "\"\npresent = \"1 mm\"\n";
  return t.str();
}

Truth begin(const std::string& name, const std::string& story, std::uint64_t seed, double spacing, const Overrides& o) {
  Truth t;
  t.scenario = name;
  t.story = story;
  t.mold = make_mold();
  t.scanner.seed = o.seed ? o.seed : seed;
  t.scanner.spacing = o.spacing > 0 ? o.spacing : spacing;
  t.scanner.ball_spacing = std::min(t.scanner.ball_spacing, t.scanner.spacing);  // the closer pass is never the coarser
  if (o.noise >= 0) t.scanner.noise = o.noise;
  t.poses = make_poses(t.scanner.seed);
  return t;
}

Names names_of(const Truth& t, std::size_t index, std::size_t count) {
  const std::string job = count > 1 ? t.scenario + "-" + std::to_string(index + 1) : t.scenario;
  if (t.scenario == "new-tool") return {job, "Dished panel, new tool", "DP-1", "2026-03-02"};
  if (t.scenario == "dry-spot") return {job, "Dished panel, recurring dry spot", "DP-3", "2026-06-11"};
  const char* dates[] = {"2025-02-03", "2025-09-15", "2026-05-20"};
  return {job, "Dished panel, " + number(t.mold.cycles, 0) + " cycles", "DP-2", dates[index]};
}

}  // namespace

std::vector<std::string> scenario_names() { return {"new-tool", "worn-tool", "dry-spot"}; }

std::vector<Truth> scenario(const std::string& name, const Overrides& o) {
  if (name == "new-tool") {
    Truth t = begin(name, "One flange corner sits high, and the lower face has one low area.", 101, 1.5, o);
    t.mold.defects.push_back(local_area(t.mold, "low area", Face::lower, 85, -45, 35, 0.6));
    lift_corner(t.mold, 0.5);
    // A missing patch on the upper face over the base, and one on the lower flange outside the seal.
    t.scanner.holes = {{Face::upper, t.mold.foot_at(-70, -50).point + Vec3(0, 0, t.mold.nominal), 8},
                       {Face::lower, t.mold.foot_at(-212, 40).point, 10}};
    return {t};
  }
  if (name == "worn-tool") {
    std::vector<Truth> out;
    const double cycles[] = {0, 1500, 3000};
    for (std::size_t i = 0; i < 3; ++i) {
      Overrides dated = o;
      if (o.seed) dated.seed = o.seed + i;
      Truth t = begin(name, "The lower face wears where the resin comes in.", 201 + i, 1.6, dated);
      t.mold.cycles = cycles[i];
      t.mold.defects.push_back(wear_patch(t.mold, "wear by the inlet", -95, -15, 45, 0.5 / 3000));
      out.push_back(t);
    }
    return out;
  }
  if (name == "dry-spot") {
    Truth t = begin(name,
                    "The same dry spot in every part, in the corner beside the vent: along the other long side the "
                    "upper radius was cut too large.",
                    301, 1.5, o);
    t.mold.defects.push_back(radius_lane(t.mold, "race-track", 0, 180, 30, 6));
    return {t};
  }
  throw std::runtime_error("no scenario is called \"" + name + "\"; there are new-tool, worn-tool and dry-spot");
}

std::vector<std::string> write_scenario(const std::string& name, const std::string& folder, const Overrides& o) {
  std::filesystem::create_directories(folder);
  const std::vector<Truth> dates = scenario(name, o);
  std::vector<std::string> written;
  const auto path = [&](const std::string& file) {
    written.push_back(file);
    return (std::filesystem::path(folder) / file).string();
  };
  for (std::size_t i = 0; i < dates.size(); ++i) {
    const Truth& t = dates[i];
    const Names names = names_of(t, i, dates.size());
    for (const Face face : {Face::lower, Face::upper}) {
      const Rigid& pose = face == Face::lower ? t.poses.lower : t.poses.upper;
      const std::string file = path(names.job + "-" + to_string(face) + "." + extension(o.format));
      if (o.format == Format::stl)
        write_stl(file, scan_mesh(t.mold, face, t.scanner, pose));
      else
        write_cloud(file, scan(t.mold, face, t.scanner, pose), o.format);
    }
    save_truth(path(names.job + "-truth.json"), t);
    std::ofstream job(path(names.job + ".toml"));
    job << job_text(t, names, extension(o.format));
    if (!job.flush()) throw std::runtime_error("cannot write into " + folder);
  }
  return written;
}

}  // namespace gapfront::synth
