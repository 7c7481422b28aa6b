#include "fuzz/page_seeds.hpp"

#include <nlohmann/json.hpp>

#include "report/small.hpp"
#include "report/small_pages.hpp"

namespace fuzz {
namespace {

using SeedJson = nlohmann::json;

/// The text with the value at `at` replaced; `at` must be there, or the seed would be good.
std::string with_value(const std::string& good, const std::string& at, const SeedJson& value) {
  SeedJson j = SeedJson::parse(good);
  j.at(SeedJson::json_pointer(at)) = value;
  return j.dump();
}

}  // namespace

std::vector<std::pair<std::string, std::string>> page_seeds() {
  const std::string result = report::result_json(full_inspection()),
                    recheck = report::recheck_json(small_job(), worn()),
                    diagnosis = report::diagnosis_json(dry_inspection(), dry());
  const std::string nested = std::string(2000, '[') + std::string(2000, ']');
  const std::string first_field = SeedJson::parse(result)["sheet"]["fields"].begin().key();
  const SeedJson none = SeedJson::array();
  std::vector<std::pair<std::string, std::string>> out{
      {"good-result", result}, {"good-recheck", recheck}, {"good-diagnosis", diagnosis}};
  // Each crashed, wrote out of bounds or took gigabytes once.
  const std::tuple<const char*, std::string, SeedJson> bad[] = {
      {"corner-minus-one", "/sheet/triangles/0/0", -1},
      {"corner-far", "/sheet/triangles/0/0", 6e8},
      {"path-far", "/front/lead/regions/0/path_nodes/1", 600000000},
      {"peak-far", "/front/lead/regions/0/peak_node", 600000000},
      {"greatest-huge", "/front/lead/greatest_node", 1e308},
      {"empty-field", "/sheet/fields/" + first_field, none},
      {"no-after-each", "/corrections/after_each", none},
      {"empty-outline", "/corrections/candidates/1/templates/0/outline_mm", none},
      {"far-node", "/sheet/nodes_mm/0/1", 1e308},
      {"nested-version", "/format_version", SeedJson::parse(nested)}};
  for (const auto& [name, at, value] : bad) out.push_back({std::string("bad-") + name, with_value(result, at, value)});
  // −1 means "none" there; it must stay away from the nodes.
  for (const char* at : {"/front/lead/regions/0/path_nodes/0", "/front/lead/regions/0/peak_node",
                         "/front/lead/regions/0/source_node", "/front/lead/greatest_node"})
    out.push_back(
        {"minus-one-" + std::string(at).substr(std::string_view(at).rfind('/') + 1), with_value(result, at, -1)});
  out.push_back({"bad-recheck-corner", with_value(recheck, "/sheet/triangles/1/2", -1)});
  out.push_back({"bad-nested", nested});
  out.push_back({"bad-cut", result.substr(0, result.size() / 2)});
  return out;
}

}  // namespace fuzz
