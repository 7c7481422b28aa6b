// The texts of every language, from the gettext files in po/*.po, compiled in.
#pragma once
#include <map>
#include <string>
#include <vector>

namespace gapfront {

/// One text, in the singular and, where it has one, in the plural.
struct CatalogueText {
  std::string one, many;
};

struct Catalogue {
  std::map<std::string, CatalogueText> texts;  ///< by identifier
  bool one_up_to_two = false;                  ///< French: 0 and 1.5 take the singular as well

  /// Nothing where there is none.
  const CatalogueText* find(const std::string& id) const;
};

/// Reads a .po file: msgid, msgid_plural, msgstr, comments; nothing else is used. Throws std::logic_error with its
/// line.
Catalogue parse_po(const std::string& text);
/// The compiled-in catalogue of a language; nothing where there is none.
const Catalogue* catalogue_of(const std::string& language);

/// The languages that there is one for, English first.
const std::vector<std::string>& catalogue_languages();

}  // namespace gapfront
