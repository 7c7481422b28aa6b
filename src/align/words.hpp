// Sentences with numbers in them.
#pragma once
#include <cstdio>
#include <string>

namespace gapfront {

template <class... T>
std::string words(const char* format, T... values) {
  char text[500];  // the longest sentence of the stage has 400 letters
  std::snprintf(text, sizeof text, format, values...);
  return text;
}

}  // namespace gapfront
