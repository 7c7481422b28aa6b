#include "report/result_check.hpp"

#include <algorithm>
#include <cmath>
#include <nlohmann/json.hpp>

#include "report/assets.hpp"

namespace gapfront::report {
namespace {

using Json = nlohmann::json;

// No figure of a mold, in mm, s and Pa, comes near it, and its square is far from overflow.
constexpr double kLargest = 1e15;
// Places, mm: a hundred metres, beyond any mold. Drawings and templates take time and paper by their size.
constexpr double kFarthest = 1e5;
// A template's from its mark, mm: beyond it, paper is no help, and every sheet of it is drawn.
constexpr double kWidestTemplate = 5e3;

/// JSON Schema 2020-12, as far as our schema uses it.
class Check {
 public:
  Check(const Json& schema, std::size_t nodes) : definitions_(schema.at("$defs")), nodes_(nodes) {}

  bool operator()(const Json& value, const Json& schema, const std::string& at) {
    if (const auto ref = schema.find("$ref"); ref != schema.end()) {
      const std::string name = ref->get<std::string>().substr(std::string("#/$defs/").size());
      return by_name(value, name, at) && (*this)(value, definitions_.at(name), at);
    }
    if (const auto any = schema.find("oneOf"); any != schema.end()) return one_of(value, *any, at);
    if (const auto constant = schema.find("const"); constant != schema.end() && value != *constant)
      return fail(at, "must be " + constant->dump());
    if (const auto words = schema.find("enum");
        words != schema.end() && std::find(words->begin(), words->end(), value) == words->end())
      return fail(at, "is none of " + words->dump());
    if (const auto type = schema.find("type"); type != schema.end() && !of_type(value, *type))
      return fail(at, "must be of type " + type->dump());
    if (value.is_number()) return number(value, schema, at);
    if (value.is_string()) return text(value, schema, at);
    if (value.is_array()) return list(value, schema, at);
    if (value.is_object()) return object(value, schema, at);
    return true;
  }
  const std::string& fault() const { return fault_; }

 private:
  bool fail(const std::string& at, const std::string& what) {
    fault_ = (at.empty() ? "the file" : at.substr(1)) + ": " + what;
    return false;
  }

  static bool of_type(const Json& value, const Json& type) {
    if (type.is_array())
      return std::any_of(type.begin(), type.end(), [&](const Json& one) { return of_type(value, one); });
    const std::string name = type.get<std::string>();
    if (name == "integer")
      return value.is_number_integer() ||
             (value.is_number_float() && value.get<double>() == std::floor(value.get<double>()));
    return (name == "number" && value.is_number()) || (name == "string" && value.is_string()) ||
           (name == "boolean" && value.is_boolean()) || (name == "array" && value.is_array()) ||
           (name == "object" && value.is_object()) || (name == "null" && value.is_null());
  }

  bool by_name(const Json& value, const std::string& name, const std::string& at) {
    if (name == "node" && value.is_number() && !(value.get<double>() < double(nodes_)))
      return fail(at, "names a node that the sheet does not have");
    return true;
  }

  bool one_of(const Json& value, const Json& schemas, const std::string& at) {
    for (const Json& schema : schemas)
      if ((*this)(value, schema, at)) return fault_.clear(), true;
    return false;  // with the fault of the last
  }

  bool number(const Json& value, const Json& schema, const std::string& at) {
    const double x = value.get<double>();
    if (!(std::abs(x) <= largest_)) return fail(at, "is larger than anything a mold has");
    if (const auto low = schema.find("minimum"); low != schema.end() && x < low->get<double>())
      return fail(at, "must not be below " + low->dump());
    if (const auto low = schema.find("exclusiveMinimum"); low != schema.end() && x <= low->get<double>())
      return fail(at, "must be above " + low->dump());
    if (const auto high = schema.find("maximum"); high != schema.end() && x > high->get<double>())
      return fail(at, "must not be above " + high->dump());
    return true;
  }

  bool text(const Json& value, const Json& schema, const std::string& at) {
    const std::size_t n = value.get_ref<const std::string&>().size();
    if (const auto low = schema.find("minLength"); low != schema.end() && n < low->get<std::size_t>())
      return fail(at, "must not be empty");
    return true;
  }

