// A check measurement as it is written down: a title line, then a row per measured length, sphere, flat or step.
#include <algorithm>
#include <array>
#include <cctype>

#include "core/list_line.hpp"
#include "gapfront/instrument.hpp"
#include "scan/formats.hpp"

namespace gapfront {
namespace {
using namespace reading;

struct CheckLayout {
  char separator = ',';
  std::array<int, 3> at{-1, -1, -1};  // kind, reference, measured
};

constexpr const char* kCheckTitles[] = {"kind", "reference", "measured"};
constexpr const char* kKinds[] = {"length", "sphere", "flat", "step"};

std::string lower_case(std::string_view s) {
  std::string out(s);
  for (char& c : out) c = char(std::tolower(static_cast<unsigned char>(c)));
  return out;
}

CheckLayout check_layout_of(Input& in, std::string_view title) {
  CheckLayout out;
  out.separator = lists::separator_of(title);
  const auto cells = lists::cells_of(title, out.separator);
  for (std::size_t k = 0; k < cells.size(); ++k) {
    const auto known = std::find(std::begin(kCheckTitles), std::end(kCheckTitles), lower_case(cells[k]));
    if (known == std::end(kCheckTitles))
      in.fail_line("the column " + quote(cells[k]) + " is not known; title the columns kind, reference, measured");
    int& column = out.at[std::size_t(known - std::begin(kCheckTitles))];
    if (column >= 0) in.fail_line("the column " + quote(cells[k]) + " is there twice; remove one");
    column = int(k);
  }
  if (std::count(out.at.begin(), out.at.end(), -1) > 0)
    in.fail_line("needs three columns; write them as the first line, kind,reference,measured");
  return out;
}

double check_number(Input& in, const CheckLayout& l, std::string_view cell, const char* what) {
  double v = 0;
  if (!parse_number(lists::with_point(cell, l.separator), v) || !std::isfinite(v))
    in.fail_line(std::string(what) + " is " + quote(cell) + ", no number; correct or remove the line");
  return v;
}

}  // namespace

std::vector<CheckRow> scan::read_check(const std::filesystem::path& file, double unit) {
  Input in(file);
  std::vector<CheckRow> out;
  std::optional<CheckLayout> layout;
  for (std::string_view line; in.line(line);) {
    if (in.line_number() == 1 && line.starts_with("\xEF\xBB\xBF")) line.remove_prefix(3);
    line = line.substr(0, line.find('#'));  // a remark stands behind it
    if (lists::trimmed(line).empty()) continue;
    if (!layout) {
      layout = check_layout_of(in, line);
      continue;
    }
    const auto cells = lists::cells_of(line, layout->separator);
    const auto cell = [&](std::size_t c) {
      return std::size_t(layout->at[c]) < cells.size() ? cells[std::size_t(layout->at[c])] : std::string_view();
    };
    CheckRow row;
    const auto kind = std::find(std::begin(kKinds), std::end(kKinds), lower_case(cell(0)));
    if (kind == std::end(kKinds))
      in.fail_line(quote(cell(0)) + " is no kind of row; write length, sphere, flat or step");
    row.kind = CheckRow::Kind(kind - std::begin(kKinds));
    if (!cell(1).empty()) row.reference = unit * check_number(in, *layout, cell(1), "reference");
    row.measured = unit * check_number(in, *layout, cell(2), "measured");
    const bool by_length = row.kind == CheckRow::Kind::length || row.kind == CheckRow::Kind::flat;
    if (row.reference < 0 || (by_length && !(row.reference > 0)))
      in.fail_line("reference must be a length above zero; give the calibrated length, or that of the flat");
    if (row.measured < 0 && row.kind != CheckRow::Kind::step)
      in.fail_line("measured is below zero; give the measured length itself, not its error, or a range");
    // Lengths that are off by a tenth are errors written in their place, or another unit.
    if (row.kind == CheckRow::Kind::length && std::abs(row.measured / row.reference - 1) > 0.1)
      in.fail_line("measured and reference differ by more than a tenth; give both as lengths in one unit");
    out.push_back(row);
  }
  if (out.empty())
    in.fail_file("holds no measurement; write kind,reference,measured as the first line and a row per measurement");
  return out;
}

}  // namespace gapfront
