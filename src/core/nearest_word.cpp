#include "core/nearest_word.hpp"

#include <algorithm>
#include <cctype>
#include <numeric>

namespace gapfront {
namespace {

char small(char c) { return static_cast<char>(std::tolower(static_cast<unsigned char>(c))); }

/// Letters to change, put in or take out; two neighbours exchanged count as one slip.
std::size_t edit_distance(std::string_view a, std::string_view b) {
  std::vector<std::size_t> before, last, row(b.size() + 1);
  std::iota(row.begin(), row.end(), 0);
  for (std::size_t i = 1; i <= a.size(); ++i) {
    before.swap(last), last.swap(row);
    row.assign(b.size() + 1, i);
    for (std::size_t j = 1; j <= b.size(); ++j) {
      const auto same = [&](std::size_t k, std::size_t l) { return small(a[k]) == small(b[l]); };
      row[j] = std::min({last[j - 1] + !same(i - 1, j - 1), last[j] + 1, row[j - 1] + 1});
      if (i > 1 && j > 1 && same(i - 1, j - 2) && same(i - 2, j - 1)) row[j] = std::min(row[j], before[j - 2] + 1);
    }
  }
  return row.back();
}

}  // namespace

std::string nearest_word(std::string_view word, const std::vector<std::string>& known) {
  std::string best;
  std::size_t minimum = word.size() / 2 + 1;
  for (const auto& k : known) {
    const auto d = edit_distance(word, k);
    // Of equals, one that was only not typed to its end.
    if (d < minimum || (d == minimum && !best.empty() && k.starts_with(word) && !best.starts_with(word)))
      minimum = d, best = k;
  }
  return best;
}

std::string suggestion(std::string_view word, const std::vector<std::string>& known) {
  const std::string near = nearest_word(word, known);
  if (!near.empty()) return "did you mean \"" + near + "\"?";
  std::string all = "known:";
  for (const auto& k : known) all += (&k == &known.front() ? " " : ", ") + k;
  return all;
}

}  // namespace gapfront
