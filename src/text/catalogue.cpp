#include "gapfront/catalogue.hpp"

#include <sstream>
#include <stdexcept>

#include "text/po_files.hpp"

namespace gapfront {
namespace {

/// What stands between the quotes of a line of a .po file.
std::string unquoted(const std::string& line, std::size_t from, int number) {
  const std::size_t begin = line.find('"', from), end = line.rfind('"');
  if (begin == std::string::npos || end <= begin)
    throw std::logic_error("catalogue: line " + std::to_string(number) + ": no text in quotes");
  std::string out;
  for (std::size_t i = begin + 1; i < end; ++i) {
    if (line[i] != '\\')
      out += line[i];
    else if (++i < end)
      out += line[i] == 'n' ? '\n' : line[i];
  }
  return out;
}

bool begins(const std::string& line, const char* word) { return line.rfind(word, 0) == 0; }

}  // namespace

const CatalogueText* Catalogue::find(const std::string& id) const {
  const auto there = texts.find(id);
  return there == texts.end() ? nullptr : &there->second;
}

Catalogue parse_po(const std::string& text) {
  Catalogue out;
  std::string id, plural_id, header;
  CatalogueText now;
  std::string* open = nullptr;  // what a line of nothing but a text goes on with
  bool any = false;
  const auto close = [&](int number) {
    if (any && id.empty()) header = now.one;
    if (any && !id.empty() && !out.texts.emplace(id, now).second)
      throw std::logic_error("catalogue: line " + std::to_string(number) + ": \"" + id + "\" stands there twice");
    id.clear(), now = {}, open = nullptr, any = false;
  };
  std::istringstream in(text);
  int number = 0;
  for (std::string line; std::getline(in, line);) {
    ++number;
    if (line.empty() || line[0] == '#') continue;
    if (begins(line, "msgid_plural")) {
      open = &plural_id, plural_id = unquoted(line, 12, number);
    } else if (begins(line, "msgid")) {
      close(number);
      open = &id, id = unquoted(line, 5, number), any = true;
    } else if (begins(line, "msgstr[1]")) {
      open = &now.many, now.many = unquoted(line, 9, number);
    } else if (begins(line, "msgstr")) {
      open = &now.one, now.one = unquoted(line, 6, number);
    } else if (line[0] == '"' && open) {
      *open += unquoted(line, 0, number);
    } else {
      throw std::logic_error("catalogue: line " + std::to_string(number) + " is no line of a .po file: " + line);
    }
  }
  close(number);
  out.one_up_to_two = header.find("plural=(n > 1)") != std::string::npos;
  return out;
}

const Catalogue* catalogue_of(const std::string& language) {
  static const auto all = [] {
    std::map<std::string, Catalogue> out;
    for (const auto& [name, text] : po_files) out.emplace(name, parse_po(text));
    Catalogue& marked = out["marked"] = out.at("en");
    for (auto& [id, text] : marked.texts)
      for (std::string* one : {&text.one, &text.many})
        if (!one->empty()) *one = "⟦" + *one + "⟧";
    return out;
  }();
  const auto there = all.find(language);
  return there == all.end() ? nullptr : &there->second;
}

}  // namespace gapfront
