// A job file to start from: what the scans tell is filled in, what only the user knows is marked.
#include <algorithm>
#include <cmath>
#include <cstdio>

#include "gapfront/error.hpp"
#include "gapfront/job.hpp"

namespace gapfront {
namespace {

namespace fs = std::filesystem;

std::string number(double x, int decimals) {
  char s[64];
  std::snprintf(s, sizeof s, "%.*f", decimals, x);
  return s;
}

std::string quoted(const std::string& s) {
  std::string out = "\"";
  for (const char c : s) {
    if (c == '"' || c == '\\') out += '\\';
    out += c;
  }
  return out + "\"";
}

std::string path_from(const fs::path& file, const fs::path& folder) {
  std::error_code failed;
  const fs::path p = fs::relative(file, folder.empty() ? fs::current_path() : folder, failed);
  return quoted((failed || p.empty() ? fs::absolute(file) : p).generic_string());
}

struct Extent {
  Vec3 low, high;
  Vec3 size() const { return high - low; }
};

Extent extent(const std::vector<Vec3>& points) {
  Extent e{points.front(), points.front()};
  for (const auto& p : points) e.low = e.low.cwiseMin(p), e.high = e.high.cwiseMax(p);
  return e;
}

Scan read_some(const fs::path& file) {
  Scan scan = read_scan(file);
  if (scan.cloud.points.empty()) throw Error(Fault::input, file.string() + ": no usable points; export the scan again");
  return scan;
}

/// At most `most` points, evenly through the file (scans are stored in no particular order of place).
std::vector<Vec3> thinned(const std::vector<Vec3>& points, std::size_t most) {
  const std::size_t step = std::max<std::size_t>(1, points.size() / most);
  std::vector<Vec3> out;
  for (std::size_t i = 0; i < points.size(); i += step) out.push_back(points[i]);
  return out;
}

struct Facing {
  bool closed = false;  ///< the scans lie face to face, as in the closed mold
  double gap = 3;       ///< rounded median distance, mm
};

/// Face to face: most points of the upper half have a point of the lower half nearby, no nearer than a cavity is
/// thin. Distances under 0.5 mm are taken for mating flanges and left out of the guess; a distance over 5 % of the
/// tool's size is no cavity.
Facing facing(const std::vector<Vec3>& lower, const std::vector<Vec3>& upper) {
  const double size = extent(lower).size().norm();
  // The spacing and noise of the Surface play no part in a nearest-point query.
  const Surface surface(lower, 1, 0);
  std::vector<double> d;
  std::size_t near = 0, all = 0;
  for (const auto& p : thinned(upper, 2000)) {  // 2000: a median good to about 2 % of its spread
    const double x = surface.nearest(p).distance;
    ++all;
    if (x < 0.05 * size) ++near;
    if (x >= 0.5 && x < 0.05 * size) d.push_back(x);
  }
  Facing out;
  if (near < 0.6 * all || d.size() < 0.2 * all) return out;
  std::nth_element(d.begin(), d.begin() + d.size() / 2, d.end());
  out.closed = true;
  out.gap = std::max(0.1, std::round(10 * d[d.size() / 2]) / 10);
  return out;
}

std::string size_note(const Extent& e) {
  const Vec3 s = e.size();
  return "# then the scan is " + number(s.x(), 0) + " x " + number(s.y(), 0) + " x " + number(s.z(), 0) + " mm; right?";
}

/// The scan point nearest to the middle in X and Y: a place on the lower face.
Vec3 middle(const std::vector<Vec3>& points, const Extent& e) {
  const Vec3 m = (e.low + e.high) / 2;
  return *std::min_element(points.begin(), points.end(), [&](const Vec3& a, const Vec3& b) {
    return (a - m).head<2>().squaredNorm() < (b - m).head<2>().squaredNorm();
  });
}

std::string place(const Vec3& p) {
  return "\"" + number(p.x(), 1) + ", " + number(p.y(), 1) + ", " + number(p.z(), 1) + " mm\"";
}

std::string align_section(bool closed) {
  if (closed)
    return R"([align]
# The two scans lie face to face, so they are taken as they are: both in the tool frame, mold closed.
# Z of that frame points from the lower half to the upper half.
method = "given"
given_u = "0.02 mm"            # how well that is known (standard uncertainty); your number
)";
  return R"([align]
# The scans do not lie face to face. Three or more tooling balls that are in both scans, at uneven distances, are
# found by their diameter. Where there are none, take the ball line out and give marks by name, as below. A dowel and
# its hole make a mark as well: the point where the axis of each meets the land, in both halves at one and the same
# height when closed, without a ball line and with u.
method = "targets"
ball = "20 mm"                         # diameter of the tooling balls (your number)
# seat_play = "0.05 mm"                # targets that differ by more put the registration in doubt
# tool_play = "0.5 mm"                 # the same for their tool places
# [[align.target]]
# name = "B1"
# ball = "20 mm"                       # diameter; leave the line out for an exact point, then give…
# u = "0.01 mm"                        # …how well it is known (standard uncertainty); play of a dowel counts in it
# lower = "12.1, 3.0, 6.2 mm"          # in the frame of the lower scan
# upper = "-310.4, 83.0, 6.2 mm"       # in the frame of the upper scan
# mask = "30 mm"                       # around it nothing is judged; without it 1.5 balls, or 15 mm for a point
# tool = "-240, -180, 0 mm"            # datum coordinates, if the tool has any; else the lower scan's frame is used
# [[align.target]]
# name = "B2"
# ball = "20 mm"
# lower = "480.3, 2.8, 6.1 mm"
# upper = "158.0, 84.2, 6.3 mm"
# [[align.target]]
# name = "B3"
# ball = "20 mm"
# lower = "250.0, 360.4, 6.2 mm"
# upper = "-71.9, 440.6, 6.0 mm"
)";
}

