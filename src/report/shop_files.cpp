#include "report/shop_files.hpp"

#include <algorithm>
#include <cmath>
#include <vector>

#include "core/letters.hpp"
#include "report/csv.hpp"
#include "report/templates.hpp"
#include "units/inch.hpp"

namespace gapfront::report {
namespace {

using Vec2 = Eigen::Vector2d;

/// Towards the cavity, at the node nearest to a place on the face that is worked. Both faces are taken for parallel
/// there: where they are not, over a gap of millimetres, the direction is off by their slope against each other.
Vec3 out_of_face(const Sheet& s, const Vec3& at, bool upper) {
  if (s.size() == 0) return Vec3::Zero();
  std::size_t near = 0;
  for (std::size_t i = 1; i < s.size(); ++i)
    if ((s.mesh.points[i] - at).squaredNorm() < (s.mesh.points[near] - at).squaredNorm()) near = i;
  return upper ? Vec3(-s.normals[near]) : s.normals[near];
}

// ---- DXF, release 12: pairs of lines, a group's code and its value.

/// How letters and signs of the five languages are written without accents: a laser burns what it reads.
constexpr std::pair<char32_t, std::string_view> kPlain[] = {
    {U'ä', "ae"},     {U'ö', "oe"},    {U'ü', "ue"}, {U'Ä', "Ae"}, {U'Ö', "Oe"}, {U'Ü', "Ue"},   {U'ß', "ss"},
    {U'à', "a"},      {U'á', "a"},     {U'â', "a"},  {U'ã', "a"},  {U'ç', "c"},  {U'è', "e"},    {U'é', "e"},
    {U'ê', "e"},      {U'ë', "e"},     {U'ì', "i"},  {U'í', "i"},  {U'î', "i"},  {U'ï', "i"},    {U'ñ', "n"},
    {U'ò', "o"},      {U'ó', "o"},     {U'ô', "o"},  {U'õ', "o"},  {U'ù', "u"},  {U'ú', "u"},    {U'û', "u"},
    {U'œ', "oe"},     {U'À', "A"},     {U'Á', "A"},  {U'Â', "A"},  {U'Ã', "A"},  {U'Ç', "C"},    {U'È', "E"},
    {U'É', "E"},      {U'Ê', "E"},     {U'Í', "I"},  {U'Î', "I"},  {U'Ñ', "N"},  {U'Ó', "O"},    {U'Ô', "O"},
    {U'Õ', "O"},      {U'Ú', "U"},     {U'Œ', "OE"}, {U'−', "-"},  {U'–', "-"},  {U'°', " deg"}, {U'µ', "u"},
    {U'·', "."},      {U'’', "'"},     {U'“', "\""}, {U'”', "\""}, {U'„', "\""}, {U'«', "\""},   {U'»', "\""},
    {U'\u00a0', " "}, {U'\u202f', " "}};

/// Letters that every reader of release 12 knows; what has no such spelling becomes a question mark.
std::string plain(std::string_view text) {
  std::string out;
  for (const char32_t c : letters_of(text)) {
    const auto known =
        std::find_if(std::begin(kPlain), std::end(kPlain), [&](const auto& pair) { return pair.first == c; });
    if (known != std::end(kPlain))
      out += known->second;
    else if (c >= 32 && c < 127)
      out += static_cast<char>(c);
    else if (c > 127)
      out += '?';
  }
  return out;
}

class Dxf {
 public:
  void group(int code, const std::string& value) { text_ += std::to_string(code) + "\r\n" + value + "\r\n"; }
  void group(int code, double value) { group(code, number_cell(value, 4)); }
  void point(int code, const Vec2& p) { group(code, p.x()), group(code + 10, p.y()), group(code + 20, 0.0); }
  void entity(const char* kind, const std::string& layer) {
    group(0, kind), group(8, layer);
    if (std::find(layers_.begin(), layers_.end(), layer) == layers_.end()) layers_.push_back(layer);
  }
  void line(const std::vector<Vec2>& points, const std::string& layer) {
    if (points.size() < 2) return;
    const bool closed = points.size() > 2 && (points.front() - points.back()).norm() < 1e-6;
    entity("POLYLINE", layer), group(66, "1"), point(10, Vec2::Zero()), group(70, closed ? "1" : "0");
    for (std::size_t k = 0; k + (closed ? 1 : 0) < points.size(); ++k) {
      entity("VERTEX", layer), point(10, points[k]);
      low_ = low_.cwiseMin(points[k]), high_ = high_.cwiseMax(points[k]);
    }
    entity("SEQEND", layer);
  }
  void mark(const Vec2& at, const std::string& layer) { entity("POINT", layer), point(10, at); }
  void words(const Vec2& at, double size, const std::string& text, const std::string& layer) {
    entity("TEXT", layer), point(10, at), group(40, size), group(1, plain(text));
  }
  /// The whole file around what was drawn. Release 12 has no unit of its own: that it is mm stands in a comment, and
  /// the bar tells.
  std::string file(const std::string& title) const {
    Dxf out;
    out.group(999, plain(title) + ", mm");
    out.group(0, "SECTION"), out.group(2, "HEADER"), out.group(9, "$ACADVER"), out.group(1, "AC1009");
    out.group(9, "$EXTMIN"), out.point(10, low_), out.group(9, "$EXTMAX"), out.point(10, high_);
    out.group(0, "ENDSEC"), out.group(0, "SECTION"), out.group(2, "TABLES");
    out.table("LTYPE", 1), out.group(0, "LTYPE"), out.group(2, "CONTINUOUS"), out.group(70, "0");
    out.group(3, "Solid line"), out.group(72, "65"), out.group(73, "0"), out.group(40, 0.0), out.group(0, "ENDTAB");
    out.table("LAYER", layers_.size() + 1), out.layer("0");
    for (const std::string& name : layers_) out.layer(name);
    out.group(0, "ENDTAB"), out.group(0, "ENDSEC"), out.group(0, "SECTION"), out.group(2, "ENTITIES");
    out.text_ += text_;
    out.group(0, "ENDSEC"), out.group(0, "EOF");
    return out.text_;
  }

