// Every value of a result, a re-check and a diagnosis is replaced by others, one at a time: the page comes, or one line
// that says what is wrong. Most faults of reading were found like this; run with -fsanitize for the rest of them.
#include <catch2/catch.hpp>
#include <cctype>
#include <cstring>
#include <nlohmann/json.hpp>

#include "gapfront/error.hpp"
#include "gapfront/pages.hpp"
#include "gapfront/report.hpp"
#include "small.hpp"
#include "small_pages.hpp"

namespace {

using PlainJson = nlohmann::json;

/// The way to every value; of a list its first and last stand for all.
void ways(const PlainJson& j, const PlainJson::json_pointer& at, std::vector<PlainJson::json_pointer>& out) {
  out.push_back(at);
  if (j.is_object())
    for (const auto& [key, inner] : j.items()) ways(inner, at / key, out);
  if (j.is_array() && !j.empty())
    for (const std::size_t i : {std::size_t(0), j.size() - 1})
      if (i == 0 || j.size() > 1) ways(j[i], at / i, out);
}

std::vector<PlainJson> others() {
  return {nullptr, true, -1, 0, 6e8, 1e308, 2147483648.0, "", "x", PlainJson::array(), PlainJson::object()};
}

/// No "nan" or "inf" as a word of its own; in scripts and base64 such letters mean nothing.
bool only_numbers(std::string html) {
  for (std::size_t a; (a = html.find("<script")) != std::string::npos;)
    html.erase(a, html.find("</script>", a) - a + 1);
  const auto letter = [&](std::size_t i) {
    return i < html.size() && (std::isalnum(static_cast<unsigned char>(html[i])) || std::strchr("_+/=", html[i]));
  };
  for (const char* word : {"nan", "inf", "NaN"})
    for (std::size_t i = 0; (i = html.find(word, i)) != std::string::npos; ++i)
      if (!(i > 0 && letter(i - 1)) && !letter(i + 3)) return false;
  return true;
}

/// How many of the changed files gave a page, and how many were refused in one line; anything else fails the test.
std::pair<int, int> replace_each(const PlainJson& whole, std::size_t every) {
  std::vector<PlainJson::json_pointer> all;
  ways(whole, PlainJson::json_pointer(), all);
  const auto values = others();
  int pages = 0, refused = 0;
  for (std::size_t k = 0; k < all.size() * values.size(); k += every) {
    PlainJson changed = whole;
    changed[all[k / values.size()]] = values[k % values.size()];
    INFO(all[k / values.size()].to_string() << " = " << values[k % values.size()]);
    try {
      const std::string html = gapfront::report::page_of(changed.dump(), "").html;
      pages += !html.empty();
      CHECK(only_numbers(html));
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
  const auto [pages, refused] =
      replace_each(PlainJson::parse(report::result_json(full_inspection())), 301);  // prime to 11 values
  CHECK(pages > 0);
  CHECK(refused > 10);
}

TEST_CASE("Where a number of a result is none, no page says nan") {
  const PlainJson whole = PlainJson::parse(report::result_json(full_inspection()));
  std::vector<PlainJson::json_pointer> all, may_be_none;
  ways(whole, PlainJson::json_pointer(), all);
  const auto without = [&](auto first, auto last) {
    PlainJson changed = whole;
    for (; first != last; ++first) changed[*first] = nullptr;
    return changed.dump();
  };
  for (std::size_t k = 0; k < all.size(); k += 17) {
    if (!whole[all[k]].is_number()) continue;
    try {
      report::read_result(without(&all[k], &all[k] + 1));
      may_be_none.push_back(all[k]);
    } catch (const Error&) {
    }
  }
  // A page for eight of them: pages are what takes time.
  std::size_t seen = 0;
  for (std::size_t k = 0; k < may_be_none.size(); k += 8) {
    const auto first = may_be_none.begin() + k, last = may_be_none.begin() + std::min(k + 8, may_be_none.size());
    INFO("among the eight from " << first->to_string());
    try {
      CHECK(only_numbers(report::page_of(without(first, last), "").html));
      seen += last - first;
    } catch (const Error&) {
    }
  }
  CHECK(seen > 20);
}

TEST_CASE("A re-check, a diagnosis or a shot with any one value replaced or left out gives a page or one line") {
  for (const std::string& text : {report::recheck_json(small_job(), worn()),
                                  report::diagnosis_json(dry_inspection(), dry()), small_shot_json()}) {
    const PlainJson whole = PlainJson::parse(text);
    const auto [pages, refused] = replace_each(whole, 61);  // prime to 11 values; all of them below
    CHECK(pages > 5);
    CHECK(refused > 5);
    std::vector<PlainJson::json_pointer> all;
    ways(whole, PlainJson::json_pointer(), all);
    int left_out = 0;
    for (const auto& way : all) {
      if (way.empty() || way.back() == "outcome" || way.back() == "format_version" ||
          !whole[way.parent_pointer()].is_object())
        continue;
      PlainJson changed = whole;
      changed[way.parent_pointer()].erase(way.back());
      INFO(way.to_string());
      CHECK_THROWS_WITH(report::page_of(changed.dump()), Catch::Contains("lacks " + way.back()) ||
                                                             Catch::Contains("give ") ||
                                                             Catch::Contains("must have one key"));
      ++left_out;
    }
    CHECK(left_out > 50);
  }
}

TEST_CASE("A result, a re-check, a diagnosis with every value replaced by every other, in full", "[.long]") {
  for (const std::string& text : {report::result_json(full_inspection()), report::recheck_json(small_job(), worn()),
                                  report::diagnosis_json(dry_inspection(), dry())}) {
    const auto [pages, refused] = replace_each(PlainJson::parse(text), 1);
    WARN(pages << " pages, " << refused << " refused");
    CHECK(pages + refused > 1000);
  }
}

TEST_CASE("What is wrong in a re-check or a diagnosis is named with the way to it") {
  const auto fault = [](const std::string& good, const char* at, const PlainJson& value) -> std::string {
    PlainJson j = PlainJson::parse(good);
    j[PlainJson::json_pointer(at)] = value;
    try {
      report::page_of(j.dump());
    } catch (const Error& e) {
      return e.what();
    }
    return "no fault";
  };
  const std::string recheck = report::recheck_json(small_job(), worn()),
                    diagnosis = report::diagnosis_json(dry_inspection(), dry());
  CHECK_THAT(fault(recheck, "/sheet/triangles/1/2", 4), Catch::Contains("sheet.triangles.1.2: names a node"));
  CHECK_THAT(fault(recheck, "/sheet/fields/drift_mm", PlainJson::array()),
             Catch::Contains("sheet.fields.drift_mm: is not one value per node"));
  CHECK_THAT(fault(recheck, "/wear/0/course/1", PlainJson::array({1})),
             Catch::Contains("wear.0.course.1: must have 3 items"));
  CHECK_THAT(fault(recheck, "/datum", "x"), Catch::Contains("datum: is none of"));
  CHECK_THAT(fault(diagnosis, "/spots/0/causes/0/kind", "x"), Catch::Contains("spots.0.causes.0.kind: is none of"));
  CHECK_THAT(fault(diagnosis, "/spots/0/seen", 1.5), Catch::Contains("spots.0.seen: must be of type \"integer\""));
}

TEST_CASE("A node that the sheet does not have, and lists that do not belong together, are named") {
  const PlainJson good = PlainJson::parse(report::result_json(full_inspection()));
  const auto fault = [&](const char* at, const PlainJson& value) -> std::string {
    PlainJson j = good;
    j[PlainJson::json_pointer(at)] = value;
    try {
      gapfront::report::read_result(j.dump());
    } catch (const gapfront::Error& e) {
      return e.what();
    }
    return "no fault";
  };
  CHECK_THAT(fault("/front/lead/greatest_node", 4), Catch::Contains("front.lead.greatest_node: names a node"));
  CHECK_THAT(fault("/corrections/after_each", PlainJson::array()), Catch::Contains("corrections.after_each"));
  CHECK_THAT(fault("/corrections/candidates/0/kind", "x"),
             Catch::Contains("corrections.candidates.0.kind: is none of"));
  CHECK_THAT(fault("/sheet/nodes_mm/0/1", 1e9), Catch::Contains("sheet.nodes_mm.0.1: is larger than"));
  CHECK_THAT(fault("/front/lead/greatest_node", 1), Catch::Contains("no fault"));
}
