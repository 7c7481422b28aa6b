// Lines of a list as a spreadsheet writes them: a title line, then cells between separators.
#pragma once
#include <algorithm>
#include <cctype>
#include <string>
#include <string_view>
#include <vector>

namespace gapfront::lists {

/// Without the blanks and quotes around it.
inline std::string_view trimmed(std::string_view s) {
  constexpr std::string_view kAround = " \t\r\"";
  const auto from = s.find_first_not_of(kAround);
  return from == s.npos ? std::string_view() : s.substr(from, s.find_last_not_of(kAround) - from + 1);
}

/// Titles mean the same in either case.
inline std::string lower_case(std::string_view s) {
  std::string out(s);
  for (char& c : out) c = static_cast<char>(std::tolower(static_cast<unsigned char>(c)));
  return out;
}

/// What separates the titles: a semicolon, else a tab, else a comma.
inline char separator_of(std::string_view titles) {
  return titles.find(';') != titles.npos ? ';' : titles.find('\t') != titles.npos ? '\t' : ',';
}

/// Each trimmed.
inline std::vector<std::string_view> cells_of(std::string_view line, char separator) {
  std::vector<std::string_view> out;
  for (;;) {
    const auto end = line.find(separator);
    out.push_back(trimmed(line.substr(0, end)));
    if (end == line.npos) return out;
    line.remove_prefix(end + 1);
  }
}

/// A number's cell with a decimal point: a comma may stand for it where it separates nothing.
inline std::string with_point(std::string_view cell, char separator) {
  std::string out(cell);
  if (separator != ',') std::replace(out.begin(), out.end(), ',', '.');
  return out;
}

}  // namespace gapfront::lists
