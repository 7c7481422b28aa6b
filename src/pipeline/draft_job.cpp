// A job file to start from: what the scans tell is filled in, what only the user knows is marked.
#include <algorithm>
#include <cmath>
#include <cstdio>

#include "gapfront/error.hpp"
#include "gapfront/job.hpp"
#include "gapfront/survey.hpp"
#include "gapfront/text.hpp"
#include "pipeline/draft.hpp"
#include "units/inch.hpp"

namespace gapfront::pipeline {
namespace draft {

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

std::string place(const Vec3& p, int decimals) {
  return "\"" + number(p.x(), decimals) + ", " + number(p.y(), decimals) + ", " + number(p.z(), decimals) + " mm\"";
}

bool in_inches(const Survey& s) { return s.lower.unit == "in" || s.lower.unit == "thou" || s.lower.unit == "ft"; }

namespace {

namespace fs = std::filesystem;

std::string path_from(const fs::path& file, const fs::path& folder) {
  std::error_code failed;
  const fs::path p = fs::relative(file, folder.empty() ? fs::current_path() : folder, failed);
  return quoted((failed || p.empty() ? fs::absolute(file) : p).generic_string());
}

/// In the unit that the shop reads; of an inch two decimals more than of a millimetre, beside whole ones one.
std::string length_of(const Survey& s, double mm, int decimals) {
  return in_inches(s) ? number(mm / inch, decimals + (decimals > 0 ? 2 : 1)) + " in" : number(mm, decimals) + " mm";
}

std::string size_note(const Survey& pair, const SurveyedScan& s, bool guessed) {
  const Vec3 size = s.facts.high - s.facts.low;
  const auto side = [&](double mm) { return in_inches(pair) ? number(mm / inch, 1) : number(mm, 0); };
  return "# then the scan is " + side(size.x()) + " x " + side(size.y()) + " x " + side(size.z()) +
         (in_inches(pair) ? " in" : " mm") + "; right?" + (guessed ? "" : " (the file itself says so)");
}

/// A diameter as it is called: "20 mm", "0.75 in".
std::string diameter(double mm) {
  const double eighths = mm / inch * 8;
  if (std::abs(mm - std::round(mm)) > 1e-6 && std::abs(eighths - std::round(eighths)) < 1e-6)
    return "\"" + number(mm / inch, 3) + " in\"";
  return "\"" + number(mm, std::abs(mm - std::round(mm)) < 1e-6 ? 0 : 3) + " mm\"";
}

std::string targets(const Survey& s) {
  std::string t;
  for (const Target& b : s.balls) {
    t += "[[align.target]]\nname = " + quoted(b.name) + "\nball = " + diameter(*b.ball) + "\n";
    if (!b.touched) t += "lower = " + place(b.lower->at) + "\nupper = " + place(b.upper->at) + "\n";
    if (s.framed) t += "tool = " + place(s.to_tool * b.lower->at, 3) + "\n";
  }
  if (!s.dowels.empty())
    t += "# Dowels and holes that were found in both halves and lie on each other when closed. Where the lands touch "
         "there, "
         "each\n# is a target as well: take the # away.\n";
  for (const Target& d : s.dowels)
    t += "# [[align.target]]\n# name = " + quoted(d.name) + "\n# dowel = " + diameter(*d.dowel) +
         "\n# lower = " + place(d.lower->at) + "\n# upper = " + place(d.upper->at) + "\n";
  return t;
}

std::string lands(const Survey& s) {
  std::string t;
  for (const Region& r : cavity::proposed_lands(s.seal)) {
    t += "[[align.flange]]              # the land around the cavity, as found; used where \"flange\" is in method\n"
         "# method = [\"targets\", \"flange\"]   with   stand_off = \"" +
         number(s.seal.land_gap, 2) + " mm\"   (so far the lands are apart)\npath = [\n";
    for (const Vec3& p : r.path) t += "  " + place(p) + ",\n";
    t += "]\nradius = \"" + number(r.radius, 1) + " mm\"\n";
  }
  return t;
}

/// Where the halves are closed by what was touched by name.
std::string touched_section(const Survey& s) {
  if (s.datum.empty())
    return "[align]\n# Balls that were touched by the same names on both halves (column feature); the halves close on "
           "them to " +
           number(1e3 * s.ball_misfit, 0) +
           " µm.\n# A target without places is where the points of its name are. tool is where it lies in the tool "
           "frame of this job.\nmethod = \"targets\"\n"
           "# touch_u = \"0.02 mm\"             # standard uncertainty of a touched point; without it, by its "
           "scatter\n" +
           targets(s) + lands(s);
  std::string t = R"([align]
# A plane, a line and a point touched by the same names on both halves (column feature): a datum system. The plane gives
# Z, the line X, the point the origin; it is the tool frame. Closed, the two halves' systems are one.
method = "datum"
touch_u = "0.02 mm"            # standard uncertainty of a touched point (your number)
# stand_off = "0 mm"           # how far the two planes are apart when closed
)";
  for (const DatumFeature& f : s.datum)
    t += "[[align.feature]]\nname = " + quoted(f.name) + "\nkind = \"" +
         (f.kind == DatumKind::plane  ? "plane"
          : f.kind == DatumKind::line ? "line"
                                      : "point") +
         "\"\n";
  return t + lands(s);
}

bool by_touches(const Survey& s) {
  return !s.datum.empty() || std::any_of(s.balls.begin(), s.balls.end(), [](const Target& b) { return b.touched; });
}

std::string align_section(const Survey& s) {
  if (s.closed && !s.face_to_face && by_touches(s)) return touched_section(s);
  if (s.face_to_face)
    return R"([align]
# The two scans lie face to face, so they are taken as they are: both in the tool frame, mold closed.
# Z of that frame points from the lower half to the upper half.
method = "given"
given_u = "0.02 mm"            # how well that is known (standard uncertainty); your number
)" + targets(s) +
           lands(s);
  if (s.closed)
    return "[align]\n# The tooling balls found in both scans, matched by their distances; the halves close on them "
           "to " +
           number(1e3 * s.ball_misfit, 0) + " µm.\n# lower and upper are their places in the two scans" +
           (s.framed
                ? ", tool is where they lie in the tool frame of this job: its Z\n# leaves the flange towards the "
                  "upper half, its origin is the middle of the seal line. If the tool has datum\n# coordinates of its "
                  "own, put those in, and turn seal, lands and vent into them as well.\n"
                : "; the tool frame is the lower scan's own.\n") +
           "method = \"targets\"\n" + targets(s) + lands(s);
  return R"([align]
# The halves could not be brought together: )" +
         say(s.why_open) + R"(.
# Give three or more marks that are in both scans, at uneven distances, or take another method (README: given, flange,
# nominal). Balls that are found by their diameter need no places: ball = "20 mm" and no [[align.target]]. A dowel and its
# hole make a mark as well, with dowel = "12 mm" in place of ball and a place on each: the point where the axis of each
# meets the land. The lands touch there when closed; where they do not, give the points themselves, and u.
method = "targets"
# ball = "20 mm"                       # diameter of tooling balls (your number)
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

std::string seal_section(const Survey& s) {
  if (s.seal.ok()) {
    std::string t = "# " + say(seal_says(s.seal)) + "; known to about " + length_of(s, s.seal.u, 1) +
                    ". A seal that lies\n# farther out on the land leaves no trace there: check it.\nseal = [\n";
    for (const Vec3& p : s.seal.line) t += "  \"" + number(p.x(), 1) + ", " + number(p.y(), 1) + " mm\",\n";
    return t + "]\n";
  }
  return "# No seal line: " + say(s.closed ? seal_says(s.seal) : Message("survey.halves-first")) +
         ". Without one the whole face of the lower half\n# is judged, flanges and all, if none can be found then "
         "either. "
         "To judge the cavity only, in tool coordinates:\n"
         "# seal = [\"-200, -150 mm\", \"200, -150 mm\", \"200, 150 mm\", \"-200, 150 mm\"]\n";
}

/// A generic mat, in as many plies as reach across the gap: less would leave an open channel.
std::string laminate_section(double gap) {
  const auto& all = laminate::reinforcements();
  const auto named =
      std::find_if(all.begin(), all.end(), [](const auto& r) { return r.name == "chopped strand mat 450"; });
  const Reinforcement& r = named == all.end() ? all.front() : *named;
  const int count = std::max(1, static_cast<int>(std::ceil(gap / r.loft)));
  return "[laminate]\nresin_density = \"1.2 g/cm3\"\n"
         "# One [[laminate.ply]] per kind of glass, from the built-in list, or with your own numbers:\n"
         "# areal_weight, loft, density, permeability, compaction.\n[[laminate.ply]]\nglass = " +
         quoted(r.name) + "\ncount = " + std::to_string(count) + "\n" +
         R"(# [[laminate.radius]]         # an inside radius of the lower half, and how glass lies in it; the report lists those it sees
# path = ["-100, 80, 0 mm", "100, 80, 0 mm"]
# radius = "5 mm"
# packing = "tucked"           # packed, tucked, loose, roving
)";
}

/// What stands in the draft and was not seen.
std::string guesses(const Survey& s) {
  const bool unit_named = s.lower.scan.unit_declared && s.upper.scan.unit_declared;
  std::vector<std::string> open;
  if (!unit_named) open.insert(open.end(), {"lower.unit", "upper.unit"});
  if (s.face_to_face) open.push_back("align.given_u");
  if (s.closed && !s.datum.empty()) open.push_back("align.touch_u");
  open.insert(open.end(), {"cavity.nominal", "cavity.tolerance", "cavity.u_instrument"});
  if (s.seal.ok()) open.push_back("cavity.seal");
  open.insert(open.end(), {"laminate.resin_density", "laminate.ply.glass", "laminate.ply.count", "flow.viscosity",
                           "flow.pressure_limit", "flow.vacuum", "flow.inlet", "flow.vent.at"});
  std::string list;
  for (const auto& key : open) list += "  " + quoted(key) + ",\n";
  return list;
}

std::string job_section(const Survey& s) {
  const bool inch = in_inches(s);
  return R"(# A job for gapfront. Every number with a dimension is text with its unit: "3 mm", "120 thou", "1.2 bar".
# What could be read from the two scans is filled in. The rest is guessed: check every entry of the list "unconfirmed".

[job]
name = )" +
         quoted(fs::path(s.lower.scan.path).stem().string() + " and " + fs::path(s.upper.scan.path).stem().string()) +
         R"(
# tool = "…"
# date = "2026-01-31"
# photo = "tool.jpg"           # beside this file: shown in report and work order
units = ")" +
         (inch ? "inch" : "mm") + R"("                   # the report prints in "mm" or "inch"
# These entries are guesses, and every report says so. Check one in its place below, then take its line off this list.
unconfirmed = [
)" + guesses(s) +
         "]\n\n";
}

