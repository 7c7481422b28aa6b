#include "cli/expectation.hpp"

#include <cmath>
#include <cstdio>
#include <fstream>
#include <iterator>
#include <ostream>

#include "gapfront/error.hpp"
#include "gapfront/report.hpp"

namespace gapfront::cli {
namespace {

std::string earlier(const std::filesystem::path& file) {
  std::ifstream in(file, std::ios::binary);
  if (!in) throw Error(Fault::input, "--expects: " + file.string() + ": cannot be opened; give an earlier result.json");
  return {std::istreambuf_iterator<char>(in), {}};
}

}  // namespace

Prediction read_prediction(const std::filesystem::path& result, const Job& job) {
  const auto file = std::filesystem::is_directory(result) ? result / "result.json" : result;
  Inspection r;
  try {
    r = read_result(earlier(file));
  } catch (const Error& e) {
    const std::string what = e.what();
    throw Error(e.fault, what.starts_with("--expects") ? what : "--expects: " + file.string() + ": " + what);
  }
  const auto fail = [&](const std::string& line) {
    throw Error(Fault::input, "--expects: " + file.string() + ": " + line);
  };
  if (!job.tool.empty() && !r.job.tool.empty() && job.tool != r.job.tool)
    fail("is of tool \"" + r.job.tool + "\", but the job is of \"" + job.tool + "\"; give a result of the same tool");
  if (r.plan.chosen.empty())
    fail("chose no correction, so it predicts nothing; give the result that the work followed");
  const auto column = [&](const char* id) -> const std::vector<double>& {
    const auto it = r.columns.find(id);
    if (it == r.columns.end()) fail(std::string("lacks the field ") + id + "; inspect those scans again");
    return it->second;
  };
  Prediction p;
  p.name = r.job.name, p.date = r.job.date, p.plan = r.plan;
  p.before = column("gap_mm"), p.after = column("gap_after_mm");
  const auto &lower = column("u_lower_mm"), &upper = column("u_upper_mm"), &instrument = column("u_instrument_mm"),
             &registration = column("u_registration_mm"), &temperature = column("u_temperature_mm");
  // Results from before fit areas were kept: those of the new scans may stand in (see confirm()).
  const auto area = r.columns.find("fit_area_mm2");
  p.gap.registration = r.alignment.covariance, p.gap.pivot = r.alignment.pivot, p.gap.coverage = r.gap.coverage;
  p.gap.nodes.resize(p.before.size());
  for (std::size_t i = 0; i < p.before.size(); ++i) {
    NodeGap& n = p.gap.nodes[i];
    n.measured = std::isfinite(p.before[i]);
    if (!n.measured) continue;
    n.gap = p.before[i], n.direction = r.sheet.normals[i];
    n.u_lower = lower[i], n.u_upper = upper[i], n.u_instrument = instrument[i], n.u_registration = registration[i],
    n.u_temperature = temperature[i];
    if (area != r.columns.end() && std::isfinite(area->second[i])) n.fit_area = area->second[i];
  }
  p.sheet = std::move(r.sheet);
  return p;
}

std::string prediction_words(const Prediction& p) {
  return "\"" + p.name + "\"" + (p.date.empty() ? "" : ", " + p.date);
}

void test_prediction(const Prediction& p, Inspection& r) {
  r.expects = prediction_words(p);
  r.confirmed = confirm(p, r.sheet, r.gap);
}

void print_expected(const Inspection& r, std::ostream& out) {
  if (r.expects.empty()) return;
  out << "Predicted   by " << r.expects << "\n";
  char line[160];
  const bool inch = r.job.units == UnitSystem::inch;
  const double unit = inch ? 25.4 : 1;
  std::snprintf(line, sizeof line, "            %-10s %10s %10s %10s %10s %6s   (%s)\n", "", "before", "predicted",
                "achieved", "U", "En", inch ? "in" : "mm");
  out << line;
  for (const auto& c : r.confirmed) {
    const std::string name = c.correction + (c.part.empty() ? "" : " " + c.part);
    if (c.can_tell)
      std::snprintf(line, sizeof line, "            %-10s %10.*f %10.*f %10.*f %10.*f %6.2f   ", name.c_str(),
                    inch ? 4 : 3, c.before / unit, inch ? 4 : 3, c.predicted / unit, inch ? 4 : 3, c.achieved / unit,
                    inch ? 4 : 3, std::hypot(c.predicted_U, c.achieved_U) / unit, c.En);
    else
      std::snprintf(line, sizeof line, "            %-10s %52s", name.c_str(), "");
    out << line << c.says << "\n";
  }
}

}  // namespace gapfront::cli
