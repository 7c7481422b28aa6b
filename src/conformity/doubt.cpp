// Does the registration deserve a verdict? Pure judgement on what alignment and gap map already hold.
#include <algorithm>
#include <cmath>
#include <vector>

#include "conformity/bow.hpp"
#include "core/distributions.hpp"
#include "core/sheet_parts.hpp"
#include "gapfront/outcome.hpp"

namespace gapfront {
namespace {

// Chance of a false alarm of the test on methods.
constexpr double kChance = 0.0025;
// Within 20° of the opening axis (cos = 0.94), and no more than what dirt amounts to, a ball is off because of what it
// sits on; otherwise it is a wrong place or name.
constexpr double kAlong = 0.94, kDirt = 2;
// Of so many targets two that are off alike leave the same misses as one of the others: three are left beside them, and
// three fit any place along the opening axis.
constexpr std::size_t kFew = 5;
// Standard uncertainties, by what a scale leaves of the misses: its square, 64, is of six targets' 11 degrees of
// freedom six times what is left.
constexpr double kMostlyScale = 8;
// A half is to blame when its own miss against the tool places is twice the other's.
constexpr double kBlame = 2;
// A node runs through when its gap is below zero by 4.5 standard uncertainties. On lands that touch, an honest error of
// the registration (one shift and two tilts) is beyond that somewhere on the rim in 1.5 cases of 10,000 (chi-square of
// three degrees of freedom); at 3 it would be in 3 of 100. Less than `parts_of_sheet` counts is no proof either.
constexpr double kSigmas = 4.5;

struct Crossing {
  double area = 0, measured = 0, depth = 0;
  Vec3 at = Vec3::Zero();
};

/// Connected patches in which the halves provably run through each other.
Crossing crossing_of(const Sheet& sheet, const GapMap& gap) {
  Crossing c;
  std::vector<char> through(sheet.size(), 0);
  for (std::size_t i = 0; i < sheet.size(); ++i) {
    const NodeGap& g = gap.nodes[i];
    if (g.measured) c.measured += sheet.area[i];
    through[i] = g.measured && g.gap < -kSigmas * g.U / gap.coverage;
  }
  for (const auto& part : parts_of_sheet(sheet, through))
    for (int i : part) {
      c.area += sheet.area[i];
      if (-gap.nodes[i].gap > c.depth) c.depth = -gap.nodes[i].gap, c.at = sheet.mesh.points[i];
    }
  return c;
}

std::string names_of(const TargetTest& t) {
  std::string out;
  for (std::size_t k = 0; k < t.odd.size(); ++k)
    out += (k == 0 ? "" : k + 1 == t.odd.size() ? " or " : ", ") + t.names[t.odd[k]];
  return out;
}

double miss_of(const TargetTest& t, const std::string& name) {
  for (std::size_t i = 0; i < t.names.size(); ++i)
    if (t.names[i] == name && t.names.size() >= 4) return t.miss[i].norm();
  return -1;
}

/// "lower", "upper", or nothing where it cannot be told.
std::string half_to_blame(const Alignment& a, const std::string& name, double play) {
  const double low = miss_of(a.lower_tool, name), up = miss_of(a.upper_tool, name);
  if (low < 0 || up < 0) return "";
  // Below the play of tool places both halves look alike to them; twice their rounding is 0.2 mm.
  const double minimum = std::max(play, 0.2);
  if (low > minimum && low > kBlame * up) return "lower";
  if (up > minimum && up > kBlame * low) return "upper";
  return "";
}

bool bow_of(const Alignment& a, const std::string& name, const Vec3& axis) {
  const auto r = std::find_if(a.residuals.begin(), a.residuals.end(), [&](const auto& t) { return t.name == name; });
  return r != a.residuals.end() && conformity::bow_explains(a, *r, axis);
}

Doubt one_target(const Alignment& a, int odd, double play, const Vec3& axis) {
  const TargetTest& t = a.closure;
  Doubt d;
  d.subject = t.names[odd], d.amount = t.miss[odd].norm();
  for (const FoundMark& m : a.marks)
    if (m.name == d.subject) d.at = m.place;
  const bool ball =
      std::any_of(a.marks.begin(), a.marks.end(), [&](const FoundMark& m) { return m.name == d.subject && m.ball; });
  const bool along = std::abs(t.miss[odd].dot(axis)) > kAlong * d.amount;
  const bool dirt = ball && along && d.amount < kDirt;
  if (dirt && bow_of(a, d.subject, axis)) {
    d.reason = Doubt::Reason::registration;
    d.text = Message("doubt.ball-off-or-bow", {arg::name(d.subject), arg::length(d.amount)});
    return d;
  }
  d.reason = dirt ? Doubt::Reason::seat_dirt : Doubt::Reason::wrong_target;
  const std::string half = half_to_blame(a, d.subject, play);
  if (half == "lower")
    d.text = Message(dirt ? "doubt.ball-lies-off-along-opening" : "doubt.target-lies-off-lower");
  else if (half == "upper")
    d.text = Message(dirt ? "doubt.ball-lies-off-along-opening-axis" : "doubt.target-lies-off-upper");
  else
    d.text = Message(dirt ? "doubt.ball-lies-off-along" : "doubt.target-lies-off-other");
  d.text.arguments = {arg::name(d.subject), arg::length(d.amount)};
  return d;
}

Vec3 opening_axis(const Sheet& sheet) {
  Vec3 axis = Vec3::Zero();
  for (std::size_t i = 0; i < sheet.size(); ++i) axis += sheet.area[i] * sheet.normals[i];
  return axis.norm() > 0 ? Vec3(axis.normalized()) : Vec3::UnitZ();
}

std::optional<Doubt> doubt_of_targets(const Alignment& a, const AlignOptions& o, const Vec3& axis) {
  const TargetTest& t = a.closure;
  const double play = align::seat_play(t, o);
  // The rest suffices for dirt under one ball, and not for a bow that this ball alone shows.
  if ((a.rest_suffices && !bow_of(a, a.left_out.front(), axis)) || !align::disagree(t, play)) return std::nullopt;
  Doubt d;
  const int worst = t.worst();
  d.amount = t.miss[worst].norm();
  for (const TargetResidual& r : a.residuals)
    if (r.name == t.names[worst]) d.at = r.place;
  if (t.exchanged[0] >= 0) {
    d.reason = Doubt::Reason::wrong_target;
    d.subject = t.names[t.exchanged[0]] + ", " + t.names[t.exchanged[1]];
    d.text = Message("doubt.targets-exchanged-one-half",
                     {arg::name(t.names[t.exchanged[0]]), arg::name(t.names[t.exchanged[1]])});
    return d;
  }
  if (const int odd = align::likely_odd(t, play); odd >= 0) {
    d = one_target(a, odd, play, axis);
    if (t.names.size() <= kFew) d.text = Message("doubt.few-targets", {arg::message(d.text)});
    return d;
  }
  // With tool places the half's own pattern may tell what the pair of halves cannot.
  if (o.test_tool_places)
    for (const TargetTest* half : {&a.lower_tool, &a.upper_tool})
      if (const int odd = align::likely_odd(*half, o.seat_play); odd >= 0 && align::disagree(*half, o.seat_play))
        for (std::size_t i = 0; i < t.names.size(); ++i)
          if (t.names[i] == half->names[odd] &&
              (t.odd.empty() || std::count(t.odd.begin(), t.odd.end(), static_cast<int>(i)) > 0))
            return one_target(a, static_cast<int>(i), play, axis);
  if (!t.odd.empty()) {
    d.reason = Doubt::Reason::wrong_target;
    d.subject = names_of(t);
    d.text = Message("doubt.one-targets-lies-about", {arg::name(d.subject), arg::length(d.amount)});
    return d;
  }
  d.subject = t.names[worst];
  // Beside other errors, too, where it is most of what the targets miss: its u is then by what is left.
  if (t.p_scale > 0.05 || (t.names.size() > 3 && std::abs(a.scale_ppm) > kMostlyScale * a.scale_ppm_u))
    d.text = Message("doubt.halves-targets-differ-size",
                     {arg::number(std::abs(a.scale_ppm)), arg::length(d.amount), arg::name(d.subject)});
  else if (t.names.size() < 4)
    d.text = Message("doubt.three-targets-disagree-up", {arg::length(d.amount)});
  else
    d.text = Message("doubt.targets-disagree-up-most", {arg::length(d.amount), arg::name(d.subject)});
  return d;
}

/// Before the targets are asked whether they agree: balls that are all of the wrong size are off all alike.
std::optional<Doubt> doubt_of_balls(const Alignment& a) {
  if (a.wrong_balls.empty()) return std::nullopt;
  Doubt d;
  d.reason = Doubt::Reason::wrong_target;
  const WrongBalls& worst = a.wrong_balls.front();
  d.text = worst.text, d.amount = worst.moves;
  for (const WrongBalls& w : a.wrong_balls) d.balls.insert(d.balls.end(), w.balls.begin(), w.balls.end());
  std::vector<std::string> names;
  for (const BallSize& b : worst.balls)
    if (std::count(names.begin(), names.end(), b.name) == 0) names.push_back(b.name);
  for (const std::string& name : names) d.subject += (d.subject.empty() ? "" : ", ") + name;
  if (!worst.balls.empty()) d.at = worst.balls.front().place;
  return d;
}

std::optional<Doubt> doubt_of_tool_places(const Alignment& a, const AlignOptions& o) {
  const TargetTest& t = a.lower_tool;
  if (!o.test_tool_places || !align::disagree(t, o.tool_play)) return std::nullopt;
  Doubt d;
  d.reason = Doubt::Reason::wrong_target;
  if (t.exchanged[0] >= 0) {
    d.subject = t.names[t.exchanged[0]] + ", " + t.names[t.exchanged[1]];
    d.amount = t.miss[t.worst()].norm();
    d.text = Message("doubt.tool-places-targets-exchanged",
                     {arg::name(t.names[t.exchanged[0]]), arg::name(t.names[t.exchanged[1]])});
    return d;
  }
  if (const int odd = align::likely_odd(t, o.tool_play); odd >= 0 && t.miss[odd].norm() > o.tool_play) {
    if (a.rest_suffices && t.names[odd] == a.left_out.front()) return std::nullopt;  // left out already
    d.subject = t.names[odd], d.amount = t.miss[odd].norm();
    d.text = Message("doubt.tool-place-target-lies", {arg::name(d.subject), arg::length(d.amount)});
    return d;
  }
  // Drawings and tools as built may differ by some millimetres all over, which only shifts the names of places.
  const double far = 5 * o.residual_limit;
  if (o.residual_limit <= 0 || t.miss[t.worst()].norm() < far) return std::nullopt;
  d.subject = t.odd.empty() ? t.names[t.worst()] : names_of(t);
  d.amount = t.miss[t.worst()].norm();
  d.text = Message("doubt.tool-places-targets-disagree", {arg::length(d.amount), arg::name(t.names[t.worst()])});
  return d;
}

std::optional<Doubt> doubt_of_methods(const Alignment& a, const AlignOptions& o) {
  Doubt d;
  if (a.dof > 0 && p_value(a.chi2, static_cast<int>(std::lround(a.dof))) < kChance) {
    double low = 0, high = 0;
    for (const MethodPart& m : a.methods) d.amount = std::max(d.amount, m.moved);
    for (const MethodPart& m : a.methods) (m.name == "flange" ? low : high) += m.lift;
    const double lift = high - low;
    if (d.amount > o.seat_play) {
      d.subject = a.methods.front().name;
      if (a.flange && lift > 0.5 * d.amount) {
        d.reason = Doubt::Reason::not_closed;
        d.text = Message("doubt.other-method-lands-stay", {arg::length(lift)});
      } else if (a.flange && lift < -0.5 * d.amount) {
        d.text = Message("doubt.other-method-lands-enter", {arg::length(-lift)});
      } else if (a.flange) {
        d.reason = Doubt::Reason::not_closed;
        d.text = Message("doubt.lands-targets-set-upper", {arg::length(d.amount)});
      } else {
        d.text = Message("doubt.methods-registration-set-upper", {arg::length(d.amount)});
      }
      return d;
    }
  }
  if (a.flange && a.flange->deepest > o.seat_play) {
    d = {};
    d.amount = a.flange->deepest, d.at = a.flange->deepest_at;
    d.text = Message("doubt.registered-lands-enter-each", {arg::length(d.amount), arg::place(d.at)});
    return d;
  }
  return std::nullopt;
}

std::optional<Doubt> doubt_of_fits(const Alignment& a) {
  if (a.unsettled.empty()) return std::nullopt;
  Doubt d;
  d.text = a.unsettled.front();
  return d;
}

Doubt doubt_of_crossing(const Crossing& c, const AlignOptions& o) {
  Doubt d;
  d.amount = c.depth, d.area = c.area, d.at = c.at;
  const bool given = std::count(o.methods.begin(), o.methods.end(), AlignMethod::given) > 0;
  if (!(c.area > 0.5 * c.measured) && given) d.reason = Doubt::Reason::not_closed;
  d.text = Message(c.area > 0.5 * c.measured ? "doubt.halves-run-through-each-other"
                   : given                   ? "doubt.halves-run-through-each-other-over"
                                             : "doubt.halves-run-through-each-other-over-most",
                   {arg::area(c.area), arg::length(c.depth), arg::place(c.at)});
  return d;
}

}  // namespace

const char* to_string(Doubt::Reason reason) {
  switch (reason) {
    case Doubt::Reason::wrong_target:
      return "wrong target";
    case Doubt::Reason::not_closed:
      return "not closed";
    case Doubt::Reason::wrong_unit:
      return "wrong unit";
    case Doubt::Reason::seat_dirt:
      return "seat dirt";
    case Doubt::Reason::second_layer:
      return "second layer";
    case Doubt::Reason::readings:
      return "readings";
    case Doubt::Reason::registration:
      return "registration";
  }
  return "";
}

std::optional<Doubt> conformity::doubt_layers(const SecondLayer& layer, const std::string& file) {
  if (!(layer.fraction > 0)) return std::nullopt;
  Doubt d;
  d.reason = Doubt::Reason::second_layer;
  d.subject = file, d.amount = layer.distance, d.at = layer.at;
  d.text = Message("doubt.scan-shows-two-surfaces",
                   {arg::name(file), arg::length(layer.distance), arg::fraction(layer.fraction), arg::place(layer.at)});
  return d;
}

Doubt conformity::doubt_layers(const SecondLayer& one, const std::string& one_file, const SecondLayer& other,
                               const std::string& other_file) {
  Doubt d;
  d.reason = Doubt::Reason::second_layer;
  d.subject = one_file + ", " + other_file, d.amount = std::max(one.distance, other.distance), d.at = one.at;
  d.text = Message(
      "doubt.both-scans-show-two-surfaces",
      {arg::name(one_file), arg::length(one.distance), arg::fraction(one.fraction), arg::place(one.at),
       arg::name(other_file), arg::length(other.distance), arg::fraction(other.fraction), arg::place(other.at)});
  return d;
}

Message conformity::what_first(const Doubt& d) {
  return Message(d.reason == Doubt::Reason::second_layer ? "doubt.scans-must-checked-first"
                 : d.reason == Doubt::Reason::readings   ? "doubt.readings-must-checked-first"
                                                         : "doubt.registration-must-checked-first");
}

Message conformity::why_no_verdict(const Doubt& d) {
  return Message(d.reason == Doubt::Reason::second_layer ? "doubt.no-verdict-face-unknown"
                                                         : "doubt.no-verdict-no-front");
}

std::optional<Doubt> conformity::doubt_unchecked_targets(const Alignment& a, const AlignOptions& o, int readings) {
  using enum AlignMethod;
  const auto used = [&](AlignMethod m) { return align::uses(o, m); };
  const bool alone = used(targets) && !used(given) && !used(flange) && !used(nominal) && !used(datum);
  if (!alone || a.closure.names.size() != 3 || readings >= 3) return std::nullopt;
  const auto declared = [](const Target& t) { return t.u.has_value(); };
  if (!o.find_ball && std::all_of(o.targets.begin(), o.targets.end(), declared)) return std::nullopt;
  Doubt d;
  d.text = Message("doubt.three-targets-unchecked");
  return d;
}

std::optional<Doubt> conformity::doubt_of_readings(const std::vector<SpotComparison>& spots, const SpotShift& shift,
                                                   double coverage, double play) {
  int compared = 0;
  const SpotComparison *worst = nullptr, *farthest = nullptr;
  const auto apart = [](const SpotComparison& s) { return std::abs(s.map - s.reading); };
  for (const SpotComparison& s : spots) {
    if (!s.found) continue;
    ++compared;
    if (!worst || s.En > worst->En) worst = &s;
    if (!farthest || apart(s) > apart(*farthest)) farthest = &s;
  }
  if (!worst) return std::nullopt;
  Doubt d;
  d.reason = Doubt::Reason::readings;
  if (shift.parameters > 0 && !shift.removed && shift.p_beyond < kChance && apart(*farthest) > play) {
    d.amount = apart(*farthest);
    d.text = Message("doubt.readings-say-shifted", {static_cast<long>(shift.readings), arg::length(d.amount)});
    return d;
  }
  // En is in units of both expanded uncertainties; the worst of so many readings.
  if (compared * p_value(std::pow(coverage * worst->En, 2), 1) >= kChance || !(apart(*worst) > play))
    return std::nullopt;
  d.subject = worst->name, d.amount = apart(*worst);
  d.text = Message("doubt.reading-contradicts-map",
                   {arg::name(worst->name), arg::length(worst->reading), arg::length(worst->reading_U),
                    arg::length(worst->map), arg::length(worst->map_U)});
  return d;
}

std::optional<Message> conformity::target_left_out(const Alignment& a, const AlignOptions& o, const Sheet& sheet) {
  if (!a.rest_suffices) return std::nullopt;
  const Doubt d = one_target(a, align::likely_odd(a.closure, align::seat_play(a.closure, o)),
                             align::seat_play(a.closure, o), opening_axis(sheet));
  return Message("warnings.closed-without-target",
                 {arg::message(d.text), static_cast<long>(a.closure.names.size() - a.left_out.size())});
}

std::optional<Doubt> conformity::doubt_registration(const Alignment& a, const AlignOptions& o, const Sheet& sheet,
                                                    const GapMap& gap) {
  const Vec3 axis = opening_axis(sheet);
  const Crossing c = crossing_of(sheet, gap);
  const bool crosses = c.depth > o.seat_play;
  std::optional<Doubt> d = doubt_of_balls(a);
  if (!d) d = doubt_of_targets(a, o, axis);
  if (!d) d = doubt_of_tool_places(a, o);
  if (!d) d = doubt_of_methods(a, o);
  if (!d) d = doubt_of_fits(a);
  if (!d && crosses) d = doubt_of_crossing(c, o);
  if (d && crosses) d->area = c.area;
  return d;
}

}  // namespace gapfront
