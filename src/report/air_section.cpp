// What stays of air: map, classes, what would cure it.
#include "report/html.hpp"

namespace gapfront::report {
namespace {

using D = Dimension;

const char* air_word(AirClass c) {
  switch (c) {
    case AirClass::sound:
      return "air.sound";
    case AirClass::in_bundles:
      return "air.in-bundles";
    case AirClass::between_bundles:
      return "air.between-bundles";
    case AirClass::dry_below:
      return "air.dry-below";
    case AirClass::dry:
      return "air.dry";
  }
  return "";
}

/// A piece of the map's own pattern, beside its words.
std::string swatch(AirClass c) {
  constexpr int kWidth = 44, kHeight = 20;  // pixels: two and more of the largest pattern
  std::vector<std::uint8_t> rgba;
  for (int y = 0; y < kHeight; ++y)
    for (int x = 0; x < kWidth; ++x) {
      const Rgb ink = air_colour(c, x, y);
      rgba.insert(rgba.end(), {ink.r, ink.g, ink.b, 255});
    }
  return "<img class=\"swatch\" alt=\"\" width=\"" + std::to_string(kWidth) + "\" height=\"" + std::to_string(kHeight) +
         "\" src=\"" + png_data_uri(rgba, kWidth, kHeight) + "\">";
}

std::string air_table(const ResidualAir& a, const Voice& v) {
  const double all = a.whole();
  std::vector<std::vector<std::string>> rows{
      heads(v, {"air.pattern", "air.what-stays", "page.area", "air.share", "air.share-held"})};
  for (std::size_t k = 0; k < kAirClasses; ++k) {
    const auto c = static_cast<AirClass>(k);
    rows.push_back({swatch(c), told(v, air_word(c)), with_unit(a.area[k], D::area, v), percent(a.area[k] / all, 1, v),
                    percent(a.held[k] / all, 1, v)});
  }
  return table(rows, told(v, "air.table"));
}

}  // namespace

std::string air_section(const Inspection& r) {
  const ResidualAir& a = r.air;
  if (!a.computed || a.node.size() != r.sheet.size()) return "";
  const Voice v = voice_of(r.job);
  std::string out =
      "<h3>" + told(v, "air.title") + "</h3>\n<div class=\"pair\">" +
      air_figure(r, "<b>" + told(v, full_sentence({Message("air.title")})) + "</b> " + told(v, "air.by-saw-cut")) +
      "<div></div></div>\n" + air_table(a, v);  // as wide as one of two maps at a row
  Text said;
  if (a.formed_inside + a.formed_between > 0)
    said.push_back(Message("air.left-by-front",
                           {arg::volume(a.formed_inside), arg::volume(a.formed_between), arg::volume(a.bled)}));
  said.push_back(Message("air.vacuum-left-on"));
  if (a.worst >= 0 && a.worst < static_cast<int>(r.sheet.size()))
    said.push_back(Message("air.most-bubbles", {arg::place(r.sheet.mesh.points[a.worst]),
                                                arg::fraction(a.inside[a.worst] + a.between[a.worst], 1)}));
  Messages worms;
  for (const WormedRadius& w : a.wormed)
    worms.push_back(Message("air.worm", {arg::name(w.name), arg::length(w.length, 0), arg::mass(w.roving)}));
  out += para(told(v, said)) + list(r, worms);
  return out + para(told(v, "air.limits"));
}

}  // namespace gapfront::report
