#include <cstdio>
#include <iostream>
#include <nlohmann/json.hpp>

#include "cli/commands.hpp"
#include "core/nearest_word.hpp"
#include "gapfront/check.hpp"
#include "gapfront/error.hpp"
#include "gapfront/scan.hpp"
#include "gapfront/survey.hpp"
#include "gapfront/text.hpp"
#include "gapfront/units.hpp"
#include "units/inch.hpp"

namespace gapfront::cli {
namespace {

std::string number(double x, int decimals) {
  char s[64];
  std::snprintf(s, sizeof s, "%.*f", decimals, x);
  return s;
}

std::string triple(const Vec3& v) {
  return number(v.x(), 1) + ", " + number(v.y(), 1) + ", " + number(v.z(), 1) + " mm";
}

/// RMS distance of the ball's points from the sphere of its diameter, mm: large for a dented ball, or one that is none.
double form_of(const SurveyedScan& s, const FoundBall& b) {
  return align::fit_sphere(s.scan.cloud.points, b.centre.at, {.radius = b.diameter / 2, .noise = s.clean.noise}).rms;
}

nlohmann::ordered_json as_json(const SurveyedScan& s) {
  const Scan& scan = s.scan;
  const CleanReport& c = s.clean;
  const ScanFacts& f = s.facts;
  const auto vec = [](const Vec3& v) { return nlohmann::ordered_json{v.x(), v.y(), v.z()}; };
  nlohmann::ordered_json j{{"file", scan.path},
                           {"format", scan.format},
                           {"sha256", scan.sha256},
                           {"points", f.points},
                           {"low_mm", vec(f.low)},
                           {"high_mm", vec(f.high)},
                           {"spacing_mm", f.spacing},
                           {"noise_mm", f.noise},
                           {"has_normals", f.has_normals},
                           {"unit_declared", f.unit_declared},
                           {"unit", s.unit},
                           {"likely_unit", f.likely_unit},
                           {"likely_unit_reason", say(f.likely_unit_reason)},
                           {"read", c.read},
                           {"not_finite", c.nonfinite},
                           {"duplicates", c.duplicates},
                           {"clutter", c.clutter},
                           {"outliers", c.outliers},
                           {"holes", nlohmann::ordered_json::array()}};
  for (const auto& h : f.holes) j["holes"].push_back({{"centre_mm", vec(h.centre)}, {"area_mm2", h.area}});
  j["balls"] = nlohmann::ordered_json::array();
  for (const auto& b : s.balls)
    j["balls"].push_back({{"centre_mm", vec(b.centre.at)},
                          {"diameter_mm", b.diameter},
                          {"measured_mm", b.measured},
                          {"u_mm", b.u},
                          {"form_mm", form_of(s, b)},
                          {"points", b.points}});
  j["dowels"] = nlohmann::ordered_json::array();
  for (const auto& d : s.dowels)
    j["dowels"].push_back({{"at_mm", vec(d.at.at)},
                           {"axis", vec(d.axis)},
                           {"diameter_mm", d.diameter},
                           {"measured_mm", d.measured},
                           {"points", d.points}});
  return j;
}

nlohmann::ordered_json as_json(const Survey& s) {
  const auto vec = [](const Vec3& v) { return nlohmann::ordered_json{v.x(), v.y(), v.z()}; };
  nlohmann::ordered_json j{
      {"closed", s.closed},     {"face_to_face", s.face_to_face},           {"why_open", say(s.why_open)},
      {"median_gap_mm", s.gap}, {"balls", nlohmann::ordered_json::array()}, {"seal", nullptr}};
  for (const Target& t : s.balls)
    j["balls"].push_back(
        {{"name", t.name}, {"diameter_mm", *t.ball}, {"lower_mm", vec(t.lower->at)}, {"upper_mm", vec(t.upper->at)}});
  j["dowels"] = nlohmann::ordered_json::array();
  for (const Target& t : s.dowels)
    j["dowels"].push_back(
        {{"name", t.name}, {"diameter_mm", *t.dowel}, {"lower_mm", vec(t.lower->at)}, {"upper_mm", vec(t.upper->at)}});
  if (!s.closed) return j;
  auto line = nlohmann::ordered_json::array();
  for (const Vec3& p : s.seal.line) line.push_back(vec(p));
  j["seal"] = {{"found", s.seal.ok()},
               {"how", say(pipeline::seal_says(s.seal))},
               {"line_mm", line},
               {"known_to_mm", s.seal.u},
               {"share_with_land_beside", s.seal.confidence},
               {"land_width_mm", s.seal.land_width},
               {"lands_apart_mm", s.seal.land_gap}};
  return j;
}

// Three points are the least that has an extent both ways.
constexpr std::size_t kFewest = 3;
/// The widest first; a long list helps nobody on a terminal.
constexpr std::size_t kHolesShown = 5;

void print(const SurveyedScan& s) {
  const Scan& scan = s.scan;
  const CleanReport& c = s.clean;
  const ScanFacts& f = s.facts;
  const Vec3 size = f.high - f.low;
  const bool e57 = scan.format.starts_with("E57");
  std::cout << scan.path << " (" << scan.format << ")\n"
            << "  points     " << f.points << " kept of " << c.read << "; left out: " << c.nonfinite
            << (e57 ? " not finite or marked invalid, " : " not finite, ") << c.duplicates << " duplicates, "
            << c.clutter << " clutter, " << c.outliers << " outliers\n"
            << "  size       " << triple(size) << "\n"
            << "  from       " << triple(f.low) << "\n  to         " << triple(f.high) << "\n"
            << "  unit       "
            << (f.unit_declared ? s.unit + (e57 ? ", as all E57 files are" : ", as given")
                                : "likely " + f.likely_unit + ": " + say(f.likely_unit_reason))
            << (s.scan.unit == 1 ? "" : "; all lengths here are mm, converted") << "\n  spacing    "
            << number(f.spacing, 3) << " mm\n  noise      " << number(f.noise, 4) << " mm\n"
            << "  normals    " << (f.has_normals ? "yes" : "no") << "\n  holes      ";
  if (f.holes.empty())
    std::cout << "none found\n";
  else
    std::cout << f.holes.size() << "\n";
  for (std::size_t i = 0; i < std::min(kHolesShown, f.holes.size()); ++i)
    std::cout << "             " << format_area(f.holes[i].area, UnitSystem::mm) << " at " << triple(f.holes[i].centre)
              << "\n";
}

void print_balls(const SurveyedScan& s) {
  std::cout << "  balls      ";
  if (s.balls.empty()) std::cout << "none found from 4 to 60 mm in diameter\n";
  for (const auto& b : s.balls)
    std::cout << (&b == &s.balls.front() ? "" : "             ") << number(b.diameter, 2) << " mm (measured "
              << number(b.measured, 3) << " mm, form error " << number(form_of(s, b), 3) << " mm RMS) at "
              << triple(b.centre.at) << "\n";
}

void print_dowels(const SurveyedScan& s) {
  for (const auto& d : s.dowels)
    std::cout << (&d == &s.dowels.front() ? "  dowels     " : "             ") << number(d.diameter, 2)
              << " mm, dowel or hole (measured " << number(d.measured, 3) << " mm), meets the land at "
              << triple(d.at.at) << "\n";
}

}  // namespace

void print_pair(const Survey& s, std::ostream& out) {
  // As the job will be: in inches where the scans are.
  const bool inches = s.lower.unit == "in" || s.lower.unit == "thou" || s.lower.unit == "ft";
  const auto length = [&](double mm, int decimals) {
    return inches ? number(mm / inch, decimals + 1) + " in" : number(mm, decimals) + " mm";
  };
  const auto place = [&](const Vec3& at) {
    if (!inches) return triple(at);
    return number(at.x() / inch, 2) + ", " + number(at.y() / inch, 2) + ", " + number(at.z() / inch, 2) + " in";
  };
  for (const Target& t : s.balls)
    out << "Ball        " << t.name << ", " << length(*t.ball, 2) << ", lower " << place(t.lower->at) << ", upper "
        << place(t.upper->at) << "\n";
  for (const DatumFeature& f : s.datum)
    out << "Feature     " << f.name << ", "
        << (f.kind == DatumKind::plane  ? "plane"
            : f.kind == DatumKind::line ? "line"
                                        : "point")
        << ", touched on both halves\n";
  if (s.balls.empty() && s.datum.empty()) out << "Balls       none that match in both scans\n";
  for (const Target& t : s.dowels)
    out << "Dowel       " << t.name << ", " << length(*t.dowel, 2) << ", lower " << place(t.lower->at) << ", upper "
        << place(t.upper->at) << "\n";
  out << "Closed      ";
  if (s.by_readings)
    out << "by readings of the thickness alone: no upper half was scanned\n";
  else if (!s.closed)
    out << "no: " << say(s.why_open) << "\n";
  else if (s.face_to_face)
    out << "as they lie, face to face\n";
  else if (!s.datum.empty())
    out << "by the datum system of these features\n";
  else
    out << "by the balls, to " << number(1e3 * s.ball_misfit, 0) << " um\n";
  if (s.gap > 0)
    out << "Faces       " << length(s.gap, inches ? 2 : 1)
        << " apart (median), a first guess at the nominal thickness\n";
  if (s.by_readings) return;
  out << "Seal line   "
      << (s.closed ? say(pipeline::seal_says(s.seal)) : "not looked for: " + say(Message("survey.halves-first")))
      << "\n";
  if (s.seal.ok())
    out << "            " << s.seal.line.size() << " corners, known to about " << length(s.seal.u, 1) << "; land of "
        << length(s.seal.land_width, 0) << " beside " << number(100 * s.seal.confidence, 0) << " % of it, halves there "
        << length(s.seal.land_gap, 2) << " apart\n";
}

int run_look(const LookArguments& arguments) {
  ReadOptions read;
  if (!arguments.unit.empty()) {
    read.unit = length_unit(arguments.unit);
    if (!read.unit)
      throw Error(Fault::input,
                  "--unit: unknown unit \"" + arguments.unit + "\"; " + suggestion(arguments.unit, length_units()));
  }
  for (const auto& file : arguments.files) check_scan_file(file);
  const Progress progress = terminal_progress(false);
  auto all = nlohmann::ordered_json::array();
  std::vector<SurveyedScan> scans;
  for (const auto& file : arguments.files) {
    SurveyedScan s = pipeline::survey_scan(file, read, progress);
    clear_progress();
    if (s.facts.points < kFewest)
      throw Error(Fault::input, file.string() + ": holds " + std::to_string(s.facts.points) +
                                    (s.facts.points == 1 ? " point" : " points") +
                                    ", of which neither size nor unit can be told; check the export, and which "
                                    "columns are x, y and z");
    if (arguments.json)
      all.push_back(as_json(s));
    else
      print(s), print_balls(s), print_dowels(s);
    // Two are taken for the halves of one mold; of more, nobody says which belong together.
    if (arguments.files.size() == 2) scans.push_back(std::move(s));
  }
  if (scans.size() == 2) {
    try {
      const Survey pair = pipeline::survey_pair(std::move(scans[0]), std::move(scans[1]));
      if (arguments.json)
        all.back()["pair"] = as_json(pair);
      else
        std::cout << "Together, the first as the lower half and the second as the upper\n", print_pair(pair, std::cout);
    } catch (const Error& e) {
      if (e.fault == Fault::cancelled) throw;
      if (!arguments.json) std::cout << "Together    " << e.what() << "\n";
    }
  }
  if (arguments.json) std::cout << all.dump(2) << "\n";
  return 0;
}

}  // namespace gapfront::cli
