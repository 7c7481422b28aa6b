// The texts of every language, from the gettext files in po/*.po, compiled in.
#pragma once
#include <map>
#include <string>

namespace gapfront {

/// One text, in the singular and, where it has one, in the plural.
struct CatalogueText {
  std::string one, many;
};

/// The texts of one language.
struct Catalogue {
  std::map<std::string, CatalogueText> texts;  ///< by identifier
  bool one_up_to_two = false;                  ///< French: 0 and 1.5 take the singular as well

  /// Nothing where there is none.
  const CatalogueText* find(const std::string& id) const;
};

/// Reads a .po file: msgid, msgid_plural, msgstr, comments; nothing else is used. Throws std::logic_error with its
/// line.
Catalogue parse_po(const std::string& text);
/// The compiled-in catalogue of a language, one of `languages`; nothing of any other. "marked" is English with each
/// text between ⟦ and ⟧: what stands outside of them on a page is in no catalogue.
const Catalogue* catalogue_of(const std::string& language);

}  // namespace gapfront
