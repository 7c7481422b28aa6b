#include "job/table.hpp"

#include <algorithm>

#include "core/nearest_word.hpp"
#include "core/plain_text.hpp"
#include "gapfront/error.hpp"

namespace gapfront::job {
namespace {

std::string in_quotes(std::string_view s) { return "\"" + std::string(s) + "\""; }

void check_sign(double x, Sign sign, const std::string& place) {
  if (sign == Sign::positive && !(x > 0)) throw Error(Fault::input, place + ": must be greater than zero");
  if (sign == Sign::not_negative && x < 0) throw Error(Fault::input, place + ": must not be negative");
}

}  // namespace

Table::Table(const toml::table& table, std::string file, std::string section)
    : table_(table), file_(std::move(file)), section_(std::move(section)) {}

std::string Table::place_of(const toml::node& node, const std::string& key) const {
  const auto line = node.source().begin.line;
  const std::string section = section_.empty() ? "" : "[" + section_ + "]";
  return file_ + (line ? ":" + std::to_string(line) : "") + ": " + section +
         (key.empty() || section.empty() ? "" : " ") + key;
}

std::string Table::place(const std::string& key) const {
  const auto* node = table_.get(key);
  return place_of(node ? *node : static_cast<const toml::node&>(table_), key);
}

std::string Table::word(const std::string& key, const std::vector<std::string>& known, const std::string& otherwise) {
  std::string given = text(key).value_or(otherwise);
  if (std::find(known.begin(), known.end(), given) == known.end()) refuse_word(key, given, known);
  return given;
}

void Table::refuse_word(const std::string& key, const std::string& given, const std::vector<std::string>& known) const {
  std::string all;
  for (const auto& k : known) all += (all.empty() ? "" : &k == &known.back() ? " or " : ", ") + in_quotes(k);
  const std::string near = nearest_word(given, known);
  fail(key, "must be " + all + ", not " + in_quotes(given) +
                (near.empty() ? "" : "; did you mean " + in_quotes(near) + "?"));
}

void Table::fail(const std::string& line) const {
  const std::string at = place_of(table_, "");  // of the file as a whole it ends where a section would stand
  throw Error(Fault::input, at + (at.ends_with(": ") ? "" : ": ") + line);
}
void Table::fail(const std::string& key, const std::string& line) const {
  throw Error(Fault::input, place(key) + ": " + line);
}

const toml::node* Table::take(const std::string& key) {
  if (std::find(asked_.begin(), asked_.end(), key) == asked_.end()) asked_.push_back(key);
  return table_.get(key);
}

std::string Table::string_of(const toml::node& node, const std::string& key, const std::string& example) const {
  if (const auto s = node.value_exact<std::string>()) return *s;
  const bool number = node.is_number();
  throw Error(Fault::input, place_of(node, key) + ": " +
                                (number ? "a bare number; write it in quotes with its unit, e.g. "
                                        : "not text in quotes; write it like ") +
                                in_quotes(example));
}

double Table::quantity_of(const toml::node& node, const std::string& key, Dimension d, Sign sign) const {
  const std::string where = place_of(node, key);
  double x = 0;
  // A share has no unit, so a plain number says all there is to say.
  if (const auto plain = node.value<double>(); plain && d == Dimension::fraction && node.is_number()) {
    x = *plain;
  } else {
    x = parse_quantity(string_of(node, key, example_quantity(d)), d, where);
  }
  if (d == Dimension::fraction && !(x >= 0 && x <= 1))
    throw Error(Fault::input, where + ": must lie between 0 and 100 %");
  check_sign(x, sign, where);
  return x;
}

void Table::refuse_signs(const std::string& key, const std::string& text) const {
  if (!is_plain(text)) fail(key, "holds control characters; write plain text");
}

std::optional<std::string> Table::text(const std::string& key) {
  const auto* node = take(key);
  if (!node) return std::nullopt;
  if (auto s = node->value_exact<std::string>()) {
    refuse_signs(key, *s);
    return s;
  }
  // A date may be written without quotes in TOML.
  if (const auto* date = node->as_date()) {
    std::ostringstream s;
    s << *date;
    return s.str();
  }
  fail(key, "must be text in quotes, e.g. " + key + " = \"…\"");
}

std::optional<bool> Table::flag(const std::string& key) {
  const auto* node = take(key);
  if (!node) return std::nullopt;
  if (const auto b = node->value_exact<bool>()) return b;
  fail(key, "must be true or false, without quotes");
}

std::optional<double> Table::number(const std::string& key, Sign sign) {
  const auto* node = take(key);
  if (!node) return std::nullopt;
  if (!node->is_number()) fail(key, "must be a plain number without quotes, e.g. " + key + " = 2");
  // value<double>() has none for a whole number that a double does not hold exactly.
  const double x =
      node->is_integer() ? static_cast<double>(node->as_integer()->get()) : node->as_floating_point()->get();
  if (!std::isfinite(x)) fail(key, "must be a finite number");
  check_sign(x, sign, place(key));
  return x;
}

std::optional<double> Table::quantity(const std::string& key, Dimension d, Sign sign) {
  const auto* node = take(key);
  if (!node) return std::nullopt;
  return quantity_of(*node, key, d, sign);
}

std::optional<Vec3> Table::point(const std::string& key) {
  const auto* node = take(key);
  if (!node) return std::nullopt;
  return parse_point(string_of(*node, key, "120, 45.5, 12 mm"), place(key));
}

std::vector<Vec3> Table::points(const std::string& key) {
  const auto* node = take(key);
  if (!node) return {};
  const auto* list = node->as_array();
  if (!list || list->empty()) fail(key, "must be a list of places, e.g. [\"0, 0 mm\", \"200, 0 mm\", \"200, 150 mm\"]");
  std::vector<Vec3> out;
  for (const auto& n : *list) {
    std::string s = string_of(n, key, "200, -150 mm");
    // Two coordinates lie in the X–Y plane of the tool frame: insert Z = 0 before the unit.
    if (std::count(s.begin(), s.end(), ',') == 1) {
      const auto end = s.find_last_of("0123456789.");
      if (end != std::string::npos) s.insert(end + 1, ", 0");
    }
    out.push_back(parse_point(s, place_of(n, key)));
  }
  return out;
}

std::vector<double> Table::quantities(const std::string& key, Dimension d, Sign sign) {
  const auto* node = take(key);
  if (!node) return {};
  const auto* list = node->as_array();
  if (!list) fail(key, "must be a list, e.g. [" + in_quotes(example_quantity(d)) + "]");
  std::vector<double> out;
  for (const auto& n : *list) out.push_back(quantity_of(n, key, d, sign));
  return out;
}

std::vector<std::string> Table::texts(const std::string& key) {
  const auto* node = take(key);
  if (!node) return {};
  if (const auto s = node->value_exact<std::string>()) {
    refuse_signs(key, *s);
    return {*s};
  }
  const auto* list = node->as_array();
  if (!list) fail(key, "must be text in quotes, or a list of such");
  std::vector<std::string> out;
  for (const auto& n : *list) {
    const auto s = n.value_exact<std::string>();
    if (!s) fail(key, "must be text in quotes, or a list of such");
    refuse_signs(key, *s);
    out.push_back(*s);
  }
  return out;
}

std::optional<Table> Table::table(const std::string& key) {
  const auto* node = take(key);
  if (!node) return std::nullopt;
  const auto* inner = node->as_table();
  if (!inner) fail(key, "must be a section, written [" + (section_.empty() ? "" : section_ + ".") + key + "] or { … }");
  return Table(*inner, file_, section_.empty() ? key : section_ + "." + key);
}

std::vector<Table> Table::tables(const std::string& key) {
  const auto* node = take(key);
  if (!node) return {};
  const std::string name = section_.empty() ? key : section_ + "." + key;
  const auto* list = node->as_array();
  if (!list) fail(key, "may be given several times, so it is written in double brackets: [[" + name + "]]");
  std::vector<Table> out;
  for (const auto& n : *list) {
    if (!n.is_table()) fail(key, "must hold sections, [[" + name + "]] or { … }");
    out.emplace_back(*n.as_table(), file_, name);
  }
  return out;
}

std::vector<std::pair<double, double>> Table::pairs(const std::string& key, Dimension first, Dimension second) {
  const auto* node = take(key);
  if (!node) return {};
  const std::string shape = std::string("must be a list of pairs, e.g. [[") + in_quotes(example_quantity(first)) +
                            ", " + in_quotes(example_quantity(second)) + "], …]";
  const auto* list = node->as_array();
  if (!list || list->size() < 2) fail(key, shape + ", two or more");
  std::vector<std::pair<double, double>> out;
  for (const auto& n : *list) {
    const auto* pair = n.as_array();
    if (!pair || pair->size() != 2) fail(key, shape);
    out.emplace_back(quantity_of((*pair)[0], key, first, Sign::positive),
                     quantity_of((*pair)[1], key, second, Sign::positive));
    if (out.size() > 1 && out.back().first <= out[out.size() - 2].first)
      fail(key, "the first value of each pair must rise from pair to pair");
  }
  return out;
}

std::optional<std::pair<std::string, std::string>> Table::with_suffix(const std::string& key,
                                                                      const std::vector<std::string>& words) {
  const auto* node = take(key);
  if (!node) return std::nullopt;
  std::string s = string_of(*node, key, "0.5 bar " + words.front());
  s.erase(s.find_last_not_of(" \t") + 1);
  for (const auto& w : words)
    if (s.size() > w.size() && s.ends_with(" " + w)) return std::pair{s.substr(0, s.size() - w.size() - 1), w};
  return std::pair{s, std::string()};
}

void Table::refuse_misspelt(const std::string& missing) const {
  for (const auto& [k, node] : table_) {
    const std::string key(k.str());
    if (std::find(asked_.begin(), asked_.end(), key) == asked_.end() && !nearest_word(key, {missing}).empty())
      throw Error(Fault::input, place_of(node, key) + ": unknown key; did you mean " + in_quotes(missing) + "?");
  }
}

void Table::done() const {
  for (const auto& [k, node] : table_) {
    const std::string key(k.str());
    if (std::find(asked_.begin(), asked_.end(), key) != asked_.end()) continue;
    throw Error(Fault::input, place_of(node, key) + ": unknown key; " + suggestion(key, asked_));
  }
}

void refuse_duplicate(const Table& at, const std::string& name, std::vector<std::string>& seen) {
  if (name.empty()) at.fail("name", "must not be empty");
  if (std::find(seen.begin(), seen.end(), name) != seen.end())
    at.fail("name", in_quotes(name) + " is given twice; each needs a name of its own");
  seen.push_back(name);
}

}  // namespace gapfront::job
