// The pages of a re-check and of a diagnosis, on small results made by hand.
#include <regex>

#include <catch2/catch.hpp>
#include <nlohmann/json.hpp>

#include "gapfront/error.hpp"
#include "small_pages.hpp"
#include "unsaid.hpp"

using namespace gapfront;
using Catch::Contains;

TEST_CASE("The page of a re-check says verdict, rate, cycles left, next date and what drops out, from its JSON alone") {
  const std::string json = report::recheck_json(small_job(), worn()), page = report::page_of(json).html;
  CHECK_THAT(page, Contains("Worn in one place &amp; more."));
  CHECK_THAT(page, Contains("+0.050\u00a0mm<br>± "));  // 0.2 mm over 4,000 cycles is 0.05 per 1,000
  CHECK_THAT(page, Contains("2000 cycles (95\u00a0%: 1500 to 2600)") && Contains("2026-06-13"));
  CHECK_THAT(page, Contains("drops out") && Contains("limit 3.300\u00a0mm."));  // the chart's text alternative
  CHECK_THAT(page, Contains("Small &lt;tool&gt;") && Contains("Read &lt;this&gt;.") && !Contains("<this>"));
}

TEST_CASE("The first chart of a re-check is of the wear that the headline says comes first") {
  Recheck r = worn();
  Wear open = r.wear[0];  // no evidence yet, and not before the other
  open.name = "W2", open.enough = false, open.left = std::numeric_limits<double>::infinity(), open.left_low = 4000;
  r.wear.push_back(open);
  REQUIRE(first_to_end(r));
  CHECK(first_to_end(r)->name == "W1");
  const std::string page = report::page_of(report::recheck_json(small_job(), r)).html;
  const auto chart = [&](const char* name) {
    return page.find("<b><span translate=\"no\">" + std::string(name) + "</span>.</b>");
  };
  REQUIRE(chart("W2") != std::string::npos);
  CHECK(chart("W1") < chart("W2"));
}

TEST_CASE("The page of a re-check sends to the seat, or names what has vanished, above all else") {
  Recheck r = worn();
  CHECK_THAT(report::recheck_json(small_job(), r), !Contains("seat_first") && !Contains("vanished"));
  r.vanished = {{Vec3(1, 2, 3), 0.27, 0.01, "2026-03-10", "2026-04-10", 2000, 2400, 0}};
  r.wear.clear();
  CHECK_THAT(report::page_of(report::recheck_json(small_job(), r)).html, Contains("A change has gone"));
  r = worn();
  r.seat_first = r.wear[0].by_seat = true, r.datum = DatumState::half_moved;
  r.next_cycles = std::nan(""), r.next_why = Message("pages.seat-first");
  const std::string page = report::page_of(report::recheck_json(small_job(), r)).html;
  CHECK_THAT(page, Contains("Seat moved") && Contains("seat any shim that is loose") && !Contains("new-baseline"));
}

TEST_CASE("The page of a diagnosis shows the spot as seen, the causes before and after, the proof and the cure") {
  const std::string json = report::diagnosis_json(dry_inspection(), dry()), page = report::page_of(json).html;
  CHECK_THAT(page, Contains("class=\"seen\"") && Contains("Seen in 9 of 10 parts."));
  // Cells of wide tables carry their header's words, for phones.
  const std::string cells = std::regex_replace(page, std::regex(" data-label=\"[^\"]*\""), "");
  CHECK_THAT(cells, Contains("spot left, of 80\u00a0%") &&
                        Contains("<td>4\u00a0%</td><td>95\u00a0%</td><td>25\u00a0% (15\u00a0% – 37\u00a0%)</td>"));
  // Cause and cure stand in the box, then the bars and both fronts with their film; all else comes after.
  std::size_t at = 0;
  for (const char* next : {"class=\"headline\"", "This correction cures it.", "class=\"bars\"", "as the tool is",
                           "id=\"play-fronts\"", "class=\"film\"", "id=\"maps\"", "id=\"spot-1\""}) {
    INFO(next);
    REQUIRE(page.find(next, at) != std::string::npos);
    at = page.find(next, at);
  }
  CHECK_THAT(page, Contains("Press clay &lt;there&gt;.") && Contains("Build up R1.") && Contains("2.5 h"));
}

TEST_CASE("A schema names the version of the form that it describes") {
  for (const std::string& text :
       {report::result_schema(), report::recheck_schema(), report::diagnosis_schema(), report::shot_schema()}) {
    const auto schema = nlohmann::json::parse(text);
    const std::string version = schema.at("properties").at("format_version").at("const").dump();
    CHECK_THAT(schema.at("$id").get<std::string>(), Catch::EndsWith(":" + version));
    CHECK_THAT(schema.at("title").get<std::string>(), Catch::EndsWith(" " + version));
  }
}

