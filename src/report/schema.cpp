// The JSON Schemas: written by hand, but for the sheet's fields, which have one list of their own.
#include <nlohmann/json.hpp>

#include "gapfront/report.hpp"
#include "report/assets.hpp"
#include "report/fields.hpp"

namespace gapfront {

std::string result_schema() {
  auto schema = nlohmann::ordered_json::parse(report::result_schema);
  auto& columns = schema["properties"]["sheet"]["properties"]["fields"]["properties"];
  for (const auto& f : report::fields(Inspection()))
    columns[f.id] = {{"$ref", "#/$defs/column"}, {"description", f.title + ": " + f.meaning}};
  return schema.dump(1) + "\n";
}

std::string job_schema() { return report::job_schema; }

}  // namespace gapfront
