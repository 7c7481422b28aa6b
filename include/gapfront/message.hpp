// What a stage has to say: an identifier with typed arguments. `text.hpp` turns it into words, in any language and unit
// system; the texts stand in src/text/po/*.po.
#pragma once
#include <string>
#include <utility>
#include <variant>
#include <vector>

#include "gapfront/geometry.hpp"

namespace gapfront {

/// What a number measures: it decides the unit in which it is written, and how many digits.
enum class Measure {
  number,       ///< no unit
  fraction,     ///< 1, written in percent
  probability,  ///< 1, counted on some dozens of draws; in whole percent, below ten in tenths
  length,       ///< mm, written in mm or in
  fine_length,  ///< mm, written in µm or thou below 1 mm or 1 in
  tiny,         ///< mm, mostly below a micrometre: tenths of a µm, hundredths of a thou
  depth,        ///< mm, as hands work it: hundredths of a mm, or whole thou
  tape,         ///< mm, as a tape finds it: whole mm, hundredths of an inch
  area,         ///< mm²
  given_area,   ///< mm², as somebody gave it: three digits, no zeros after the last
  volume,       ///< mm³
  mass,         ///< g
  pressure,     ///< Pa
  force,        ///< Pa·mm²
  flow_rate,    ///< mm³/s
  time,         ///< s
  viscosity,    ///< Pa·s
  cycles        ///< of a forecast: two significant digits
};
const char* to_string(Measure);

/// A number with what it measures, in the program's units (mm, s, Pa, g).
struct Quantity {
  double value = 0;
  Measure measure = Measure::number;
  int decimals = -1;        ///< of the unit of the metric system; -1: as the measure asks
  bool sign = false;        ///< a plus before what is positive
  bool round_down = false;  ///< what is asked for must do
  double fill_time = 0;     ///< s, with `time`: written as exactly as a filling of this length is known; 0: as it is
};

/// A place in the tool frame, mm.
struct Place {
  Vec3 at = Vec3::Zero();
  int axes = 3;  ///< 2: without the height
};

/// A name from the job, or a word that is the same in every language.
struct Name {
  std::string text;
};

struct Message;
/// Several messages in one place of a sentence, joined by commas and "and".
using Messages = std::vector<Message>;
/// A whole number (`long`) chooses between singular and plural where the text has both.
using Argument = std::variant<Quantity, Place, Name, long, Messages>;

/// One sentence, clause or word. Empty (no identifier) says nothing.
struct Message {
  std::string id;
  std::vector<Argument> arguments;

  Message() = default;
  /// `name`: of an entry in src/text/po.
  explicit Message(std::string name, std::vector<Argument> values = {})
      : id(std::move(name)), arguments(std::move(values)) {}
  bool empty() const { return id.empty(); }  ///< says nothing
};

/// Sentences that follow each other.
using Text = std::vector<Message>;

bool operator==(const Message&, const Message&);
inline bool operator!=(const Message& a, const Message& b) { return !(a == b); }

/// Clauses joined by semicolons; an empty message where there are none.
Message in_one_sentence(const Messages& clauses);
/// Sentences one after the other, as one message.
Message in_sequence(const Text& sentences);
/// Clauses joined by semicolons, with a full stop.
Message full_sentence(const Messages& clauses);

/// Arguments in one word each.
namespace arg {
inline Quantity number(double v, int decimals = 0, bool sign = false) { return {v, Measure::number, decimals, sign}; }
inline Quantity fraction(double v, int decimals = -1) { return {v, Measure::fraction, decimals}; }
inline Quantity probability(double v) { return {v, Measure::probability}; }
inline Quantity length(double mm, int decimals = 2, bool sign = false) { return {mm, Measure::length, decimals, sign}; }
inline Quantity fine_length(double mm) { return {mm, Measure::fine_length}; }
inline Quantity tiny(double mm) { return {mm, Measure::tiny}; }
inline Quantity depth(double mm) { return {mm, Measure::depth}; }
inline Quantity tape(double mm) { return {mm, Measure::tape}; }
inline Quantity area(double mm2, int decimals = -1) { return {mm2, Measure::area, decimals}; }
inline Quantity given_area(double mm2) { return {mm2, Measure::given_area}; }
inline Quantity volume(double mm3, int decimals = -1) { return {mm3, Measure::volume, decimals}; }
inline Quantity mass(double g) { return {g, Measure::mass}; }
inline Quantity pressure(double pa) { return {pa, Measure::pressure}; }
inline Quantity force(double pa_mm2) { return {pa_mm2, Measure::force}; }
inline Quantity flow_rate(double mm3_s) { return {mm3_s, Measure::flow_rate}; }
inline Quantity time(double s, double fill_time = 0) { return {s, Measure::time, -1, false, false, fill_time}; }
inline Quantity viscosity(double pa_s) { return {pa_s, Measure::viscosity}; }
inline Quantity cycles(double n) { return {n, Measure::cycles}; }
inline Place place(const Vec3& p, int axes = 3) { return {p, axes}; }
inline Name name(std::string s) { return {std::move(s)}; }
inline Argument message(Message m) { return Messages{std::move(m)}; }
}  // namespace arg

}  // namespace gapfront
