#include <algorithm>

#include "job/sections.hpp"

namespace gapfront::job {
namespace {

Target read_target(Table& t, std::vector<std::string>& names) {
  Target target;
  target.name = t.need("name", t.text("name"), "\"B1\"");
  refuse_duplicate(t, target.name, names);
  target.ball = t.quantity("ball", Dimension::length, Sign::positive);
  target.dowel = t.quantity("dowel", Dimension::length, Sign::positive);
  if (target.ball && target.dowel) t.fail("dowel", "is given beside ball, another kind of target; give one of them");
  if (const auto p = t.point("lower")) target.lower = ScanPlace{*p};
  if (const auto p = t.point("upper")) target.upper = ScanPlace{*p};
  target.tool = t.point("tool");
  target.u = t.quantity("u", Dimension::length, Sign::not_negative);
  target.mask = t.quantity("mask", Dimension::length, Sign::not_negative);
  target.touched = !target.lower && !target.upper;
  if (target.touched && target.dowel) t.fail("give its place in the scans: lower = \"x, y, z mm\" and upper = …");
  t.done();
  return target;
}

DatumFeature read_feature(Table& t, std::vector<std::string>& names) {
  DatumFeature f;
  f.name = t.need("name", t.text("name"), "\"A\"");
  refuse_duplicate(t, f.name, names);
  const std::string kind = t.need("kind", t.text("kind"), "\"plane\"");
  const std::vector<std::string> kinds{"plane", "line", "point"};
  const auto at = std::find(kinds.begin(), kinds.end(), kind);
  if (at == kinds.end()) t.refuse_word("kind", kind, kinds);
  f.kind = static_cast<DatumKind>(at - kinds.begin());
  t.done();
  return f;
}

std::vector<Region> read_regions(Table& t, const std::string& key) {
  std::vector<Region> out;
  for (auto& part : t.tables(key)) {
    out.push_back(read_region(part));
    part.done();
  }
  return out;
}

void read_flange(Table& t, AlignOptions& align) {
  align.flange = read_regions(t, "flange");
  align.stand_off = t.quantity("stand_off", Dimension::length, Sign::not_negative).value_or(0);
  align.flange_within = t.quantity("flange_within", Dimension::length, Sign::positive).value_or(align.flange_within);
  align.in_plane_u = t.quantity("in_plane_u", Dimension::length, Sign::positive);
  const bool used = align::uses(align, AlignMethod::flange), apart = used || align::uses(align, AlignMethod::datum);
  for (const char* key : {"stand_off", "flange_within", "in_plane_u"})
    if (t.has(key) && !(key == std::string("stand_off") ? apart : used))
      t.fail(key, key == std::string("stand_off")
                      ? "is only for method \"flange\" or \"datum\"; add one of them to method, or take the key out"
                      : "is only for method \"flange\"; add it to method, or take the key out");
}

void read_nominal(Table& t, Job& job) {
  auto& align = job.align;
  const std::filesystem::path folder = job.file.parent_path();
  const auto file = [&](const std::string& key) -> std::filesystem::path {
    const auto name = t.text(key);
    return name ? folder / *name : std::filesystem::path();
  };
  job.nominal_lower = file("nominal_lower");
  job.nominal_upper = file("nominal_upper");
  align.datum = read_regions(t, "datum");
  align.fit_on_cavity = t.flag("fit_on_cavity").value_or(false);
  if (!align::uses(align, AlignMethod::nominal)) {
    for (const char* key : {"nominal_lower", "nominal_upper", "datum", "fit_on_cavity"})
      if (t.has(key)) t.fail(key, "is only for method \"nominal\"; add it to method, or take the key out");
    return;
  }
  if (job.nominal_lower.empty() || job.nominal_upper.empty())
    t.fail(
        "method \"nominal\" needs both nominal surfaces; add nominal_lower = \"lower.stl\" and nominal_upper = "
        "\"upper.stl\", in tool coordinates, halves closed");
  if (align.datum.empty() && align.flange.empty() && !align.fit_on_cavity)
    t.fail(
        "method \"nominal\" needs datum faces; add [[align.datum]] with polygon, box or path, or fit_on_cavity = true, "
        "which hides part of the gap's error");
}

}  // namespace

void read_align(Table t, Job& job) {
  static const std::vector<std::pair<std::string, AlignMethod>> methods{{"given", AlignMethod::given},
                                                                        {"targets", AlignMethod::targets},
                                                                        {"flange", AlignMethod::flange},
                                                                        {"nominal", AlignMethod::nominal},
                                                                        {"datum", AlignMethod::datum}};
  auto& align = job.align;
  if (const auto words = t.texts("method"); t.has("method")) {
    align.methods.clear();
    for (const auto& w : words) {
      const auto m = std::find_if(methods.begin(), methods.end(), [&](const auto& known) { return known.first == w; });
      if (m == methods.end()) t.refuse_word("method", w, {"given", "targets", "flange", "nominal", "datum"});
      if (std::count(align.methods.begin(), align.methods.end(), m->second))
        t.fail("method", "\"" + w + "\" is given twice");
      align.methods.push_back(m->second);
    }
    if (align.methods.empty()) t.fail("method", "names no method; known: given, targets, flange, nominal, datum");
  }
  align.given_u = t.quantity("given_u", Dimension::length, Sign::not_negative);
  read_flange(t, align);
  read_nominal(t, job);
  std::vector<std::string> names, features;
  for (auto& feature : t.tables("feature")) align.features.push_back(read_feature(feature, features));
  if (!align.features.empty() && !align::uses(align, AlignMethod::datum))
    t.fail("feature", "is only for method \"datum\"; add it to method, or take the key out");
  align.touch_u = t.quantity("touch_u", Dimension::length, Sign::positive);
  for (auto& target : t.tables("target")) align.targets.push_back(read_target(target, names));
  align.seat_play = t.quantity("seat_play", Dimension::length, Sign::not_negative).value_or(align.seat_play);
  align.tool_play = t.quantity("tool_play", Dimension::length, Sign::not_negative).value_or(align.tool_play);
  align.find_ball = t.quantity("ball", Dimension::length, Sign::positive);
  if (align.find_ball && !align.targets.empty())
    t.fail("ball", "finds the balls by itself; give either ball or [[align.target]] sections, not both");
  if (align.targets.empty() && !align.find_ball && align::uses(align, AlignMethod::targets))
    t.fail(
        "method \"targets\" needs targets; add three or more [[align.target]] sections, or ball = \"20 mm\" to find "
        "balls of that diameter (method = \"given\" is only for "
        "scans that already lie closed in one frame)");
  t.done();
}

}  // namespace gapfront::job