  bool list(const Json& value, const Json& schema, const std::string& at) {
    const auto low = schema.find("minItems"), high = schema.find("maxItems");
    if (low != schema.end() && value.size() < low->get<std::size_t>())
      return fail(at, "must have at least " + low->dump() + " items");
    if (high != schema.end() && value.size() > high->get<std::size_t>())
      return fail(at, "must have at most " + high->dump() + " items");
    const auto first = schema.find("prefixItems"), rest = schema.find("items");
    for (std::size_t i = 0; i < value.size(); ++i) {
      const Json* item = first != schema.end() && i < first->size()  ? &(*first)[i]
                         : rest != schema.end() && rest->is_object() ? &*rest
                                                                     : nullptr;
      // A column of plain numbers needs no path made for each.
      if (item && !(plain(*item, value[i])) && !(*this)(value[i], *item, at + "." + std::to_string(i))) return false;
    }
    return true;
  }
  bool plain(const Json& schema, const Json& value) const {
    const auto ref = schema.find("$ref");
    return ref != schema.end() && *ref == "#/$defs/number" &&
           (value.is_null() || (value.is_number() && std::abs(value.get<double>()) <= largest_));
  }

  bool object(const Json& value, const Json& schema, const std::string& at) {
    if (const auto keys = schema.find("required"); keys != schema.end())
      for (const Json& key : *keys)
        if (!value.contains(key.get_ref<const std::string&>()))
          return fail(at, "lacks " + key.get_ref<const std::string&>());
    const auto known = schema.find("properties"), other = schema.find("additionalProperties");
    for (const auto& [key, inner] : value.items()) {
      const Json* of = nullptr;
      if (known != schema.end())
        if (const auto hit = known->find(key); hit != known->end()) of = &*hit;
      if (!of && other != schema.end() && other->is_object()) of = &*other;
      const double outside = largest_;
      if (key == "mm" || key.ends_with("_mm")) largest_ = std::min(largest_, kFarthest);
      if (at.find(".templates.") != at.npos && key != "origin_mm") largest_ = std::min(largest_, kWidestTemplate);
      const bool good = !of || (*this)(inner, *of, at + "." + key);
      largest_ = outside;
      if (!good) return false;
    }
    return true;
  }

  const Json& definitions_;
  std::size_t nodes_;
  double largest_ = kLargest;  ///< of a number here
  std::string fault_;
};

bool has_empty_line(const Json& j) {
  const auto lines = j.find("contours");
  return lines != j.end() &&
         std::any_of(lines->begin(), lines->end(), [](const Json& line) { return line.at("line_mm").empty(); });
}

/// Lists that belong together, which a schema cannot say.
std::string unequal(const Json& j) {
  if (j.at("sheet").at("fields").empty()) return "sheet.fields: must not be empty";
  const Json& c = j.at("corrections");
  if (c.at("after_each").size() != c.at("chosen").size())
    return "corrections.after_each: must have as many items as corrections.chosen";
  for (const Json& name : c.at("chosen"))
    if (std::none_of(c.at("candidates").begin(), c.at("candidates").end(),
                     [&](const Json& one) { return one.at("name") == name; }))
      return "corrections.chosen: names " + name.dump() + ", which is no candidate";
  for (const Json& one : c.at("candidates")) {
    if (const auto change = one.find("gap_change");
        change != one.end() && change->at("nodes").size() != change->at("mm").size())
      return "corrections.candidates: gap_change must have as many nodes as mm";
    if (has_empty_line(one)) return "corrections.candidates: a contour has no points";
    for (const Json& t : one.value("templates", Json::array())) {
      if (t.at("outline_mm").empty()) return "corrections.candidates: a template has no outline";
      if (has_empty_line(t)) return "corrections.candidates: a template's contour has no points";
    }
  }
  return "";
}

}  // namespace

std::string result_fault(const Json& result) {
  static const Json schema = Json::parse(result_schema);
  const auto sheet = result.find("sheet");
  if (sheet == result.end() || !sheet->is_object() || !sheet->contains("nodes_mm")) return "sheet: lacks nodes_mm";
  Check check(schema, sheet->at("nodes_mm").size());
  if (!check(result, schema, "")) return check.fault();
  return unequal(result);
}

}  // namespace gapfront::report
