// Messages in words.
#pragma once
#include <string>
#include <vector>

#include "gapfront/message.hpp"
#include "gapfront/units.hpp"

namespace gapfront {

/// For whom a message is written.
struct Reader {
  UnitSystem units = UnitSystem::mm;
  std::string language = "en";  ///< "en", "de", "fr", "es", "pt"
};

/// A message in words; "" for an empty one. Where a language lacks the text, it is said in English. Throws
/// std::logic_error where English lacks it as well, or where it asks for more arguments than there are: a fault of the
/// program.
std::string say(const Message&, const Reader& = {});
/// Sentences, one after the other.
std::string say(const Text&, const Reader& = {});
/// A number in words: "1.25 mm", "4.7 %". The minus is the true sign (U+2212), the decimal sign the language's.
std::string say(const Quantity&, const Reader& = {});
/// "x 82, y −47 mm".
std::string say(const Place&, const Reader& = {});

/// The languages that there is a catalogue for, English first.
const std::vector<std::string>& catalogue_languages();

}  // namespace gapfront
