// Messages in a result file.
#include "report/describe/message.hpp"

#include <catch2/catch.hpp>

#include "gapfront/error.hpp"
#include "report/describe/reader.hpp"
#include "report/describe/schema.hpp"
#include "report/describe/writer.hpp"

using namespace gapfront;

TEST_CASE("A message with every kind of argument is read back as it was written, and refused where it is none") {
  Message whole;  // of no catalogue: nothing is said
  whole.arguments = {arg::length(1.25), arg::place(Vec3(1, 2, 3), 2), arg::name("B1"), 3L, Messages(2)};
  report::Writer writer;
  writer("message", whole);
  Message back;
  report::Reader(writer.out, 0)("message", back);
  CHECK(back == whole);
  CHECK(writer.out["message"]["arguments"][0]["quantity"]["measure"] == "length");
  const auto fault = [&](const char* at, const report::Json& value) -> std::string {
    report::Json j = writer.out;
    j[report::Json::json_pointer(at)] = value;
    try {
      report::Reader(j, 0)("message", back);
    } catch (const Error& e) {
      return e.what();
    }
    return "no fault";
  };
  CHECK(fault("/message/arguments/3", {{"number", 3}}).starts_with("message.arguments.3: has none of the keys"));
  CHECK(fault("/message/arguments/3", report::Json::object()) == "message.arguments.3: must have one key");
  CHECK(fault("/message/arguments/4/messages/1", 7) == "message.arguments.4.messages.1: must be of type \"object\"");
  CHECK(fault("/message/id", "x") == "message.id: is in no catalogue");
  report::Json deep = writer.out["message"];
  for (int k = 0; k < 1000; ++k) {
    report::Json outer = writer.out["message"];
    outer["arguments"] = report::Json::array({{{"messages", report::Json::array({deep})}}});
    deep = outer;
  }
  CHECK(fault("/message", deep).ends_with("is nested too deeply"));
  CHECK(fault("/message/arguments/0/quantity/decimals", -2).ends_with("decimals: must not be below -1.0"));
}

TEST_CASE("A note of an earlier build, with fewer arguments or an id that is gone, is read as it was said") {
  const Message note("pages.later-inspection", {arg::name("2026-03-10"), arg::number(900)});
  report::Writer writer;
  writer("message", note);
  const std::string said = say(note);
  for (const auto& [at, value] : {std::pair<const char*, report::Json>{"/message/arguments", report::Json::array()},
                                  {"/message/id", "pages.of-long-ago"}}) {
    report::Json j = writer.out;
    j[report::Json::json_pointer(at)] = value;
    Message back;
    report::Reader(j, 0)("message", back);
    CHECK(say(back) == said);
    j["message"]["text"] = "";  // nothing says what it was
    CHECK_THROWS_AS(report::Reader(j, 0)("message", back), Error);
  }
}

TEST_CASE("An order for as many stations as a job may have is read back") {
  Messages orders;
  for (int k = 0; k < 100; ++k)
    orders.push_back(Message("corrections.station-will-then-stand", {arg::name("S"), arg::length(0.05)}));
  const Message order = full_sentence(orders);
  report::Writer writer;
  writer("message", order);
  Message back;
  report::Reader(writer.out, 0)("message", back);
  CHECK(back == order);
}

TEST_CASE("The schema of a type that holds its like refers to itself") {
  report::Json definitions = report::first_definitions();
  report::Schema schema(definitions);
  Message message;
  schema("message", message);
  const report::Json& argument = definitions.at("message")["properties"]["arguments"]["items"];
  CHECK(argument["properties"]["messages"]["items"]["$ref"] == "#/$defs/message");
}
