#include <cstdio>
#include <iostream>
#include <nlohmann/json.hpp>

#include "cli/commands.hpp"
#include "gapfront/error.hpp"
#include "gapfront/scan.hpp"
#include "gapfront/units.hpp"

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

nlohmann::ordered_json as_json(const Scan& scan, const CleanReport& c, const ScanFacts& f) {
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
                           {"likely_unit", f.likely_unit},
                           {"likely_unit_reason", f.likely_unit_reason},
                           {"read", c.read},
                           {"not_finite", c.nonfinite},
                           {"duplicates", c.duplicates},
                           {"clutter", c.clutter},
                           {"outliers", c.outliers},
                           {"holes", nlohmann::ordered_json::array()}};
  for (const auto& h : f.holes) j["holes"].push_back({{"centre_mm", vec(h.centre)}, {"area_mm2", h.area}});
  return j;
}

/// The widest first; a long list helps nobody on a terminal.
constexpr std::size_t holes_shown = 5;

void print(const Scan& scan, const CleanReport& c, const ScanFacts& f) {
  const Vec3 size = f.high - f.low;
  std::cout << scan.path << " (" << scan.format << ")\n"
            << "  points     " << f.points << " kept of " << c.read << "; left out: " << c.nonfinite << " not finite, "
            << c.duplicates << " duplicates, " << c.clutter << " clutter, " << c.outliers << " outliers\n"
            << "  size       " << triple(size) << "\n"
            << "  from       " << triple(f.low) << "\n  to         " << triple(f.high) << "\n"
            << "  unit       "
            << (f.unit_declared ? "as given with --unit" : "likely " + f.likely_unit + ": " + f.likely_unit_reason)
            << "\n  spacing    " << number(f.spacing, 3) << " mm\n  noise      " << number(f.noise, 4) << " mm\n"
            << "  normals    " << (f.has_normals ? "yes" : "no") << "\n  holes      ";
  if (f.holes.empty())
    std::cout << "none found\n";
  else
    std::cout << f.holes.size() << "\n";
  for (std::size_t i = 0; i < std::min(holes_shown, f.holes.size()); ++i)
    std::cout << "             " << format_area(f.holes[i].area, UnitSystem::mm) << " at " << triple(f.holes[i].centre)
              << "\n";
}

}  // namespace

int run_look(const LookArguments& arguments) {
  ReadOptions read;
  if (!arguments.unit.empty()) {
    read.unit = length_unit(arguments.unit);
    if (!read.unit)
      throw Error(Fault::input, "--unit: unknown unit \"" + arguments.unit + "\"; known: mm, cm, m, um, in, thou, ft");
  }
  const Progress progress = terminal_progress(false);
  auto all = nlohmann::ordered_json::array();
  for (const auto& file : arguments.files) {
    Scan scan = read_scan(file, read, progress);
    if (scan.cloud.points.empty())
      throw Error(Fault::input, file.string() + ": no usable points; export the scan again");
    const CleanReport cleaned = clean(scan, {}, progress);
    const ScanFacts facts = look(scan, cleaned, progress);
    clear_progress();
    if (arguments.json)
      all.push_back(as_json(scan, cleaned, facts));
    else
      print(scan, cleaned, facts);
  }
  if (arguments.json) std::cout << all.dump(2) << "\n";
  return 0;
}

}  // namespace gapfront::cli
