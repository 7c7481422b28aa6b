#include "gapfront/message.hpp"

namespace gapfront {
namespace {

bool same(const Argument& a, const Argument& b) {
  if (a.index() != b.index()) return false;
  struct {
    const Argument& other;
    bool operator()(const Quantity& x) const {
      const Quantity& y = std::get<Quantity>(other);
      return x.value == y.value && x.measure == y.measure && x.decimals == y.decimals && x.sign == y.sign &&
             x.round_down == y.round_down && x.fill_time == y.fill_time;
    }
    bool operator()(const Place& x) const {
      const Place& y = std::get<Place>(other);
      return x.at == y.at && x.axes == y.axes;
    }
    bool operator()(const Name& x) const { return x.text == std::get<Name>(other).text; }
    bool operator()(long x) const { return x == std::get<long>(other); }
    bool operator()(const Messages& x) const { return x == std::get<Messages>(other); }
  } equal{b};
  return std::visit(equal, a);
}

}  // namespace

bool operator==(const Message& a, const Message& b) {
  if (a.id != b.id || a.arguments.size() != b.arguments.size()) return false;
  for (std::size_t i = 0; i < a.arguments.size(); ++i)
    if (!same(a.arguments[i], b.arguments[i])) return false;
  return true;
}

Message in_one_sentence(const Messages& clauses) {
  Message out;
  for (const Message& c : clauses) out = out.empty() ? c : Message("list.then", {Messages{out}, Messages{c}});
  return out;
}

Message in_sequence(const Text& sentences) {
  Message out;
  for (const Message& s : sentences) out = out.empty() ? s : Message("list.two", {Messages{out}, Messages{s}});
  return out;
}

Message full_sentence(const Messages& clauses) {
  return clauses.empty() ? Message() : Message("list.sentence", {Messages{in_one_sentence(clauses)}});
}

const char* to_string(Measure m) {
  static constexpr const char* names[] = {"number", "fraction",  "probability", "length",    "fine length", "tiny",
                                          "depth",  "tape",      "area",        "volume",    "mass",        "pressure",
                                          "force",  "flow rate", "time",        "viscosity", "cycles"};
  return names[static_cast<int>(m)];
}

}  // namespace gapfront
