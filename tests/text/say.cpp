#include <algorithm>
#include <catch2/catch.hpp>
#include <filesystem>
#include <fstream>
#include <functional>
#include <nlohmann/json.hpp>
#include <regex>
#include <set>
#include <sstream>

#include "gapfront/catalogue.hpp"
#include "gapfront/languages.hpp"
#include "gapfront/text.hpp"
#include "test_paths.hpp"

using namespace gapfront;

namespace {

/// The places of arguments that a text asks for, each once.
std::set<char> asked(const std::string& text) {
  std::set<char> out;
  for (std::size_t i = 0; (i = text.find('{', i)) != std::string::npos; ++i) out.insert(text[i + 1]);
  return out;
}

std::string read(const std::filesystem::path& file) {
  std::ostringstream out;
  out << std::ifstream(file).rdbuf();
  return out.str();
}

}  // namespace

TEST_CASE("A quantity is written in the unit and with the digits that its measure asks for") {
  const Voice inch{UnitSystem::inch};
  CHECK(say(arg::length(1.254, 2)) == "1.25 mm");
  CHECK(say(arg::length(-0.5, 2, true)) == "−0.50 mm");
  CHECK(say(arg::length(25.4, 2), inch) == "1.0000 in");  // exact: 25.4 mm
  CHECK(say(arg::depth(0.254), inch) == "10 thou");
  CHECK(say(arg::fraction(0.0046)) == "0.46 %");
  CHECK(say(arg::fraction(0.35)) == "35.0 %");
  CHECK(say(arg::probability(3.0 / 64)) == "4.7 %");
  CHECK(say(arg::time(250)) == "4 min 10 s");
  CHECK(say(arg::place({82, -47.4, 3}, 2)) == "x 82, y −47 mm");
}

TEST_CASE("What is asked for is rounded down, so that it does") {
  Quantity q = arg::length(0.0479, 3);
  q.round_down = true;
  CHECK(say(q) == "0.047 mm");
  CHECK(say(q, {UnitSystem::inch}) == "0.0018 in");  // 0.0479/25.4 = 0.001886
}

TEST_CASE("What is asked for in whole steps is not rounded down by one more") {
  Quantity q = arg::length(0.29, 2);  // in binary 0.29 / 0.01 is 28.999…
  q.round_down = true;
  CHECK(say(q) == "0.29 mm");
  q = arg::fraction(0.58, 0);
  q.round_down = true;
  CHECK(say(q) == "58 %");
}

TEST_CASE("A language with a decimal comma has it in every quantity, and parts coordinates by semicolons") {
  const Voice german{UnitSystem::mm, "de"};
  CHECK(say(arg::length(1.25), german) == "1,25 mm");
  CHECK(say(arg::place({1, 2, 3}), german) == "x 1; y 2; z 3 mm");
}

TEST_CASE("Several messages in one place are joined by commas and the language's and") {
  const Messages three{Message("page.lower"), Message("page.no"), Message("page.none")};
  CHECK(say(Message("test.list", {three}), {UnitSystem::mm, "en"}) == "lower, no and none");
  CHECK(say(Message("test.list", {three}), {UnitSystem::mm, "de"}) == "untere, nein und keine");
}

TEST_CASE("Clauses, sentences and parts are joined side by side, however many there are") {
  const Messages three{Message("page.lower"), Message("page.no"), Message("page.none")};
  CHECK(say(in_one_sentence(three)) == "lower; no; none");
  CHECK(say(in_one_sentence(three), {UnitSystem::mm, "fr"}) == "inférieur ; non ; aucun");
  CHECK(say(in_sequence(three)) == "lower no none");
  CHECK(say(Message("join.sum", {three})) == "lower + no + none");
  CHECK(say(full_sentence(three)) == "lower; no; none.");
  CHECK(in_one_sentence({three[0]}) == three[0]);
  CHECK(in_one_sentence({}).empty());
  CHECK_FALSE(sayable(Message("join.sum", {3L})));
}

TEST_CASE("A percentage that must not promise more is rounded down") {
  Quantity q = arg::fraction(0.997, 0);
  q.round_down = true;
  CHECK(say(q) == "99 %");
}

TEST_CASE("A whole number chooses between singular and plural, as the language does") {
  CHECK(say(Message("test.places", {0L})) == "0 places");
  CHECK(say(Message("test.places", {1L})) == "1 place");
  CHECK(say(Message("test.places", {0L}), {UnitSystem::mm, "fr"}) == "0 endroit");
  CHECK(say(Message("test.places", {2L}), {UnitSystem::mm, "fr"}) == "2 endroits");
}

TEST_CASE("An unknown message, and one with too few arguments, are faults of the program") {
  CHECK_THROWS_AS(say(Message("no.such")), std::logic_error);
  CHECK_THROWS_AS(say(Message("test.places")), std::logic_error);
  CHECK(say(Message()).empty());
}

TEST_CASE("A .po file with a text twice, or a line that is none, is refused with the line") {
  CHECK_THROWS_WITH(parse_po("msgid \"a\"\nmsgstr \"b\"\nmsgid \"a\"\nmsgstr \"c\"\n"), Catch::Contains("line 4"));
  CHECK_THROWS_WITH(parse_po("msgid \"a\"\nnonsense\n"), Catch::Contains("line 2"));
  CHECK(parse_po("msgid \"a\"\nmsgstr \"\"\n\"b \\\"c\\\"\"\n").find("a")->one == "b \"c\"");
}

