// Thickness readings as a shop writes them down: a title line, then a reading per line.
#include <algorithm>
#include <array>
#include <cctype>
#include "core/list_line.hpp"
#include "gapfront/scan.hpp"
#include "scan/formats.hpp"

namespace gapfront {
namespace {
using namespace reading;

enum Column { col_x, col_y, col_z, col_place, col_thickness, col_U, col_count };
constexpr const char* kTitles[col_count] = {"x", "y", "z", "place", "thickness", "u"};

struct ListLayout {
  char separator = ',';
  std::array<int, col_count> at{-1, -1, -1, -1, -1, -1};
};

ListLayout layout_of(Input& in, std::string_view title) {
  ListLayout out;
  out.separator = lists::separator_of(title);
  const auto cells = lists::cells_of(title, out.separator);
  for (std::size_t k = 0; k < cells.size(); ++k) {
    std::string word(cells[k]);
    for (char& c : word) c = char(std::tolower(static_cast<unsigned char>(c)));
    const auto known = std::find(std::begin(kTitles), std::end(kTitles), word);
    if (known == std::end(kTitles))
      in.fail_line("the column " + quote(cells[k]) + " is not known; title the columns x, y, z or place, thickness, U");
    int& column = out.at[std::size_t(known - std::begin(kTitles))];
    if (column >= 0) in.fail_line("the column " + quote(cells[k]) + " is there twice; remove one");
    column = int(k);
  }
  const bool places = out.at[col_x] >= 0 && out.at[col_y] >= 0 && out.at[col_z] >= 0;
  if (out.at[col_thickness] < 0 || (!places && out.at[col_place] < 0))
    in.fail_line("needs the columns x, y, z (or place) and thickness; write them as the first line, x,y,z,thickness,U");
  return out;
}

double number_in(Input& in, const ListLayout& l, std::string_view cell, const char* what) {
  double v = 0;
  if (!parse_number(lists::with_point(cell, l.separator), v) || !std::isfinite(v))
    in.fail_line(std::string(what) + " is " + quote(cell) + ", no number; correct or remove the line");
  return v;
}

}  // namespace

std::vector<ReadingRow> scan::read_readings(const std::filesystem::path& file, double unit) {
  Input in(file);
  std::vector<ReadingRow> out;
  std::optional<ListLayout> layout;
  for (std::string_view line; in.line(line);) {
    if (in.line_number() == 1 && line.starts_with("\xEF\xBB\xBF")) line.remove_prefix(3);
    if (const auto text = lists::trimmed(line); text.empty() || text.front() == '#') continue;
    if (!layout) {
      layout = layout_of(in, line);
      continue;
    }
    const ListLayout& l = *layout;
    const auto cells = lists::cells_of(line, l.separator);
    const auto cell = [&](Column c) {
      return l.at[c] >= 0 && std::size_t(l.at[c]) < cells.size() ? cells[l.at[c]] : std::string_view();
    };
    ReadingRow row;
    row.line = in.line_number(), row.place = std::string(cell(col_place));
    if (!cell(col_x).empty())
      row.at = unit * Vec3(number_in(in, l, cell(col_x), "x"), number_in(in, l, cell(col_y), "y"),
                           number_in(in, l, cell(col_z), "z"));
    row.thickness = unit * number_in(in, l, cell(col_thickness), "thickness");
    if (!cell(col_U).empty()) row.U = unit * number_in(in, l, cell(col_U), "U");
    if (!(row.thickness > 0) || (row.U && !(*row.U > 0)))
      in.fail_line("thickness and U must be greater than zero; correct or remove the line");
    if (!row.at && row.place.empty()) in.fail_line("says no place; give x, y, z or the name of a place of the job");
    out.push_back(std::move(row));
  }
  if (out.empty()) in.fail_file("holds no reading; write x,y,z,thickness,U as the first line and a reading per line");
  return out;
}

}  // namespace gapfront
