// The topic of the job file: sections and keys as its schema describes them.
#include <nlohmann/json.hpp>
#include <tuple>
#include <utility>

#include "cli/manual.hpp"
#include "gapfront/report.hpp"

namespace gapfront::cli {
namespace {

using JobSchema = nlohmann::ordered_json;

/// With what its reference says; its own words win.
JobSchema resolved(const JobSchema& all, const JobSchema& node) {
  if (!node.contains("$ref")) return node;
  const std::string name = node["$ref"].get<std::string>().substr(std::string("#/$defs/").size());
  JobSchema out = all["$defs"][name];
  for (const auto& [key, value] : node.items())
    if (key != "$ref") out[key] = value;
  return out.contains("$ref") ? resolved(all, out) : out;
}

bool is_needed(const JobSchema& table, const std::string& key) {
  for (const auto& name : table.value("required", JobSchema::array()))
    if (name == key) return true;
  return false;
}

std::string in_words(const JobSchema& values) {
  std::string s;
  for (const auto& v : values)
    s += (s.empty() ? "" : ", ") + (v.is_string() ? "\"" + v.get<std::string>() + "\"" : v.dump());
  return s;
}

/// What a value is, by the schema's name for it or its type.
std::string form_of(const JobSchema& node, const JobSchema& v) {
  const std::string named = node.value("$ref", ""), type = v.value("type", "");
  for (const auto& [end, form] : {std::pair{"/length", "A length."},
                                  {"/fraction", "A share."},
                                  {"/place", "A place."},
                                  {"/places", "A list of places."},
                                  {"/polygon", "Places."},
                                  {"/box", "Places."}})
    if (named.ends_with(end)) return form;
  return type == "boolean"  ? "true or false."
         : type == "string" ? "Text."
         : type == "array"  ? "A list."
         : type.empty()     ? ""
                            : "A number.";
}

std::string meaning(const JobSchema& all, const JobSchema& node, bool needed) {
  const JobSchema v = resolved(all, node);
  // One of several, or a list of them: what one may be.
  const JobSchema one = resolved(all, v.contains("items") ? v["items"] : v.contains("oneOf") ? v["oneOf"][0] : v);
  std::string s;
  const auto add = [&](const std::string& more) { s += (s.empty() || more.empty() ? "" : " ") + more; };
  if (needed) add("Needed.");
  add(v.value("description", ""));
  if (one.contains("enum"))
    add("One of " + in_words(one["enum"]) + ".");
  else if (node.contains("examples") || !node.contains("$ref"))
    add(v.contains("examples") ? "E.g. " + in_words(v["examples"]) + "." : "");
  if (v.contains("default")) add("Default: " + in_words({v["default"]}) + ".");
  const bool said =
      node.contains("examples") || one.contains("enum") || (v.contains("description") && !node.contains("$ref"));
  if (!said) add(form_of(node, v));
  return s;
}

/// A part for the table at this path, and for each table below it; `many`: it may stand several times.
void add_table(std::vector<Part>& parts, const JobSchema& all, const std::string& path, const JobSchema& node,
               bool many) {
  const JobSchema table = resolved(all, node);
  Part part{many ? "[[" + path + "]]" : "[" + path + "]", {}, table.value("description", ""), {}};
  std::vector<std::tuple<std::string, JobSchema, bool>> below;
  for (const auto& [key, value] : table.at("properties").items()) {
    const JobSchema v = resolved(all, value);
    JobSchema tables = v.contains("items") ? resolved(all, v["items"]) : v;
    if (!tables.contains("properties")) {
      part.items.push_back({key, meaning(all, value, is_needed(table, key))});
      continue;
    }
    if (v.contains("description")) tables["description"] = v["description"];
    below.emplace_back(path + "." + key, std::move(tables), v.contains("items"));
  }
  parts.push_back(std::move(part));
  for (const auto& [name, next, several] : below) add_table(parts, all, name, next, several);
}

}  // namespace

ManualPage topic_job() {
  const JobSchema schema = JobSchema::parse(report::job_schema());
  ManualPage page{"gapfront job", 7, "the job file: its sections and keys", {}};
  page.parts.push_back(
      {"What it is",
       {"gapfront new lower.ply upper.ply -o my.toml"},
       "A text file in TOML that says where the scans are, how they come together, and what the gap "
       "should be. The line above writes one from two scans, with comments. What it guessed stands in "
       "[job] unconfirmed until you take it off.\n\n"
       "Every dimension is a text with its unit (gapfront help units). Places are in the tool frame, "
       "which is fixed to the lower half with Z towards the upper; files are relative to the job file. "
       "A key that is not known is refused, with its line and the nearest one that is. [[…]] may stand "
       "several times. gapfront schema job prints the same as a JSON Schema, for an editor.",
       {}});
  for (const auto& [name, section] : schema["properties"].items()) {
    if (name == "upper") continue;  // as lower
    add_table(page.parts, schema, name, section, false);
    if (name == "lower") page.parts.back().heading = "[lower] and [upper]";
  }
  return page;
}

}  // namespace gapfront::cli