TEST_CASE("Pages without a script ask the network for nothing and have a picture for every map with words for it") {
  for (const std::string& page : {report::page_of(report::recheck_json(small_job(), worn())).html,
                                  report::page_of(report::diagnosis_json(dry_inspection(), dry())).html}) {
    for (const char* word : {"http://", "https://", "<script", "url(", "@import"}) CHECK_THAT(page, !Contains(word));
    CHECK_THAT(page, Contains("default-src 'none'"));
    std::size_t maps = 0, words = 0;
    for (std::size_t at = 0; (at = page.find("<svg ", at)) != std::string::npos; ++at) ++maps;
    for (std::size_t at = 0; (at = page.find("role=\"img\" aria-label=\"", at)) != std::string::npos; ++at) ++words;
    CHECK(maps >= 4);
    CHECK(maps == words);
  }
}

TEST_CASE("A file that is none of the three results is refused in one line with a remedy") {
  CHECK_THROWS_WITH(report::page_of("{"), Contains("make it again"));
  CHECK_THROWS_WITH(report::page_of("{\"format\":\"other\"}"),
                    Contains("give result.json, recheck.json, diagnosis.json or shot.json"));
  CHECK_THROWS_WITH(report::page_of("{\"format\":\"gapfront re-check\",\"format_version\":1}"), Contains("reads 4"));
  CHECK_THROWS_WITH(report::page_of("{\"format\":\"gapfront diagnosis\",\"format_version\":4}"),
                    Contains("incomplete"));
}

TEST_CASE("The page of a spot that the model does not make clears nobody of it") {
  Diagnosis d = dry();
  d.spots[0].predicted = d.spots[0].gap_explains = false;
  const std::string page = report::page_of(report::diagnosis_json(dry_inspection(), d)).html;
  CHECK_THAT(page, Contains("Cause not found") && !Contains(">Not the gap<") && !Contains("class=\"verdict ok"));
  d.spots[0].predicted = true;
  CHECK_THAT(report::page_of(report::diagnosis_json(dry_inspection(), d)).html,
             Contains("Not the gap") && !Contains("Cause not found"));
}

TEST_CASE("A re-check and a diagnosis leave nothing in English, whatever they have found") {
  Recheck r = worn();
  const auto page = [&] { return unsaid(report::page_of(report::recheck_json(small_job(), r), "marked").html); };
  CHECK(page() == std::vector<std::string>{});
  r.wear[0].enough = false, r.wear[0].face = "both", r.datum = DatumState::target_moved, r.next_date = "";
  CHECK(page() == std::vector<std::string>{});
  r.wear.clear(), r.moved[0].several = true, r.front.max_s = 0;
  CHECK(page() == std::vector<std::string>{});
  Diagnosis d = dry();
  d.spots.push_back(d.spots[0]);
  d.spots[1].gap_explains = false, d.spots[1].spot.parts = 0, d.spots[1].cure = -1, d.spots[1].cure_by = CureBy::none;
  CHECK(unsaid(report::page_of(report::diagnosis_json(dry_inspection(), d), "marked").html) ==
        std::vector<std::string>{});
}

TEST_CASE(
    "The page of a shot shows verdict, causes, log and model, is made again alike, and leaves nothing in English") {
  const std::string json = small_shot_json(), page = report::page_of(json).html;
  CHECK_THAT(page, Contains("This shot was not normal") && Contains("V &lt;1&gt;") && Contains("monday &lt;1&gt;.csv"));
  CHECK_THAT(page, Contains("not within the log") && Contains("<svg"));
  CHECK(page.find("<1>") == std::string::npos);
  ShotFound f = small_shot();
  for (const ShotVerdict verdict :
       {ShotVerdict::normal, ShotVerdict::abnormal, ShotVerdict::unclear, ShotVerdict::unexplained}) {
    f.verdict = verdict, f.earlier = f.earlier ? 0 : 4;
    CHECK(unsaid(report::page_of(small_shot_json(f), "marked").html) == std::vector<std::string>{});
  }
  // Where all causes miss the log none has a probability.
  f.verdict = ShotVerdict::unexplained;
  CHECK(report::page_of(small_shot_json(f)).html.find("<td>25\u00a0%</td>") == std::string::npos);
  f.verdict = ShotVerdict::abnormal;
  CHECK_THAT(report::page_of(small_shot_json(f)).html, Contains("<td>25\u00a0%</td>"));
}
