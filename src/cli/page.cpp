#include "cli/page.hpp"

#include <algorithm>
#include <sstream>

#include "core/letters.hpp"

namespace gapfront::cli {
namespace {

constexpr std::size_t kWidth = 96;  // a terminal of 100 columns holds it; 80 would break most of the lines to type
constexpr std::size_t kTerms = 22;  // terms up to here have their meaning beside them, longer ones below
constexpr std::size_t kIndent = 2;

/// Signs, not bytes: the continuation bytes of UTF-8 take no column.
/// Words from column `at` on, wrapped, each further line indented by `indent`; ends the line.
void wrap(std::ostream& out, const std::string& text, std::size_t at, std::size_t indent) {
  std::istringstream in(text);
  std::string word;
  bool first = true;
  while (in >> word) {
    if (!first && at + 1 + letters_in(word) > kWidth) {
      out << "\n" << std::string(indent, ' ');
      at = indent;
    } else if (!first) {
      out << ' ';
      ++at;
    }
    out << word;
    at += letters_in(word);
    first = false;
  }
  out << "\n";
}

std::vector<std::string> paragraphs(const std::string& text) {
  std::vector<std::string> out;
  for (std::size_t from = 0; from < text.size();) {
    const std::size_t to = std::min(text.find("\n\n", from), text.size());
    out.push_back(text.substr(from, to - from));
    from = to + 2;
  }
  return out;
}

/// What troff would take for a command or an escape; a minus, so that an option can be copied from the page.
std::string troff(const std::string& text) {
  std::string out;
  for (const char c : text) {
    if (c == '.' && (out.empty() || out.back() == '\n')) out += "\\&";
    if (c == '\\')
      out += "\\e";
    else if (c == '-')
      out += "\\-";
    else if (c == '\'')
      out += "\\(aq";
    else if (c == '"')
      out += "\\(dq";
    else
      out += c;
  }
  return out;
}

std::string quoted(const std::string& text) { return '"' + troff(text) + '"'; }

std::string dashed(std::string name) {
  std::replace(name.begin(), name.end(), ' ', '-');
  return name;
}

std::string upper_case(std::string s) {
  for (char& c : s)
    if (c >= 'a' && c <= 'z') c = static_cast<char>(c - 'a' + 'A');
  return s;
}

}  // namespace

std::string terminal_text(const ManualPage& page) {
  std::ostringstream out;
  wrap(out, page.name + " – " + page.title, 0, kIndent);
  for (const Part& part : page.parts) {
    out << "\n" << part.heading << "\n";
    const std::string in(kIndent, ' ');
    for (const auto& line : part.lines) out << in << line << "\n";
    bool first = part.lines.empty();
    for (const auto& paragraph : paragraphs(part.text)) {
      out << (first ? "" : "\n") << in;
      wrap(out, paragraph, kIndent, kIndent);
      first = false;
    }
    if (!part.items.empty() && !first) out << "\n";
    for (const Item& item : part.items) {
      const std::size_t wide = letters_in(item.term);
      out << in << item.term;
      if (item.text.empty()) {
        out << "\n";
        continue;
      }
      if (wide + 2 > kTerms)
        out << "\n" << std::string(kIndent + kTerms, ' ');
      else
        out << std::string(kTerms - wide, ' ');
      wrap(out, item.text, kIndent + kTerms, kIndent + kTerms);
    }
  }
  return out.str();
}

std::string man_text(const ManualPage& page) {
  std::ostringstream out;
  out << ".\\\" Made by \"gapfront manual\".\n.TH " << quoted(upper_case(dashed(page.name))) << " " << page.section
      << " \"\" " << quoted(std::string("gapfront ") + GAPFRONT_VERSION) << " \"gapfront\"\n.SH NAME\n"
      << troff(dashed(page.name)) << " \\- " << troff(page.title) << "\n";
  for (const Part& part : page.parts) {
    out << ".SH " << quoted(part.heading) << "\n";
    if (!part.lines.empty()) {
      out << ".nf\n";
      for (const auto& line : part.lines) out << troff(line) << "\n";
      out << ".fi\n";
    }
    bool first = part.lines.empty();
    for (const auto& paragraph : paragraphs(part.text)) {
      out << (first ? "" : ".PP\n") << troff(paragraph) << "\n";
      first = false;
    }
    for (const Item& item : part.items) out << ".TP\n.B " << quoted(item.term) << "\n" << troff(item.text) << "\n";
  }
  return out.str();
}

std::string man_file(const ManualPage& page) { return dashed(page.name) + "." + std::to_string(page.section); }

}  // namespace gapfront::cli
