#include <algorithm>

#include "job/sections.hpp"

namespace gapfront::job {
namespace {

Target read_target(Table& t, std::vector<std::string>& names) {
  Target target;
  target.name = t.need("name", t.text("name"), "\"B1\"");
  refuse_duplicate(t, target.name, names);
  target.ball = t.quantity("ball", Dimension::length, Sign::positive);
  target.lower = t.point("lower");
  target.upper = t.point("upper");
  target.tool = t.point("tool");
  target.u = t.quantity("u", Dimension::length, Sign::not_negative);
  if (!target.lower && !target.upper) t.fail("give its place in the scans: lower = \"x, y, z mm\" and upper = …");
  t.done();
  return target;
}

}  // namespace

void read_align(Table t, Job& job) {
  static const std::vector<std::pair<std::string, AlignMethod>> methods{{"given", AlignMethod::given},
                                                                        {"targets", AlignMethod::targets}};
  auto& align = job.align;
  if (const auto words = t.texts("method"); t.has("method")) {
    align.methods.clear();
    for (const auto& w : words) {
      const auto m = std::find_if(methods.begin(), methods.end(), [&](const auto& known) { return known.first == w; });
      if (m == methods.end()) t.fail("method", "unknown method \"" + w + "\"; known: given, targets");
      if (std::count(align.methods.begin(), align.methods.end(), m->second))
        t.fail("method", "\"" + w + "\" is given twice");
      align.methods.push_back(m->second);
    }
    if (align.methods.empty()) t.fail("method", "names no method; known: given, targets");
  }
  align.given_u = t.quantity("given_u", Dimension::length, Sign::not_negative);
  std::vector<std::string> names;
  for (auto& target : t.tables("target")) align.targets.push_back(read_target(target, names));
  if (align.targets.empty() && align.methods == std::vector{AlignMethod::targets})
    t.fail(
        "method \"targets\" needs targets; add three or more [[align.target]] sections (method = \"given\" is only for "
        "scans that already lie closed in one frame)");
  t.done();
}

void read_correct(Table t, Job& job) {
  auto& c = job.correct;
  c.stock = t.quantities("stock", Dimension::length, Sign::positive);
  if (const auto n = t.number("max_pieces", Sign::positive)) {
    if (*n != static_cast<int>(*n) || *n > 20) t.fail("max_pieces", "must be a whole number from 1 to 20");
    c.max_pieces = static_cast<int>(*n);
  }
  c.face = t.text("face").value_or("");
  if (c.face != "" && c.face != "lower" && c.face != "upper") t.fail("face", "must be \"lower\" or \"upper\"");
  c.min_size = t.quantity("min_size", Dimension::length, Sign::positive).value_or(c.min_size);
  std::vector<std::string> names;
  for (auto& s : t.tables("station")) {
    Station station;
    station.name = s.need("name", s.text("name"), "\"S1\"");
    refuse_duplicate(s, station.name, names);
    station.at = s.need("at", s.point("at"), "\"-230, -180, 0 mm\"");
    station.present = s.quantity("present", Dimension::length, Sign::not_negative).value_or(0);
    s.done();
    c.stations.push_back(std::move(station));
  }
  t.done();
}

}  // namespace gapfront::job
