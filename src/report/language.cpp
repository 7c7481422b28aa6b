#include "report/language.hpp"

#include <algorithm>
#include <cctype>
#include <set>

#include "gapfront/catalogue.hpp"
#include "units/words.hpp"

namespace gapfront::report {
namespace {

bool is_letter(char c) { return std::isalpha(static_cast<unsigned char>(c)) != 0; }

void replace_all(std::string& s, const std::string& from, const std::string& to) {
  for (std::size_t at = 0; (at = s.find(from, at)) != std::string::npos; at += to.size())
    s.replace(at, from.size(), to);
}

/// Numbers, signs, units and axis names only: the same in every language but for the decimal sign.
bool is_quantity(const std::string& s) {
  static const std::set<std::string> units{"mm",   "cm",  "m",    "in",  "thou",    "s",     "min", "h",  "bar", "psi",
                                           "Pa",   "kPa", "Pa·s", "L",   "mL",      "L/min", "g",   "kg", "oz",  "ppm",
                                           "mm/m", "cm²", "cm³",  "in²", "in³",     "mm²",   "µm",  "x",  "y",   "z",
                                           "U",    "X",   "Y",    "Z",   "gal/min", "N",     "kN",  "lbf"};
  std::string word;
  const auto known = [&] {
    const bool letters = std::any_of(word.begin(), word.end(), is_letter);
    const bool good = !letters || units.count(word) > 0;
    word.clear();
    return good;
  };
  std::string t = s;
  replace_all(t, "\u00a0", " ");
  for (char c : t)
    if (c == ' ' || c == ',' || c == ';' || c == '(' || c == ')') {
      if (!known()) return false;
    } else {
      word += c;
    }
  return known();
}

/// Whether there is anything to translate: two letters in a row outside tags, entities and what stays as it is.
bool has_words(std::string s) {
  for (const auto& [from, to] : {std::pair{"<code", "</code>"}, std::pair{"<span translate", "</span>"}})
    for (std::size_t at; (at = s.find(from)) != std::string::npos;) s.erase(at, s.find(to, at) - at);
  bool inside = false, entity = false;
  int run = 0;
  for (char c : s) {
    if (c == '<') inside = true;
    if (c == '&') entity = true;
    run = !inside && !entity && is_letter(c) ? run + 1 : 0;
    if (run == 2) return true;
    if (c == '>') inside = false;
    if (c == ';') entity = false;
  }
  return false;
}

/// Whether an unknown text may be a name from the job. In a template of few letters, which fits much, it is one word.
bool is_name(const std::string& s, std::size_t letters) {
  if (s.find("; ") != std::string::npos || s.find(". ") != std::string::npos || s.back() == '.') return false;
  // "{1} at {2}" has 4 letters, the shortest sentence some 20. A glass may be called by five words.
  return std::count(s.begin(), s.end(), ' ') <= (letters < 12 ? 0 : 4);
}

std::string name_of(const std::string& tag) {
  std::size_t from = tag.size() > 1 && tag[1] == '/' ? 2 : 1, to = from;
  while (to < tag.size() && std::isalnum(static_cast<unsigned char>(tag[to]))) ++to;
  return tag.substr(from, to - from);
}

/// Text from outside reaches the page escaped; the catalogue is written plainly. Both signs are harmless in content.
std::string plain_quotes(std::string s) {
  replace_all(s, "&#39;", "'");
  replace_all(s, "&quot;", "\"");
  return s;
}

std::string without_marks(std::string s) {
  s.erase(std::remove_if(s.begin(), s.end(), [](char c) { return c == told_from || c == told_to; }), s.end());
  return s;
}

/// Where the next sentence begins; npos when there is none.
std::size_t next_sentence(const std::string& s, const std::string& end, std::size_t from) {
  const std::size_t at = s.find(end, from);
  return at == std::string::npos ? at : at + end.size();
}

}  // namespace

std::vector<Entry> catalogue() {
  std::vector<Entry> all;
  for (const auto& [id, english] : catalogue_of("en")->texts) {
    if (id.rfind("test.", 0) == 0 || id.rfind("list.", 0) == 0 || id.rfind("join.", 0) == 0)
      continue;  // stand on no page by themselves
    Entry entry{{"en", english.one}};
    for (const std::string& language : catalogue_languages())
      if (const auto* text = catalogue_of(language)->find(id)) entry[language] = text->one;
    all.push_back(std::move(entry));
  }
  return all;
}

Language::Language(const std::string& code)
    : stays_(code == "en"), comma_(!stays_), semicolon_(code == "fr" ? " ;" : ";") {
  if (stays_) return;
  for (const auto& entry : catalogue()) {
    const auto there = entry.find(code);
    if (there == entry.end()) continue;
    const std::string& english = entry.at("en");
    Template t;
    t.translated = there->second;
    std::size_t at = 0;
    for (std::size_t open; (open = english.find('{', at)) != std::string::npos; at = open + 3) {
      t.literals.push_back(english.substr(at, open - at));
      t.order.push_back(english[open + 1] - '1');
    }
    if (t.order.empty()) {
      exact_[english] = there->second;
      continue;
    }
    t.literals.push_back(english.substr(at));
    for (const auto& l : t.literals) t.letters += l.size();
    templates_.push_back(std::move(t));
  }
  std::stable_sort(templates_.begin(), templates_.end(),
                   [](const Template& a, const Template& b) { return a.letters > b.letters; });
}

std::string Language::number(std::string s) const {
  if (!comma_) return s;
  s = decimal_commas(std::move(s));
  replace_all(s, ", y ", "; y ");  // beside decimal commas a comma parts nothing
  replace_all(s, ", z ", "; z ");
  return s;
}

bool Language::match(const Template& t, const std::string& text, std::size_t part, std::size_t at,
                     Arguments& arguments) const {
  if (part == 0) {
    if (text.compare(0, t.literals[0].size(), t.literals[0]) != 0) return false;
    return match(t, text, 1, t.literals[0].size(), arguments);
  }
  const std::string& literal = t.literals[part];
  const bool last = part + 1 == t.literals.size();
  for (std::size_t to = at + 1; to <= text.size(); ++to) {
    if (last) {
      if (text.size() < at + 1 + literal.size()) return false;
      to = text.size() - literal.size();
    }
    if (!last && (to = text.find(literal, to)) == std::string::npos) return false;
    if (last && text.compare(to, literal.size(), literal) != 0) return false;
    std::string argument = text.substr(at, to - at);
    // An argument is a quantity, a text with an entry of its own, or a name; a name is no sentence.
    bool good = true;
    if (is_quantity(argument))
      argument = number(argument);
    else
      good = translate(argument) || is_name(argument, t.letters);
    if (good) {
      arguments[t.order[part - 1]] = argument;
      if (last || match(t, text, part + 1, to + literal.size(), arguments)) return true;
    }
    if (last) return false;
  }
  return false;
}

bool Language::translate(std::string& text) const {
  if (const auto there = exact_.find(text); there != exact_.end()) {
    text = there->second;
    return true;
  }
  if (const auto known = tried_.find(text); known != tried_.end()) {
    if (known->second.empty()) return false;
    text = known->second;
    return true;
  }
  for (const auto& t : templates_) {
    Arguments arguments(9);
    if (!match(t, text, 0, 0, arguments)) continue;
    std::string out;
    for (std::size_t i = 0; i < t.translated.size(); ++i)
      if (t.translated[i] == '{')
        out += arguments[t.translated[i + 1] - '1'], i += 2;
      else
        out += t.translated[i];
    tried_[text] = out;
    text = out;
    return true;
  }
  tried_[text] = "";
  return false;
}

std::string Language::text(const std::string& english) {
  if (stays_ || english.empty()) return english;
  if (is_quantity(english)) return number(english);
  std::string out = english;
  if (translate(out) || !has_words(english)) return out;
  if (english.back() == '.') {  // the last of several orders ends the sentence
    std::string order = english.substr(0, english.size() - 1);
    if (translate(order)) return order + ".";
  }
  // A clause of a warning that stands as a sentence of its own has one entry for both.
  if (std::isupper(static_cast<unsigned char>(english[0]))) {
    const bool ends = english.back() == '.';
    std::string clause = english.substr(0, english.size() - ends);
    clause[0] = static_cast<char>(std::tolower(static_cast<unsigned char>(clause[0])));
    if (translate(clause)) {
      clause[0] = static_cast<char>(std::toupper(static_cast<unsigned char>(clause[0])));
      return clause + (ends ? "." : "");
    }
  }
  // Several sentences, or several orders in one: each has its entry.
  for (const char* end : {". ", "; "})
    if (std::size_t to = next_sentence(english, end, 0); to != std::string::npos) {
      out.clear();
      for (std::size_t at = 0; at != std::string::npos; at = to, to = next_sentence(english, end, at)) {
        std::string one = english.substr(at, to == std::string::npos ? to : to - at - 1);
        const bool semicolon = one.back() == ';';
        if (semicolon) one.pop_back();
        out += text(one) + (semicolon ? semicolon_ : "") + (to == std::string::npos ? "" : " ");
        if (to == std::string::npos) break;
      }
      return out;
    }
  if (std::find(missing_.begin(), missing_.end(), english) == missing_.end()) missing_.push_back(english);
  return english;
}

std::string Language::say(const std::string& english) { return text(english); }

std::string Language::tag(const std::string& t) {
  static const std::string mark = "aria-label=\"";
  const std::size_t from = t.find(mark);
  if (from == std::string::npos || t.find(told_from, from) != std::string::npos) return t;
  const std::size_t begin = from + mark.size(), end = t.find('"', begin);
  std::string label = text(plain_quotes(t.substr(begin, end - begin)));
  replace_all(label, "\"", "&quot;");
  return t.substr(0, begin) + label + t.substr(end);
}

std::string Language::page(const std::string& html) {
  if (stays_) return without_marks(html);
  static const std::set<std::string> inline_tags{"b", "small", "sub", "code", "span"};
  static const std::set<std::string> left_alone{"code", "pre", "style", "script"};
  std::string out, block;
  const auto flush = [&] {
    const std::size_t from = std::min(block.find_first_not_of(" \n"), block.size());
    const std::size_t to = block.find_last_not_of(" \n") + 1;
    if (from < to)
      out += block.substr(0, from) + text(plain_quotes(block.substr(from, to - from))) + block.substr(to);
    else
      out += block;
    block.clear();
  };
  for (std::size_t at = 0; at < html.size();) {
    if (html[at] == told_from) {
      flush();
      const std::size_t end = std::min(html.find(told_to, at), html.size() - 1) + 1;
      out.append(html, at, end - at);
      at = end;
      continue;
    }
    if (html[at] != '<') {
      const std::size_t end = std::min(html.find_first_of(std::string{'<', told_from}, at), html.size());
      block.append(html, at, end - at);
      at = end;
      continue;
    }
    std::size_t end = html.find('>', at) + 1;
    const std::string whole = html.substr(at, end - at), name = name_of(whole);
    const bool is_inline = inline_tags.count(name) > 0;
    if (whole[1] != '/' && (left_alone.count(name) > 0 || whole.find("translate=\"no\"") != std::string::npos))
      end = html.find("</" + name + ">", end) + name.size() + 3;
    if (is_inline) {
      block.append(html, at, end - at);
    } else {
      flush();
      out += end - at == whole.size() ? tag(whole) : html.substr(at, end - at);
    }
    at = end;
  }
  flush();
  return without_marks(out);
}

}  // namespace gapfront::report
