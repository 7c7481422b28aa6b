#include "scan/titled_list.hpp"
#include <algorithm>
#include <cmath>
#include "core/list_line.hpp"
#include "scan/formats.hpp"

namespace gapfront::reading {

TitledList::TitledList(const std::filesystem::path& file, std::vector<std::string> titles, const std::string& advice)
    : in_(file), titles_(std::move(titles)), at_(titles_.size(), -1) {
  if (!next()) return;
  separator_ = lists::separator_of(line_);
  const auto cells = lists::cells_of(line_, separator_);
  for (std::size_t k = 0; k < cells.size(); ++k) {
    const auto known = std::find_if(titles_.begin(), titles_.end(), [&](const std::string& title) {
      return lists::lower_case(title) == lists::lower_case(cells[k]);
    });
    if (known == titles_.end()) fail_line("the column " + quote(cells[k]) + " is not known; " + advice);
    int& column = at_[std::size_t(known - titles_.begin())];
    if (column >= 0) fail_line("the column " + quote(cells[k]) + " is there twice; remove one");
    column = int(k);
  }
}

bool TitledList::next() {
  while (in_.line(line_)) {
    if (line_number() == 1 && line_.starts_with("\xEF\xBB\xBF")) line_.remove_prefix(3);
    line_ = line_.substr(0, line_.find('#'));
    if (!lists::trimmed(line_).empty()) return true;
  }
  line_ = {};
  return false;
}

bool TitledList::row() {
  if (!next()) return false;
  cells_ = lists::cells_of(line_, separator_);
  return true;
}

std::string_view TitledList::cell(std::size_t title) const {
  return has(title) && std::size_t(at_[title]) < cells_.size() ? cells_[std::size_t(at_[title])] : std::string_view();
}

double TitledList::number(std::size_t title) const {
  double v = 0;
  if (!parse_number(lists::with_point(cell(title), separator_), v) || !std::isfinite(v))
    fail_line(titles_[title] + " is " + quote(cell(title)) + ", no number; correct or remove the line");
  return v;
}

}  // namespace gapfront::reading
