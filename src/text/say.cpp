// Messages and quantities in words.
#include <fmt/format.h>

#include <cmath>
#include <stdexcept>

#include "gapfront/catalogue.hpp"
#include "gapfront/languages.hpp"
#include "gapfront/text.hpp"
#include "units/digits.hpp"
#include "units/inch.hpp"
#include "units/words.hpp"

namespace gapfront {
namespace {

/// The decimal sign of the language, and a true minus.
std::string spelt(std::string s, const Voice& voice) {
  if (voice.language != "en") s = decimal_commas(std::move(s));
  if (!s.empty() && s[0] == '-') s.replace(0, 1, "−");
  return s;
}

/// Rounded down to the last decimal that is written. What is a whole number of steps but for rounding (0.29 / 0.01 is
/// 28.999…) stays as it is.
double down(double v, int decimals) {
  const double step = std::pow(10.0, -decimals);
  return std::floor(v / step + 1e-9) * step;
}

std::string length_words(const Quantity& q, UnitSystem u) {
  const bool metric = u == UnitSystem::mm;
  const int decimals = q.decimals < 0 ? 2 : q.decimals, written = metric ? decimals : std::min(4, decimals + 2);
  const double v = metric ? q.value : q.value / inch;
  return spoken(q.round_down ? down(v, written) : v, written, q.sign) + " " + length_unit(u);
}

std::string english(const Quantity& q, UnitSystem u) {
  if (!std::isfinite(q.value)) return kNoNumberWord;
  switch (q.measure) {
    case Measure::number:
      return spoken(q.value, std::max(q.decimals, 0), q.sign);
    case Measure::fraction: {
      // Two places below one percent, so that little is not read as nothing.
      const int decimals = q.decimals >= 0 ? q.decimals : q.value > 0 && q.value < 0.0095 ? 2 : 1;
      return spoken(q.round_down ? down(100 * q.value, decimals) : 100 * q.value, decimals, q.sign) + " %";
    }
    case Measure::probability:
      return parts_percent(q.value);
    case Measure::length:
      return length_words(q, u);
    case Measure::fine_length:
      return format_length(q.value, u, true);
    case Measure::tiny:
      if (u == UnitSystem::mm) return q.value < 5e-5 ? "< 0.1 µm" : fmt::format("{:.1f} µm", 1e3 * q.value);
      return q.value < 5e-6 * inch ? "< 0.01 thou" : fmt::format("{:.2f} thou", 1000 * q.value / inch);
    case Measure::depth:
      return u == UnitSystem::mm ? spoken(q.value, 2, q.sign) + " mm"
                                 : spoken(1000 * q.value / inch, 0, q.sign) + " thou";
    case Measure::tape:
      return tape_length(q.value, u);
    case Measure::area:
      return q.decimals >= 0 ? spoken_area(q.value, q.decimals, u) : format_area(q.value, u);
    case Measure::given_area:
      return u == UnitSystem::mm ? fmt::format("{:.3g} cm²", q.value / 100)
                                 : fmt::format("{:.3g} in²", q.value / (inch * inch));
    case Measure::volume:
      return q.decimals >= 0 ? spoken_volume(q.value, q.decimals, u) : format_volume(q.value, u);
    case Measure::mass:
      return format_mass(q.value, u);
    case Measure::pressure:
      return format_pressure(q.value, u);
    case Measure::force:
      return format_force(q.value, u);
    case Measure::flow_rate:
      return format_flow_rate(q.value, u);
    case Measure::time:
      return q.fill_time > 0 ? time_in_fill(q.value, q.fill_time) : format_time(q.value);
    case Measure::viscosity:
      return fmt::format("{:.2g} Pa·s", q.value);
    case Measure::cycles:
      return spoken_cycles(q.value);
  }
  return "";
}

std::string joined(const Messages& list, const std::string& between, const std::string& last, const Voice& voice) {
  std::string out;
  for (std::size_t i = 0; i < list.size(); ++i)
    out += (i == 0 ? "" : i + 1 == list.size() ? last : between) + say(list[i], voice);
  return out;
}

/// "join.…": the catalogue's text stands between the messages of the one argument.
bool joins(const Message& m) { return m.id.rfind("join.", 0) == 0; }

std::string joined(const Message& m, const std::string& between, const Voice& voice) {
  const Messages* list = m.arguments.size() == 1 ? std::get_if<Messages>(&m.arguments[0]) : nullptr;
  if (!list) throw std::logic_error(fmt::format("message {}: it takes one list of messages", m.id));
  return joined(*list, between, between, voice);
}

std::string argument(const Argument& a, const Voice& voice) {
  struct {
    const Voice& voice;
    std::string operator()(const Quantity& q) const { return say(q, voice); }
    std::string operator()(const Place& p) const { return say(p, voice); }
    std::string operator()(const Name& n) const { return n.text; }
    std::string operator()(long n) const { return fmt::format("{}", n); }
    std::string operator()(const Messages& m) const { return joined(m, ", ", say(Message("list.and"), voice), voice); }
  } words{voice};
  return std::visit(words, a);
}

/// The text with its arguments put in: "{1}", "{2}"…
std::string filled(const std::string& text, const Message& m, const Voice& voice) {
  std::string out;
  for (std::size_t i = 0; i < text.size(); ++i) {
    if (text[i] != '{' || i + 2 >= text.size() || text[i + 2] != '}') {
      out += text[i];
      continue;
    }
    const auto k = static_cast<std::size_t>(text[i + 1] - '1');
    if (k >= m.arguments.size())
      throw std::logic_error(
          fmt::format("message {}: its text asks for argument {}, it has {}", m.id, k + 1, m.arguments.size()));
    out += argument(m.arguments[k], voice);
    i += 2;
  }
  return out;
}

bool plural(const Message& m, const Catalogue& c) {
  for (const Argument& a : m.arguments)
    if (const long* n = std::get_if<long>(&a)) return c.one_up_to_two ? *n > 1 : *n != 1;
  return false;
}

}  // namespace

std::string say(const Quantity& q, const Voice& voice) { return spelt(english(q, voice.units), voice); }

std::string say(const Place& p, const Voice& voice) {
  const std::string comma = voice.language == "en" ? ", " : "; ";  // beside decimal commas a comma parts nothing
  std::string out =
      "x " + spoken_length(p.at.x(), 0, voice.units) + comma + "y " + spoken_length(p.at.y(), 0, voice.units);
  if (p.axes > 2) out += comma + "z " + spoken_length(p.at.z(), 0, voice.units);
  return spelt(out + " " + length_unit(voice.units), voice);
}

std::string say(const Message& m, const Voice& voice) {
  if (m.empty()) return "";
  for (const std::string& language : {voice.language, std::string("en")})
    if (const Catalogue* c = catalogue_of(language))
      if (const CatalogueText* t = c->find(m.id))
        return joins(m) ? joined(m, t->one, {voice.units, language})
                        : filled(!t->many.empty() && plural(m, *c) ? t->many : t->one, m, {voice.units, language});
  throw std::logic_error("message " + m.id + ": the catalogue has no such text");
}

bool sayable(const Message& m) {
  try {
    for (const char* language : languages) say(m, {UnitSystem::mm, language});
  } catch (const std::logic_error&) {
    return false;
  }
  return true;
}

std::string say(const Text& text, const Voice& voice) {
  std::string out;
  for (const Message& m : text)
    if (const std::string one = say(m, voice); !one.empty()) out += (out.empty() ? "" : " ") + one;
  return out;
}

}  // namespace gapfront