std::string halves_section(const Survey& s, const fs::path& relative_to) {
  return R"(# A half in several scans: file = ["a.ply", "b.ply"]; or [[lower.patch]] with file, and pose where they are not in one
# frame and have no three balls in common.
[lower]
file = )" +
         path_from(s.lower.scan.path, relative_to) + "\nunit = " + quoted(s.lower.unit) + "                    " +
         size_note(s, s.lower, !s.lower.scan.unit_declared) +
         "\n\n[upper]\nfile = " + path_from(s.upper.scan.path, relative_to) + "\nunit = " + quoted(s.upper.unit) +
         "                    " + size_note(s, s.upper, !s.upper.scan.unit_declared) + "\n\n";
}

std::string cavity_section(const Survey& s, double gap) {
  return "[cavity]\nnominal = \"" + length_of(s, gap, 1) + "\"             " +
         (s.gap > 0 ? "# as far as the halves are apart, a guess; put in the laminate thickness you want (your number)"
                    : "# the laminate thickness you want (your number)") +
         "\ntolerance = \"" + length_of(s, gap / 10, in_inches(s) ? 1 : 2) +
         "\"          # a tenth, to start with (your number)\n" + seal_section(s) +
         R"(u_instrument = "0.01 mm"       # standard uncertainty of the scanner; from its certificate (your number)
# least_area = "491 mm2"       # a place that is not measured decides from this size on (a disc of 25 mm)
# unmeasured_share = "1 %"     # and all such places together beyond this share of the area
# [[cavity.island]]            # what is no cavity inside the seal line: an insert, a core; at the end of [cavity]
# polygon = ["-20, -20 mm", "20, -20 mm", "20, 20 mm", "-20, 20 mm"]
# [[cavity.mask]]              # what else stands on the halves: a dowel, a clamp; targets are masked by themselves
# name = "dowel 1"
# at = "210, 40, 0 mm"
# radius = "15 mm"
# [cavity.readings]            # thickness readings (clay, wax, lead, parts), at the end of [cavity]
# file = "thickness.csv"       # its first line: x,y,z,thickness,U
# unit = "mm"
# use = "update"               # compare: beside the map; update: the map is carried over to them
# shrinkage = "0 %"            # of a part across its thickness by cure
# [instrument]                 # more of the certificate; gapfront instrument CHECK writes it from a check measurement
# per_metre = "0.02 mm"        # of the maximum permissible error of a length, A + L/K: what it gains on a metre
# step = "0.025 mm"            # bound of the step between neighbouring passes
# pass_width = "120 mm"        # of a pass

)";
}

}  // namespace
}  // namespace draft

Message seal_says(const SealProposal& seal) {
  switch (seal.found) {
    case SealFound::land:
      return Message("survey.seal-where-gap-leaves");
    case SealFound::rim:
      return Message("survey.seal-along-rim");
    case SealFound::no_flange:
      return Message("survey.no-flange-plane");
    case SealFound::no_edge:
      return Message("survey.land-end-not-seen");
    case SealFound::open:
      return Message("survey.land-not-scanned");
    case SealFound::tilted:
      return Message("survey.z-not-off-flange");
  }
  return {};
}

std::string draft_job(const Survey& s, const std::filesystem::path& relative_to) {
  using namespace draft;
  const double gap = s.gap > 0 ? s.gap : 3;  // 3 mm: a usual laminate, as a start
  return job_section(s) + halves_section(s, relative_to) + align_section(s) + "\n" + cavity_section(s, gap) +
         laminate_section(gap) + flow_section(s);
}

}  // namespace gapfront::pipeline
