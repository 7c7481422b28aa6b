// A list as a spreadsheet writes it: a title line says which column is which, then a row per line.
#pragma once
#include <filesystem>
#include <string>
#include <string_view>
#include <vector>
#include "scan/input.hpp"

namespace gapfront::reading {

/// Empty lines are left out, and what stands behind a '#'. A decimal comma is read where it separates no columns.
class TitledList {
 public:
  /// Reads up to the title line. Throws Error{Fault::input} for a title that is not among `titles` (in any case) or is
  /// there twice; `advice` names them. A file without a title line has no columns and no row.
  TitledList(const std::filesystem::path&, std::vector<std::string> titles, const std::string& advice);

  /// Whether there is a title line at all.
  bool titled() const { return !line_.empty(); }
  bool has(std::size_t title) const { return at_[title] >= 0; }
  /// Moves on to the next row; false at the end of the file.
  bool row();
  std::uint64_t line_number() const { return in_.line_number(); }
  /// Of this row, without the blanks and quotes around it; empty where the row ends before or the column is not there.
  std::string_view cell(std::size_t title) const;
  /// The cell's number; throws where it holds none.
  double number(std::size_t title) const;

  [[noreturn]] void fail_line(const std::string& fault) const { in_.fail_line(fault); }
  [[noreturn]] void fail_file(const std::string& fault) const { in_.fail_file(fault); }

 private:
  bool next();

  Input in_;
  std::vector<std::string> titles_;
  std::vector<int> at_;
  char separator_ = ',';
  std::string_view line_;
  std::vector<std::string_view> cells_;
};

}  // namespace gapfront::reading
