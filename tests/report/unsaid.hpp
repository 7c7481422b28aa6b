// What a page says that is in no catalogue.
#pragma once
#include <algorithm>
#include <cctype>
#include <set>
#include <string>
#include <vector>

/// Without what stands between ⟦ and ⟧.
inline std::string without_said(const std::string& text) {
  static const std::string open = "⟦", close = "⟧";
  std::string out;
  int depth = 0;
  for (std::size_t i = 0; i < text.size();) {
    if (text.compare(i, open.size(), open) == 0) {
      ++depth, i += open.size();
    } else if (depth > 0 && text.compare(i, close.size(), close) == 0) {
      --depth, i += close.size();
    } else {
      if (depth == 0) out += text[i];
      ++i;
    }
  }
  return out;
}

/// Whether there is a word in it: entities, units and names of formats are none.
inline bool has_word(const std::string& text) {
  static const std::set<std::string> same{"mm", "cm",  "in", "thou", "min", "bar", "psi", "Pa",  "kPa", "mL",
                                          "kg", "ppm", "kN", "lbf",  "gal", "oz",  "En",  "SHA", "PDF", "JSON"};
  std::string word;
  bool entity = false;
  for (const char c : text + " ") {
    if (std::isalpha(static_cast<unsigned char>(c))) {
      word += c;
      continue;
    }
    if (!entity && word.size() > 1 && same.count(word) == 0) return true;
    word.clear();
    entity = c == '&';
  }
  return false;
}

/// What a reader sees of a page, line by line, and the labels that are read out. Names from the job (translate="no"),
/// code and scripts are left out.
inline std::vector<std::string> lines_of(const std::string& html) {
  static const std::set<std::string> parts_of_a_line{"b", "small", "sub", "i", "span", "tspan", "br", "code"},
      left_out{"code", "pre", "style", "script"};
  std::vector<std::string> out;
  std::string line;
  const auto end_line = [&](const std::string& text) {
    if (!text.empty()) out.push_back(text);
  };
  for (std::size_t at = 0; at < html.size();) {
    if (html[at] != '<') {
      line += html[at++];
      continue;
    }
    std::size_t end = std::min(html.find('>', at), html.size() - 1) + 1;
    const std::string tag = html.substr(at, end - at);
    const bool closes = tag.size() > 1 && tag[1] == '/';
    const std::size_t from = closes ? 2 : 1;
    const std::string name = tag.substr(from, tag.find_first_of(" />", from) - from);
    if (!closes && (left_out.count(name) > 0 || tag.find("translate=\"no\"") != std::string::npos))
      end = std::min(html.find("</" + name + ">", end), html.size() - name.size() - 3) + name.size() + 3;
    static const std::string label = "aria-label=\"";
    if (const std::size_t begin = tag.find(label); begin != std::string::npos)
      end_line(tag.substr(begin + label.size(), tag.find('"', begin + label.size()) - begin - label.size()));
    if (parts_of_a_line.count(name) == 0) end_line(line), line.clear();
    at = end;
  }
  end_line(line);
  return out;
}

/// Of a page in the language "marked" (see catalogue.hpp): its lines with words outside of the marks.
inline std::vector<std::string> unsaid(const std::string& html) {
  std::vector<std::string> out;
  for (const std::string& line : lines_of(html))
    if (const std::string rest = without_said(line); has_word(rest)) out.push_back(rest);
  return out;
}
