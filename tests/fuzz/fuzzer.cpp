// One fuzzing program: FUZZ_TARGET names the function. Beside libFuzzer's changes of bytes there is one that knows that
// most of these files hold words: it puts another number or another word of the file in a word's place.
#include <cstddef>
#include <cstdint>
#include <cstring>
#include <string>

#include "fuzz/targets.hpp"

extern "C" size_t LLVMFuzzerMutate(uint8_t* data, size_t size, size_t max_size);

namespace {

bool in_a_word(uint8_t c) {
  return (c >= '0' && c <= '9') || (c >= 'a' && c <= 'z') || (c >= 'A' && c <= 'Z') || c == '.' || c == '-' || c == '_';
}

/// The word at or after `at`.
std::string_view word_near(const uint8_t* data, size_t size, size_t at) {
  while (at < size && !in_a_word(data[at])) ++at;
  size_t begin = at, end = at;
  while (begin > 0 && in_a_word(data[begin - 1])) --begin;
  while (end < size && in_a_word(data[end])) ++end;
  return {reinterpret_cast<const char*>(data) + begin, end - begin};
}

}  // namespace

extern "C" size_t LLVMFuzzerCustomMutator(uint8_t* data, size_t size, size_t max_size, unsigned seed) {
  if (size == 0 || seed % 2) return LLVMFuzzerMutate(data, size, max_size);
  static const std::string others[] = {"0",
                                       "1",
                                       "-1",
                                       "2",
                                       "3",
                                       "255",
                                       "65535",
                                       "65536",
                                       "2147483647",
                                       "2147483648",
                                       "4294967295",
                                       "4294967296",
                                       "600000000",
                                       "1e9",
                                       "1e12",
                                       "1e18",
                                       "9007199254740992",
                                       "18446744073709551615",
                                       "1e308",
                                       "-1e308",
                                       "1e-308",
                                       "nan",
                                       "inf",
                                       "null",
                                       "true",
                                       "[]",
                                       "{}",
                                       "\"\"",
                                       "",
                                       "0.5",
                                       "-0",
                                       "1e400"};
  const auto draw = [&seed](size_t n) { return (seed = seed * 1664525u + 1013904223u, (seed >> 8) % n); };
  const std::string_view old = word_near(data, size, draw(size));
  const std::string fresh = draw(2) ? others[draw(std::size(others))] : std::string(word_near(data, size, draw(size)));
  if (size - old.size() + fresh.size() > max_size) return size;
  const size_t at = reinterpret_cast<const uint8_t*>(old.data()) - data;
  std::memmove(data + at + fresh.size(), data + at + old.size(), size - at - old.size());
  std::memcpy(data + at, fresh.data(), fresh.size());
  return size - old.size() + fresh.size();
}

extern "C" int LLVMFuzzerTestOneInput(const uint8_t* data, size_t size) {
  fuzz::FUZZ_TARGET({reinterpret_cast<const char*>(data), size});
  return 0;
}
