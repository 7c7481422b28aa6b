// What a drafted job says of resin, ports, closing and corrections.
#include <algorithm>
#include <vector>

#include "pipeline/draft.hpp"

namespace gapfront::pipeline::draft {
namespace {

/// Where a vent and an inlet may be, mm, tool frame: guesses.
struct Ports {
  Vec3 vent, feed;
  double radius;
};

Ports ports_on(const Survey& s) {
  std::vector<Vec3> face = s.lower.scan.cloud.points;
  for (Vec3& p : face) p = s.to_tool * p;
  Vec3 low = face.front(), high = low;
  for (const Vec3& p : face) low = low.cwiseMin(p), high = high.cwiseMax(p);
  const Vec3 middle = s.framed ? Vec3::Zero() : Vec3((low + high) / 2);
  const Vec3 vent = *std::min_element(face.begin(), face.end(), [&](const Vec3& a, const Vec3& b) {
    return (a - middle).head<2>().squaredNorm() < (b - middle).head<2>().squaredNorm();
  });
  const Vec3 feed =
      *std::min_element(face.begin(), face.end(), [](const Vec3& a, const Vec3& b) { return a.x() < b.x(); });
  // 10 mm is a usual vent; on a small tool a tenth of its width.
  const double radius = std::min(10.0, (high - low).head<2>().minCoeff() / 10);
  return {vent, feed, radius};
}

}  // namespace

std::string flow_section(const Survey& survey) {
  const Ports ports = ports_on(survey);
  std::string t = R"(
[flow]                         # a line "# or:" takes the place of the one above it
viscosity = "0.2 Pa.s"         # of the resin at working temperature (your number)
# or: viscosity_table = [["18 C", "0.28 Pa.s"], ["25 C", "0.2 Pa.s"]]
# or: temperature = "22 C"     # goes with the table: of the resin as it flows
pressure_limit = "0.4 bar above atmosphere"
vacuum = "50 % of atmosphere"  # in the cavity; it also clamps the halves
# or: cavity_pressure = "0.5 bar absolute"
# gel_time = "20 min"          # what is empty then stays dry
# ensemble = 64                # fillings drawn at random within the uncertainty of gap and glass; 0: none
# least_dry_spot = "2 cm2"     # air that leaves less of the part dry than this is not counted as trapped
# rate = "1.5 L/min"           # of the pump; without a rate: constant pressure at the limit
# or: schedule = [{ rate = "1.5 L/min" }, { from = "2 L", rate = "0.8 L/min" }]
# least_rate = "0.2 L/min"     # slower than this the pump does not deliver; no slower rate is advised
# rate_setting = "0.1 L/min"   # advised rates are whole multiples of this
# down = "0, 0, -1 mm"         # which way is down as it is injected; with it the resin's weight counts
# liquid_density = "1.1 g/cm3" # of the liquid resin, for its weight
# viscosity_spread = 0.1       # relative standard uncertainty of the viscosity, that of the temperature in it
# through_thickness = 0.1      # permeability of the glass through its thickness over that along it
# [flow.supply]                # what lies before the inlet and behind the vents
# hose_length = "4 m"
# hose_bore = "10 mm"
# gauge = "pump"               # where the pressure limit is read: at the pump, or at the inlet
# pump_above = "-0.8 m"        # the pump's outlet above the inlet
# greatest_rate = "3 L/min"    # faster than this the pump does not deliver
# vent_line = "2 m"            # from a vent to the catch pot
# vent_bore = "8 mm"
# catch_pot = "2 L"
# [flow.ageing]                # resin thickens; with gel_time the front stops when it gels
# age = "2 min"                # when the first of it enters the mold
# pot_life = "12 min"          # after mixing: its viscosity has doubled
# or: curve = [{ temperature = "22 C", viscosity = [["1 min", "0.2 Pa.s"], ["15 min", "0.5 Pa.s"]] }]
[[flow.inlet]]
name = "perimeter runner"
perimeter = true
# runner_width = "12 mm"       # section of a runner so narrow that it resists; with it the place where it is fed
# runner_depth = "8 mm"
# or for both: section = [{ at = "0, 0, 0 mm", width = "12 mm", depth = "8 mm" }, { at = "900, 0, 0 mm", width = "8 mm", depth = "8 mm" }]
)";
  t += "# at = " + place(ports.feed) + "\n# radius = \"" + number(ports.radius, 1) + " mm\"\n" + R"([[flow.vent]]
name = "centre vent"
)";
  t += "at = " + place(ports.vent) + "  # in the middle of the lower face (your place)\nradius = \"" +
       number(ports.radius, 1) + " mm\"\n" +
       R"(# bleed = "5 s"                # resin let through before the vent is shut
# closed_at = "4 min"          # closed by hand then, whatever has come

# [closing]                    # what holds the mold shut besides the vacuum in the cavity
# force = "4 kN"               # of clamps at the flange
# pressure = "0.1 bar"         # of a press or ballast, spread over the moulding face
# perimeter_vacuum = "90 % of atmosphere" # in a channel around the cavity
# perimeter_width = "40 mm"    # of that channel
# safety = 1.25                # the advised flow schedule keeps: what closes over what opens
# wet_glass = 0.6              # share of its push that glass keeps once it is wet (your number)
# wet_glass_spread = 0.2       # relative standard uncertainty of that
# unloading = 3                # power by which let-go glass gives back less; for a light half
# everywhere = false           # true: at every place as well, for a light half
# rim = "turns"                # a light half at the seal line; or "clamped": it cannot turn there
# [[closing.half]]             # a light upper half gives way; leave it out for a rigid one
# modulus = "12 GPa"           # Young's, of the skin
# thickness = "4 mm"           # of the skin; of each of the two where there is a core
# core = "20 mm"               # light core between two skins; 0 mm: none
# poisson = 0.3                # ratio of the skin
# bending = "850 N m"          # bending stiffness of the whole, if you have measured it
# [[closing.support]]          # a frame or clamp over the face, where a light half cannot move
)";
  t += "# at = " + place(ports.vent) + "\n# radius = \"" + number(ports.radius, 1) + " mm\"\n" + R"(
[correct]
stock = )" +
       quoted(in_inches(survey) ? "inch" : "metric") +
       R"(               # shims at hand: "metric", "inch", or a list such as ["0.1 mm", "0.5 mm"]
# shop_step = "0.05 mm"        # depths to add or take are whole steps of this
# workmanship = "0.05 mm"      # standard uncertainty of a depth filled or ground by hand (own choice)
# shim_workmanship = "0.01 mm" # of a shim stack (own choice)
# deepest_vacuum = "90 % of atmosphere" # to which the cavity may be evacuated; else the vacuum is left alone
# warm_viscosity = "0.15 Pa.s" # of the resin as warm as it may be used; else it is left as it is
# warm_gel_time = "12 min"     # goes with it
# [[correct.station]]          # where shims are set on the flange; without any, six are proposed along the rim
# name = "S1"
# at = "-230, -180, 0 mm"
# present = "1 mm"

# [prices]                     # with hour, bad_part and parts corrections are chosen by what the run costs
# currency = "EUR"
# hour = 60                    # of work (your number)
# bad_part = 400               # what it has cost beyond its glass and resin (your number)
# parts = 200                  # that the run still makes (your number)
# resin_per_kg = 5
# glass_per_kg = 4
)";
  return t;
}

}  // namespace gapfront::pipeline::draft
