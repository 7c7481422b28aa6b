// Text from outside that is safe to print: in a terminal, in XML, in a line of its own language.
#pragma once
#include <string_view>

namespace gapfront {

/// No control characters but tab and line feed (a terminal would obey them, XML forbids them), and no signs that turn
/// the direction of writing (Unicode UAX 9: a name would look like another). UTF-8.
bool is_plain(std::string_view);

}  // namespace gapfront
