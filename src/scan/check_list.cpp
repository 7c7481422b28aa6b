// A check measurement as it is written down: a title line, then a row per measured length, sphere, flat or step.
#include <algorithm>
#include <cmath>

#include "core/list_line.hpp"
#include "gapfront/instrument.hpp"
#include "scan/titled_list.hpp"

namespace gapfront {
namespace {

enum Column { col_kind, col_reference, col_measured };
constexpr const char* kKinds[] = {"length", "sphere", "flat", "step"};

}  // namespace

std::vector<CheckRow> scan::read_check(const std::filesystem::path& file, double unit) {
  reading::TitledList list(file, {"kind", "reference", "measured"}, "title the columns kind, reference, measured");
  if (list.titled() && !(list.has(col_kind) && list.has(col_reference) && list.has(col_measured)))
    list.fail_line("needs three columns; write them as the first line, kind,reference,measured");
  std::vector<CheckRow> out;
  while (list.row()) {
    CheckRow row;
    const auto kind = std::find(std::begin(kKinds), std::end(kKinds), lists::lower_case(list.cell(col_kind)));
    if (kind == std::end(kKinds))
      list.fail_line(reading::quote(list.cell(col_kind)) + " is no kind of row; write length, sphere, flat or step");
    row.kind = CheckRow::Kind(kind - std::begin(kKinds));
    if (!list.cell(col_reference).empty()) row.reference = unit * list.number(col_reference);
    row.measured = unit * list.number(col_measured);
    const bool by_length = row.kind == CheckRow::Kind::length || row.kind == CheckRow::Kind::flat;
    if (row.reference < 0 || (by_length && !(row.reference > 0)))
      list.fail_line("reference must be a length above zero; give the calibrated length, or that of the flat");
    if (row.measured < 0 && row.kind != CheckRow::Kind::step)
      list.fail_line("measured is below zero; give the measured length itself, not its error, or a range");
    // Lengths that are off by a tenth are errors written in their place, or another unit.
    if (row.kind == CheckRow::Kind::length && std::abs(row.measured / row.reference - 1) > 0.1)
      list.fail_line("measured and reference differ by more than a tenth; give both as lengths in one unit");
    out.push_back(row);
  }
  if (out.empty())
    list.fail_file("holds no measurement; write kind,reference,measured as the first line and a row per measurement");
  return out;
}

}  // namespace gapfront