/// A generic mat, in as many plies as reach across the gap: less would leave an open channel.
std::string laminate_section(double gap) {
  const auto& all = reinforcements();
  const auto named =
      std::find_if(all.begin(), all.end(), [](const auto& r) { return r.name == "chopped strand mat 450"; });
  const Reinforcement& r = named == all.end() ? all.front() : *named;
  const int count = std::max(1, static_cast<int>(std::ceil(gap / r.loft)));
  return "[laminate]\nresin_density = \"1.2 g/cm3\"\n"
         "# One [[laminate.ply]] per kind of glass, from the built-in list, or with your own numbers:\n"
         "# areal_weight, loft, density, permeability, compaction.\n[[laminate.ply]]\nglass = " +
         quoted(r.name) + "\ncount = " + std::to_string(count) + "\n";
}

}  // namespace

std::string draft_job(const fs::path& lower, const fs::path& upper, const fs::path& relative_to) {
  const Scan low = read_some(lower), up = read_some(upper);
  check_pair(low, up);
  const Extent low_extent = extent(low.cloud.points), up_extent = extent(up.cloud.points);
  const Facing f = facing(low.cloud.points, up.cloud.points);
  const Vec3 vent = middle(low.cloud.points, low_extent);
  const Vec3 feed = *std::min_element(low.cloud.points.begin(), low.cloud.points.end(),
                                      [](const Vec3& a, const Vec3& b) { return a.x() < b.x(); });
  // 10 mm is a usual vent; on a small tool a tenth of its width.
  const double radius = std::min(10.0, low_extent.size().head<2>().minCoeff() / 10);

  std::string t =
      R"(# A job for gapfront. Every number with a dimension is text with its unit: "3 mm", "120 thou", "1.2 bar".
# What could be read from the two scans is filled in; check every line marked with "your number".

[job]
name = )" +
      quoted(lower.stem().string() + " and " + upper.stem().string()) +
      R"(
# tool = "…"
# date = "2026-01-31"
units = "mm"                   # the report prints in "mm" or "inch"