 private:
  void table(const char* name, std::size_t entries) {
    group(0, "TABLE"), group(2, name), group(70, std::to_string(entries));
  }
  void layer(const std::string& name) {
    group(0, "LAYER"), group(2, name), group(70, "0"), group(62, "7"), group(6, "CONTINUOUS");
  }

  std::string text_;
  std::vector<std::string> layers_;
  Vec2 low_ = Vec2::Constant(1e20), high_ = Vec2::Constant(-1e20);  // as release 12 writes an empty drawing
};

/// "CONTOUR_0-20": a point is no letter of a layer's name.
std::string contour_layer(double depth) {
  std::string name = "CONTOUR_" + number_cell(depth, 2);
  std::replace(name.begin(), name.end(), '.', '-');
  return name;
}

void draw_template(Dxf& d, const Template& t, const Voice& voice) {
  d.line(t.outline, "OUTLINE");
  for (const ThicknessLine& l : t.contours) {
    std::vector<Vec2> flat;
    for (const Vec3& p : l.line) flat.emplace_back(p.head<2>());
    d.line(flat, contour_layer(l.depth));
  }
  for (const DepthStop& s : t.stops) {
    const Vec2 at = s.at.head<2>();
    d.mark(at, "STOPS"), d.words(at + Vec2(1, 1), 2.5, std::to_string(s.number), "STOPS");
  }
  for (const JoinMark& j : t.joins) d.mark(j.at, "MARKS"), d.words(j.at + Vec2(1, 1), 4, j.name, "MARKS");
  // The mark in the middle, the arrow along the tool's axis, and the rays that turn it the right way.
  d.mark(Vec2::Zero(), "MARKS"), d.line({Vec2::Zero(), Vec2(20, 0)}, "MARKS");
  d.words(Vec2(21, -1.5), 3, std::string(1, t.along), "MARKS");
  double reach = 15, lowest = 0;
  for (const Vec2& p : t.outline) reach = std::max(reach, p.norm() + 5), lowest = std::min(lowest, p.y());
  for (const PaperRay& ray : t.rays) {
    d.line({10 * ray.towards, reach * ray.towards}, "MARKS");
    d.words(reach * ray.towards, 3, say(ray.to, voice), "MARKS");
  }
  const Vec2 bar(0, lowest - 12);
  d.line({bar, bar + Vec2(100, 0)}, "CHECK"), d.words(bar + Vec2(2, 1), 3, "100 mm", "CHECK");
}

}  // namespace

std::string depth_stops_csv(const Inspection& r) {
  std::string rows;
  for (const int k : r.plan.chosen) {
    const Correction& c = r.plan.candidates[k];
    if (c.kind != Kind::build_up && c.kind != Kind::relief) continue;
    for (const DepthStop& s : c.stops) {
      const Vec3 out = out_of_face(r.sheet, s.at, c.face == "upper");
      const double change = c.kind == Kind::relief ? -s.depth : s.depth;
      const Vec3 after = s.at + change * out;
      rows += text_cell(c.name) + "," + text_cell(to_string(c.kind)) + "," + text_cell(c.face) + "," +
              std::to_string(s.number);
      for (const Vec3* v : {&s.at, &out, &after})
        for (int axis = 0; axis < 3; ++axis) rows += "," + number_cell((*v)[axis], v == &out ? 4 : 3);
      rows += "," + number_cell(change, 3) + "," + number_cell(change / inch, 4) + "\r\n";
    }
  }
  if (rows.empty()) return "";
  return "correction,kind,face,stop,x_mm,y_mm,z_mm,i,j,k,after_x_mm,after_y_mm,after_z_mm,change_mm,change_in\r\n" +
         rows;
}

FileSet template_dxfs(const Inspection& r) {
  FileSet out;
  for (const int k : r.plan.chosen) {
    const Correction& c = r.plan.candidates[k];
    for (const Template& t : c.templates) {
      Dxf d;
      draw_template(d, t, voice_of(r.job));
      const std::string title = say(template_name(c, t)) + ", " + r.job.name;
      out.push_back({template_file(c, t, ".dxf"), d.file(title)});
    }
  }
  return out;
}

}  // namespace gapfront::report
