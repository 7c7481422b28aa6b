// Thickness readings as a shop writes them down: a title line, then a reading per line.
#include "gapfront/scan.hpp"
#include "scan/titled_list.hpp"

namespace gapfront {

std::vector<ReadingRow> scan::read_readings(const std::filesystem::path& file, double unit) {
  enum Column { col_x, col_y, col_z, col_place, col_thickness, col_U };
  reading::TitledList list(file, {"x", "y", "z", "place", "thickness", "U"},
                           "title the columns x, y, z or place, thickness, U");
  const bool places = list.has(col_x) && list.has(col_y) && list.has(col_z);
  if (list.titled() && (!list.has(col_thickness) || (!places && !list.has(col_place))))
    list.fail_line(
        "needs the columns x, y, z (or place) and thickness; write them as the first line, x,y,z,thickness,U");
  std::vector<ReadingRow> out;
  while (list.row()) {
    ReadingRow row;
    row.line = list.line_number(), row.place = std::string(list.cell(col_place));
    if (!list.cell(col_x).empty()) row.at = unit * Vec3(list.number(col_x), list.number(col_y), list.number(col_z));
    row.thickness = unit * list.number(col_thickness);
    if (!list.cell(col_U).empty()) row.U = unit * list.number(col_U);
    if (!(row.thickness > 0) || (row.U && !(*row.U > 0)))
      list.fail_line("thickness and U must be greater than zero; correct or remove the line");
    if (!row.at && row.place.empty()) list.fail_line("says no place; give x, y, z or the name of a place of the job");
    out.push_back(std::move(row));
  }
  if (out.empty()) list.fail_file("holds no reading; write x,y,z,thickness,U as the first line and a reading per line");
  return out;
}

}  // namespace gapfront