[lower]
file = )" +
      path_from(lower, relative_to) + "\nunit = \"mm\"                    " + size_note(low_extent) +
      "\n\n[upper]\nfile = " + path_from(upper, relative_to) + "\nunit = \"mm\"                    " +
      size_note(up_extent) + "\n\n" + align_section(f.closed) + "\n[cavity]\n";
  t += "nominal = \"" + number(f.gap, 1) + " mm\"             " +
       (f.closed ? "# a guess from the scans; put in the laminate thickness you want (your number)"
                 : "# the laminate thickness you want (your number)") +
       "\ntolerance = \"" + number(f.gap / 10, 2) + " mm\"          # a tenth, to start with (your number)\n" +
       R"(# Without a seal line the whole face of the lower half is judged, flanges and all. To judge the cavity only:
# seal = ["-200, -150 mm", "200, -150 mm", "200, 150 mm", "-200, 150 mm"]
# [[cavity.island]]            # what is no cavity inside the seal line: an insert, a core; at the end of [cavity]
# polygon = ["-20, -20 mm", "20, -20 mm", "20, 20 mm", "-20, 20 mm"]
# [[cavity.mask]]              # what else stands on the halves: a dowel, a clamp; targets are masked by themselves
# name = "dowel 1"
# at = "210, 40, 0 mm"
# radius = "15 mm"
u_instrument = "0.01 mm"       # standard uncertainty of the scanner; from its certificate (your number)

)" + laminate_section(f.gap) +
       R"(
[flow]                         # a line "# or:" takes the place of the one above it
viscosity = "0.2 Pa.s"         # of the resin at working temperature (your number)
# or: viscosity_table = [["18 C", "0.28 Pa.s"], ["25 C", "0.2 Pa.s"]]
# or: temperature = "22 C"     # of the resin as it flows, for the table
pressure_limit = "0.4 bar above atmosphere"
vacuum = "50 % of atmosphere"  # in the cavity; it also clamps the halves
# or: cavity_pressure = "0.5 bar absolute"
# gel_time = "20 min"          # a fill that takes longer is warned of
# ensemble = 32                # fillings drawn at random within the uncertainty of gap and glass; 0: none
# rate = "1.5 L/min"           # of the pump; without a rate: constant pressure at the limit
# or: schedule = [{ rate = "1.5 L/min" }, { from = "2 L", rate = "0.8 L/min" }]
[[flow.inlet]]
name = "perimeter runner"
perimeter = true
# runner_width = "12 mm"       # section of a runner so narrow that it resists; with it the place where it is fed
# runner_depth = "8 mm"
)";
  t += "# at = " + place(feed) + "\n# radius = \"" + number(radius, 1) + " mm\"\n" + R"([[flow.vent]]
name = "centre vent"           # in the middle of the lower face (your place)
)";
  t += "at = " + place(vent) + "\nradius = \"" + number(radius, 1) + " mm\"\n" +
       R"(# bleed = "5 s"                # resin let through before the vent is shut

# [closing]                    # what holds the mold shut besides the vacuum in the cavity
# force = "4 kN"               # of clamps at the flange
# pressure = "0.1 bar"         # of a press or ballast, spread over the moulding face
# perimeter_vacuum = "90 % of atmosphere" # in a channel around the cavity
# perimeter_width = "40 mm"    # of that channel
# safety = 1.25                # the advised flow schedule keeps: what closes over what opens
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
  t += "# at = " + place(vent) + "\n# radius = \"" + number(radius, 1) + " mm\"\n" + R"(
[correct]
stock = "metric"               # shims at hand: "metric", "inch", or a list such as ["0.1 mm", "0.5 mm"]
# shop_step = "0.05 mm"        # depths to add or take are whole steps of this
# workmanship = "0.05 mm"      # standard uncertainty of a depth filled or ground by hand (own choice)
# shim_workmanship = "0.01 mm" # of a shim stack (own choice)
# [[correct.station]]          # where shims are set on the flange; without any, six are proposed along the rim
# name = "S1"
# at = "-230, -180, 0 mm"
# present = "1 mm"
)";
  return t;
}

}  // namespace gapfront
