// Every value of a result, a re-check and a diagnosis is replaced by others, one at a time: the page comes, or one line
// that says what is wrong. Most faults of reading were found like this; run with -fsanitize for the rest of them.
#include <catch2/catch.hpp>
#include <nlohmann/json.hpp>

#include "gapfront/error.hpp"
#include "gapfront/pages.hpp"
#include "gapfront/report.hpp"
#include "small.hpp"

namespace {

using Json = nlohmann::json;

/// The way to every value; of a list its first and last stand for all.
void ways(const Json& j, const Json::json_pointer& at, std::vector<Json::json_pointer>& out) {
  out.push_back(at);
  if (j.is_object())
    for (const auto& [key, inner] : j.items()) ways(inner, at / key, out);
  if (j.is_array() && !j.empty())
    for (const std::size_t i : {std::size_t(0), j.size() - 1})
      if (i == 0 || j.size() > 1) ways(j[i], at / i, out);
}

std::vector<Json> others() {
  return {nullptr, true, -1, 0, 6e8, 1e308, 2147483648.0, "", "x", Json::array(), Json::object()};
}

/// How many of the changed files gave a page, and how many were refused in one line; anything else fails the test.
std::pair<int, int> replace_each(const Json& whole, std::size_t every) {
  std::vector<Json::json_pointer> all;
  ways(whole, Json::json_pointer(), all);
  const auto values = others();
  int pages = 0, refused = 0;
  for (std::size_t k = 0; k < all.size() * values.size(); k += every) {
    Json changed = whole;
    changed[all[k / values.size()]] = values[k % values.size()];
    INFO(all[k / values.size()].to_string() << " = " << values[k % values.size()]);
    try {
      pages += !gapfront::page_of(changed.dump(), "").html.empty();
    } catch (const gapfront::Error& e) {
      ++refused;
      CHECK(e.fault == gapfront::Fault::input);
      CHECK(std::string(e.what()).find('\n') == std::string::npos);
    } catch (const std::exception& e) {
      FAIL_CHECK("not one of our errors: " << e.what());
    }
  }
  return {pages, refused};
}

}  // namespace

TEST_CASE("A result with any one value replaced gives a page or one line, never anything else") {
  const auto [pages, refused] = replace_each(Json::parse(result_json(full_inspection())), 301);  // prime to 11 values
  CHECK(pages > 0);
  CHECK(refused > 10);
}

TEST_CASE("A result with every value replaced by every other, in full", "[.long]") {
  const auto [pages, refused] = replace_each(Json::parse(result_json(full_inspection())), 1);
  WARN(pages << " pages, " << refused << " refused");
  CHECK(pages + refused > 1000);
}

TEST_CASE("A node that the sheet does not have, and lists that do not belong together, are named") {
  const Json good = Json::parse(result_json(full_inspection()));
  const auto fault = [&](const char* at, const Json& value) -> std::string {
    Json j = good;
    j[Json::json_pointer(at)] = value;
    try {
      gapfront::read_result(j.dump());
    } catch (const gapfront::Error& e) {
      return e.what();
    }
    return "no fault";
  };
  CHECK_THAT(fault("/front/lead/greatest_node", 4), Catch::Contains("front.lead.greatest_node: names a node"));
  CHECK_THAT(fault("/corrections/after_each", Json::array()), Catch::Contains("corrections.after_each"));
  CHECK_THAT(fault("/corrections/candidates/0/kind", "x"),
             Catch::Contains("corrections.candidates.0.kind: is none of"));
  CHECK_THAT(fault("/sheet/nodes_mm/0/1", 1e9), Catch::Contains("sheet.nodes_mm.0.1: is larger than"));
  CHECK_THAT(fault("/front/lead/greatest_node", 1), Catch::Contains("no fault"));
}
