// A TOML table that remembers which keys were asked for, so that any other key is an error by itself.
#pragma once
#include <optional>
#include <string>
#include <string_view>
#include <vector>

// The header-only mode: the library then needs nothing at run time (Debian's package asks for the shared one).
#undef TOML_HEADER_ONLY
#undef TOML_SHARED_LIB
#define TOML_HEADER_ONLY 1
#include <toml++/toml.h>

#include "gapfront/geometry.hpp"
#include "gapfront/units.hpp"

namespace gapfront::job {

enum class Sign { any, not_negative, positive };

/// Readers return nothing for an absent key and throw Error{Fault::input} "file:line: [section] key: fault; remedy".
class Table {
 public:
  Table(const toml::table& table, std::string file, std::string section);

  bool has(std::string_view key) const { return table_.contains(key); }
  bool is_text(std::string_view key) const { return has(key) && table_.get(key)->is_string(); }
  std::optional<std::string> text(const std::string& key);
  std::optional<bool> flag(const std::string& key);
  std::optional<double> number(const std::string& key, Sign = Sign::any);
  std::optional<double> quantity(const std::string& key, Dimension, Sign = Sign::any);
  std::optional<Vec3> point(const std::string& key);
  std::vector<Vec3> points(const std::string& key);  ///< "x, y mm" (Z = 0) or "x, y, z mm" each
  std::vector<double> quantities(const std::string& key, Dimension, Sign = Sign::any);
  std::vector<std::string> texts(const std::string& key);  ///< one string, or an array of them
  /// One of the known words; any other is refused with the nearest.
  std::string word(const std::string& key, const std::vector<std::string>& known, const std::string& otherwise);
  [[noreturn]] void refuse_word(const std::string& key, const std::string& given,
                                const std::vector<std::string>& known) const;
  std::optional<Table> table(const std::string& key);
  std::vector<Table> tables(const std::string& key);
  /// [["0.1", "3e-9 m2"], …]; ascending in the first column, both positive.
  std::vector<std::pair<double, double>> pairs(const std::string& key, Dimension first, Dimension second);
  /// Reads `key` where `words` follow the number, as in "0.5 bar absolute": {text before, the word found}.
  std::optional<std::pair<std::string, std::string>> with_suffix(const std::string& key,
                                                                 const std::vector<std::string>& words);

  /// The value, or an error that asks for the key.
  template <class T>
  T need(const std::string& key, std::optional<T> value, const std::string& example) const {
    if (!value) refuse_misspelt(key);
    if (!value) fail("\"" + key + "\" is missing; add " + key + " = " + example);
    return *std::move(value);
  }
  /// A quantity above nothing that must be there.
  double need_positive(const std::string& key, Dimension d, const std::string& example) {
    return need(key, quantity(key, d, Sign::positive), example);
  }
  /// "file:line: [section] key", the place that errors begin with.
  std::string place(const std::string& key) const;
  [[noreturn]] void fail(const std::string& line) const;                          ///< at the section
  [[noreturn]] void fail(const std::string& key, const std::string& line) const;  ///< at the key
  /// Refuses keys that nobody asked for. Call last.
  void done() const;

 private:
  const toml::node* take(const std::string& key);
  /// A key that is missing may be there in another spelling; that is then what to complain about.
  void refuse_misspelt(const std::string& missing) const;
  void refuse_signs(const std::string& key, const std::string& text) const;
  std::string string_of(const toml::node&, const std::string& key, const std::string& example) const;
  double quantity_of(const toml::node&, const std::string& key, Dimension, Sign) const;
  std::string place_of(const toml::node&, const std::string& key) const;

  const toml::table& table_;
  std::string file_, section_;
  std::vector<std::string> asked_;
};

/// The parts of one list must have names of their own.
void refuse_duplicate(const Table&, const std::string& name, std::vector<std::string>& seen);

}  // namespace gapfront::job
