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

/// One list, not one in another: a file may hold only so many levels.
Message joined(const char* id, const Messages& parts) {
  return parts.empty() ? Message() : parts.size() == 1 ? parts[0] : Message(id, {parts});
}

}  // namespace

bool operator==(const Message& a, const Message& b) {
  if (a.id != b.id || a.arguments.size() != b.arguments.size()) return false;
  for (std::size_t i = 0; i < a.arguments.size(); ++i)
    if (!same(a.arguments[i], b.arguments[i])) return false;
  return true;
}

Message in_one_sentence(const Messages& clauses) { return joined("join.clauses", clauses); }
Message in_sequence(const Text& sentences) { return joined("join.sentences", sentences); }

Message full_sentence(const Messages& clauses) {
  return clauses.empty() ? Message() : Message("list.sentence", {Messages{in_one_sentence(clauses)}});
}

const char* to_string(Measure m) {
  static constexpr const char* names[] = {"number",   "fraction", "probability", "length",     "fine length", "tiny",
                                          "depth",    "tape",     "area",        "given area", "volume",      "mass",
                                          "pressure", "force",    "flow rate",   "time",       "viscosity",   "cycles"};
  return names[static_cast<int>(m)];
}

}  // namespace gapfront