TEST_CASE("Every text is in every language, and asks for the same arguments there") {
  for (const auto& [id, english] : catalogue_of("en")->texts)
    for (const std::string language : languages) {
      CAPTURE(id, language);
      const CatalogueText* text = catalogue_of(language)->find(id);
      REQUIRE(text);
      CHECK(asked(text->one) == asked(english.one));
      CHECK(text->many.empty() == english.many.empty());
      CHECK(asked(text->many) == asked(english.many));
    }
  for (const std::string language : languages)
    CHECK(catalogue_of(language)->texts.size() == catalogue_of("en")->texts.size());
}

TEST_CASE("Every text that the sources ask for is in the catalogue, and no other is") {
  const auto& texts = catalogue_of("en")->texts;
  std::set<std::string> kinds, asked_for;  // what stands before the dot
  for (const auto& [id, text] : texts) kinds.insert(id.substr(0, id.find('.')));
  const std::set<std::string> files{"corrections.csv", "diagnosis.html", "diagnosis.json", "fleet.csv",
                                    "fleet.html",      "fronts.png",     "shot.json",      "fronts.webm",
                                    "shot.html",       "study.html",     "study.json",     "zones.ply"};
  // They stand in results of earlier programs, which are still read.
  std::set<std::string> earlier{"work.move-vent-there", "work.move-inlet-so-begins", "bench.place-edge-nearest"};
  const std::regex quoted("\"([a-z]+)\\.[a-z0-9-]+\"");
  for (const auto& file : std::filesystem::recursive_directory_iterator(SOURCE_DIR "/src")) {
    const auto type = file.path().extension();
    if ((type != ".cpp" && type != ".hpp" && type != ".js") || file.path().filename() == "three.min.js") continue;
    const std::string source = read(file.path());
    for (std::sregex_iterator m(source.begin(), source.end(), quoted), end; m != end; ++m) {
      const std::string id = m->str().substr(1, m->length() - 2);
      if (kinds.count((*m)[1]) == 0 || files.count(id) > 0) continue;
      asked_for.insert(id);
      CAPTURE(file.path().string(), id);
      CHECK(texts.count(id) == 1);
    }
  }
  for (const auto& [id, text] : texts) {
    CAPTURE(id);
    CHECK((asked_for.count(id) == 1 || earlier.erase(id) == 1 || id.rfind("test.", 0) == 0 ||
           id.rfind("key.", 0) == 0 || id.rfind("label.", 0) == 0));
  }
  CHECK(earlier.empty());
}

TEST_CASE("What the keys of a job file mean stands in the catalogue, word by word as in its schema, and no more") {
  std::set<std::string> meanings, said;
  const std::function<void(const nlohmann::json&)> collect = [&](const nlohmann::json& node) {
    for (const auto& [key, value] : node.items()) {
      if (key == "description" && value.is_string()) meanings.insert(value.get<std::string>());
      if (value.is_structured()) collect(value);
    }
  };
  collect(nlohmann::json::parse(read(SOURCE_DIR "/src/report/schema/job.schema.json")));
  for (const auto& [id, text] : catalogue_of("en")->texts) {
    CAPTURE(id);
    said.insert(text.one);
    CHECK((id.rfind("key.", 0) != 0 || meanings.count(text.one) == 1));
  }
  for (const std::string& meaning : meanings) {
    CAPTURE(meaning);
    CHECK(said.count(meaning) == 1);
  }
}

TEST_CASE("Each key of a job file has a name in the words of the trade, which stands in the catalogue") {
  std::set<std::string> names, said;
  const std::function<void(const nlohmann::json&, int)> collect = [&](const nlohmann::json& node, int depth) {
    for (const auto& [word, value] : node.items()) {
      if (word == "properties" && depth > 0)  // sections are told by the steps of the page
        for (const auto& [key, named] : value.items()) {
          CAPTURE(key);
          REQUIRE(named.contains("title"));
          names.insert(named.at("title").get<std::string>());
        }
      if (value.is_structured()) collect(value, depth + 1);
    }
  };
  collect(nlohmann::json::parse(read(SOURCE_DIR "/src/report/schema/job.schema.json")), 0);
  for (const auto& [id, text] : catalogue_of("en")->texts) {
    CAPTURE(id);
    said.insert(text.one);
    CHECK((id.rfind("label.", 0) != 0 || names.count(text.one) == 1));
  }
  for (const std::string& name : names) {
    CAPTURE(name);
    CHECK(said.count(name) == 1);
  }
}

TEST_CASE("A text comes from the file of its language alone: a comma moved in the English one changes no other") {
  for (const std::string language : languages) {
    const Catalogue file = parse_po(read(SOURCE_DIR "/src/text/po/" + language + ".po"));
    for (const auto& [id, text] : file.texts) {
      if (id.rfind("join.", 0) == 0) continue;  // stands between messages
      // Arguments that say their own places.
      std::vector<Argument> arguments;
      for (int k = 1; k <= 9; ++k) arguments.push_back(arg::name("{" + std::to_string(k) + "}"));
      CAPTURE(language, id);
      CHECK(say(Message(id, arguments), {UnitSystem::mm, language}) == text.one);
    }
  }
}

TEST_CASE("A text is in the catalogue once") {
  std::set<std::string> seen;
  for (const auto& [id, text] : catalogue_of("en")->texts) {
    CAPTURE(id);
    CHECK((text.one == "{1}" || seen.insert(text.one).second));
  }
}
