// Sentences with numbers in them.
#pragma once
#include <cstdio>
#include <string>

namespace gapfront {

template <class... T>
std::string words(const char* format, T... values) {
  std::string text(std::snprintf(nullptr, 0, format, values...), '\0');
  std::snprintf(text.data(), text.size() + 1, format, values...);
  return text;
}

}  // namespace gapfront
