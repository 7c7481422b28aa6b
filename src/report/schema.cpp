// The JSON Schemas: of the result files from their descriptions, of the job file by hand.
#include "report/describe/schema.hpp"

#include "gapfront/report.hpp"
#include "report/assets.hpp"
#include "report/describe/result.hpp"

namespace gapfront::report {

void Schema::add(const char* key, Json fragment, const char* meaning, bool required) {
  if (meaning) fragment["description"] = meaning;
  properties_[key] = std::move(fragment);
  if (required) required_.push_back(key);
}

Json Schema::list_of(Json item, std::size_t n) {
  return {{"type", "array"}, {"minItems", n}, {"maxItems", n}, {"items", std::move(item)}};
}

Json Schema::or_null(Json fragment) {
  if (fragment == named("number")) return fragment;  // which may be null as it is
  return {{"oneOf", {{{"type", "null"}}, std::move(fragment)}}};
}

Json Schema::bounded(Json out, double low, double high, bool above) {
  if (std::isfinite(low)) out[above ? "exclusiveMinimum" : "minimum"] = low;
  if (std::isfinite(high)) out["maximum"] = high;
  return out;
}

Json Schema::object() const {
  Json out = Json::object();
  if (meaning_) out["description"] = meaning_;
  out["type"] = "object", out["additionalProperties"] = false;
  out["required"] = required_, out["properties"] = properties_;
  if (!if_.empty()) out["if"] = {{"properties", if_}}, out["then"] = {{"required", then_}};
  if (!name_) return out;
  definitions_[name_] = std::move(out);
  return named(name_);
}

Json first_definitions() {
  const Json number = {{"$ref", "#/$defs/number"}};
  return {{"number", {{"type", {"number", "null"}}, {"description", "null: not measured or not computed."}}},
          {"number_or_never", {{"type", {"number", "null"}}, {"description", "null: never, or no bound."}}},
          {"node", {{"type", "integer"}, {"minimum", -1}, {"description", "Index into sheet.nodes_mm; −1: none."}}},
          {"corner", {{"type", "integer"}, {"minimum", 0}, {"description", "Index into sheet.nodes_mm."}}},
          {"sha256", {{"type", "string"}, {"pattern", "^([0-9a-f]{64})?$"}}},
          {"point", Schema::list_of(number, 3)},
          {"length",
           {{"type", "object"},
            {"additionalProperties", false},
            {"required", {"mm", "in"}},
            {"properties", {{"mm", number}, {"in", number}}}}}};
}

std::string schema_text(const std::string& name, int version, const Schema& file, const Json& definitions) {
  const std::string number = std::to_string(version);
  Json out = {{"$schema", "https://json-schema.org/draft/2020-12/schema"},
              {"$id", "urn:gapfront:schema:" + name + ":" + number},
              {"title", "gapfront " + name + ", format version " + number}};
  out.update(file.object());
  out["$defs"] = definitions;
  return out.dump(1) + "\n";
}

std::string result_schema() {
  Json definitions = first_definitions();
  Schema schema(definitions);
  Inspection empty;
  describe(schema, empty);
  return schema_text("result", kResultVersion, schema, definitions);
}

std::string job_schema() { return job_schema_text; }

}  // namespace gapfront::report
