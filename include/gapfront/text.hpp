// Messages in words.
#pragma once
#include <string>

#include "gapfront/message.hpp"
#include "gapfront/units.hpp"

namespace gapfront {

/// For whom a message is written.
struct Voice {
  UnitSystem units = UnitSystem::mm;
  std::string language = "en";  ///< one of `languages`
};

/// A message in words; "" for an empty one. Where a language lacks the text, it is said in English. Throws
/// std::logic_error where English lacks it as well, or where it asks for more arguments than there are: a fault of the
/// program.
std::string say(const Message&, const Voice& = {});
/// Whether there is a text for it, with no more arguments than it has.
bool sayable(const Message&);
/// Sentences, one after the other.
std::string say(const Text&, const Voice& = {});
/// A number in words: "1.25 mm", "4.7 %". The minus is the true sign (U+2212), the decimal sign the language's.
std::string say(const Quantity&, const Voice& = {});
/// "x 82, y −47 mm".
std::string say(const Place&, const Voice& = {});

}  // namespace gapfront
