#include "cli/terminal.hpp"

#include <sys/ioctl.h>
#include <unistd.h>

#include <algorithm>
#include <cstdlib>
#include <sstream>
#include <string_view>

namespace gapfront::cli {
namespace {

constexpr std::size_t kLabel = 12;      // "Work order  "
constexpr std::size_t kNarrowest = 40;  // below that lines of single words are no help

/// Columns that a word takes: letters of UTF-8, without the marks of bold.
std::size_t letters(std::string_view word) {
  std::size_t n = 0;
  bool mark = false;
  for (const char c : word) {
    if (c == '\033') mark = true;
    if (!mark && (static_cast<unsigned char>(c) & 0xc0) != 0x80) ++n;
    if (mark && c == 'm') mark = false;
  }
  return n;
}

}  // namespace

std::string harmless(std::string line) {
  for (char& c : line)
    if (c == '\n' || c == '\r')
      c = ' ';
    else if ((static_cast<unsigned char>(c) < 0x20 && c != '\t') || c == 0x7f)
      c = '?';
  return line;
}

std::size_t terminal_columns() {
  winsize size{};
  if (!isatty(STDOUT_FILENO) || ioctl(STDOUT_FILENO, TIOCGWINSZ, &size) != 0) return 0;
  return size.ws_col;
}

bool styled_terminal() {
  const char *no = std::getenv("NO_COLOR"), *term = std::getenv("TERM");
  return isatty(STDOUT_FILENO) && (!no || !*no) && !(term && std::string_view(term) == "dumb");
}

std::string bold(const std::string& text, bool styled) { return styled ? "\033[1m" + text + "\033[0m" : text; }

std::string broken_at(const std::string& text, std::size_t columns) {
  if (columns < kNarrowest) return text;
  std::istringstream lines(text);
  std::string out;
  for (std::string line; std::getline(lines, line);) {
    const bool labelled = line.size() > kLabel && line[kLabel - 1] == ' ' && line[kLabel] != ' ' &&
                          (line[0] == ' ' || line.substr(0, kLabel).find("  ") != std::string::npos);
    const std::size_t indent = labelled ? kLabel : 0;
    std::size_t at = indent;
    out += line.substr(0, indent);
    bool first = true;
    for (std::size_t from = indent; from < line.size();) {
      const std::size_t to = std::min(line.find(' ', from), line.size());
      const std::string word = line.substr(from, to - from);
      const std::size_t wide = letters(word);
      if (!first && at + 1 + wide > columns) {
        out += "\n" + std::string(indent, ' ') + word;
        at = indent + wide;
      } else {
        out += (first ? "" : " ") + word;
        at += (first ? 0 : 1) + wide;
      }
      first = false, from = to + 1;
    }
    out += "\n";
  }
  return out;
}

}  // namespace gapfront::cli
