// A message: what it says in English, and what it is made of, for other languages.
#pragma once
#include "gapfront/catalogue.hpp"
#include "gapfront/message.hpp"
#include "gapfront/text.hpp"
#include "report/describe/describe.hpp"

namespace gapfront::report {

void describe(auto& v, Is<Quantity> auto& q) {
  v.about("quantity", "In mm, s, Pa, g; a force in Pa·mm².");
  v("value", exact(q.value));
  v("measure", word(q.measure, Measure::cycles));
  v("decimals", known(q.decimals, -1, 12), "−1: as the measure asks.");
  v("sign", q.sign, "A plus before what is positive.");
  v("round_down", q.round_down);
  v("fill_time_s", q.fill_time, "Written as exactly as a filling of this length is known; 0: as it is.");
}

void describe(auto& v, Is<Place> auto& p) {
  v.about("place");
  v("at_mm", p.at);
  v("axes", one_of(p.axes, {2, 3}));
}

void describe(auto& v, Is<Name> auto& n) {
  v.about("name", "The same in every language.");
  v("text", n.text);
}

void describe(auto& v, Is<Message> auto& m) {
  v.about("message");
  v("id", m.id, "Of the catalogues; empty: nothing is said.");
  v("arguments", each(m.arguments, [](auto& a) {
      return choice(a, {"quantity", "place", "name", "count", "messages"});
    }));
  // What an earlier build said with other arguments, or under an id that is gone, stays as it was said, in English: a
  // history of years has to stay readable, and its verdicts do not hang on a note's words.
  if constexpr (requires { v.text_at("text"); }) {
    const bool known = m.id.empty() || (catalogue_of("en")->find(m.id) && sayable(m));
    if (const std::string* said = known ? nullptr : v.text_at("text")) m = Message("list.plain", {arg::name(*said)});
  }
  v.check(
      "id", [&] { return m.id.empty() || catalogue_of("en")->find(m.id); }, "is in no catalogue");
  v.check(
      "arguments", [&] { return sayable(m); }, "are fewer than its text asks for");
  v.derived(
      "text", [&] { return say(m); }, "In English, in mm.");
}

}  // namespace gapfront::report
