#include "gapfront/confirm.hpp"

#include <algorithm>
#include <cmath>
#include <limits>

#include "core/area_mean.hpp"
#include "core/places.hpp"
#include "gapfront/rigid_part.hpp"

namespace gapfront::correct {
namespace {

// How the halves lie is told from the places that nobody worked on, if they are so much of the sheet (own choice).
constexpr double kSeatArea = 0.2;
// A port counts as made within so much of its place, mm, or within its radius, and with so much of that (own choice: as
// a shop drills; a vent that is asked for lies some centimetres from any other).
constexpr double kPortPlace = 15, kPortRadius = 0.8;

/// Reads the new gap at a place: linear in the triangle around it, or nothing where the new sheet is not near or not
/// measured.
class Reader {
 public:
  Reader(const Sheet& sheet, const GapMap& gap)
      : sheet_(sheet), gap_(gap), points_(sheet.mesh.points, {.spacing = 1, .noise = 0}) {
    around_.resize(sheet.size());
    for (std::size_t t = 0; t < sheet.mesh.triangles.size(); ++t)
      for (const int i : sheet.mesh.triangles[t]) around_[i].push_back(static_cast<int>(t));
  }
  using Reading = std::vector<std::pair<int, double>>;  ///< node, its share
  Reading at(const Vec3& p) const {
    const Surface::Found near = points_.nearest(p);
    const int i = near.index;
    if (i < 0 || !gap_.nodes[i].measured) return {};
    Reading out{{i, 1.0}};
    double edge = 0;
    bool inside = false;
    for (const int t : around_[i]) {
      const auto& c = sheet_.mesh.triangles[t];
      const Vec3& a = sheet_.mesh.points[c[0]];
      edge = std::max({edge, (sheet_.mesh.points[c[1]] - a).norm(), (sheet_.mesh.points[c[2]] - a).norm()});
      const auto shares = shares_in_triangle(sheet_.mesh, c, p);
      if (inside || !shares || shares->minCoeff() < 0) continue;
      if (!gap_.nodes[c[0]].measured || !gap_.nodes[c[1]].measured || !gap_.nodes[c[2]].measured) continue;
      out = {{c[0], (*shares)[0]}, {c[1], (*shares)[1]}, {c[2], (*shares)[2]}}, inside = true;
    }
    if (near.distance > edge) return {};  // beyond the new sheet
    return out;
  }

 private:
  const Sheet& sheet_;
  const GapMap& gap_;
  Surface points_;
  std::vector<std::vector<int>> around_;
};

/// A result from before fit areas were kept takes their mean over the new scans: mostly the same scanner at work.
GapMap with_fit_areas(GapMap then, const GapMap& now) {
  double sum = 0, count = 0;
  for (const NodeGap& n : now.nodes)
    if (n.measured) sum += n.fit_area, ++count;
  for (NodeGap& n : then.nodes)
    if (!(n.fit_area > 0) && count > 0) n.fit_area = sum / count;
  return then;
}

Message outcome(const Confirmed& c) {
  if (c.En <= 1) return Message("work.did-what-predicted");
  const double moved = c.achieved - c.before, wanted = c.predicted - c.before;
  // Within U nothing moved at all, whatever the sign.
  if (moved * wanted < 0 && std::abs(moved) > c.achieved_U) return Message("work.gap-went-other-way");
  if (std::abs(moved) < std::abs(wanted)) return Message("work.did-less-than-predicted");
  // More than was ordered, and out of the limits on the side that it was to lead to, is no success.
  const bool overdone = c.worst_is == Conformity::nonconforming && c.worst * wanted > 0;
  return Message(overdone ? "work.went-too-far" : "work.did-more-than-predicted");
}

/// `out`: of the place itself it is beyond a limit; `across`: of the disc whose mean is judged.
Message worst_there(const Confirmed& c, bool out, double across) {
  const Argument worst = arg::length(c.worst, 2, true);
  switch (c.worst_is) {
    case Conformity::conforming:
      return out ? Message("work.worst-out-mean-within", {worst, arg::length(across, 0)})
                 : Message("work.worst-within", {worst});
    case Conformity::nonconforming:
      return Message("work.worst-outside", {worst});
    case Conformity::undecided:
      return Message("work.worst-undecided", {worst});
    case Conformity::not_measured:
    case Conformity::not_judged:
      break;
  }
  return {};
}

double change_at(const Correction& c, std::size_t i) { return i < c.gap_change.size() ? c.gap_change[i] : 0.0; }

double deepest(const Correction& c) {
  double most = 0;
  for (const double g : c.gap_change) most = std::max(most, std::abs(g));
  return most;
}

/// Where at least half of the full depth was to be worked: the feathered edge says little.
std::vector<char> core_of(const Correction& c, std::size_t nodes) {
  std::vector<char> out(nodes);
  const double most = deepest(c);
  for (std::size_t i = 0; i < nodes; ++i) out[i] = std::abs(change_at(c, i)) >= 0.5 * most;
  return out;
}

/// Takes every chosen correction in turn.
class Confirmation {
 public:
  Confirmation(const Prediction& then, const Sheet& sheet, const GapMap& gap, const Verdict* verdict)
      : then_(then),
        sheet_(sheet),
        gap_(gap),
        verdict_(verdict),
        gap_then_(with_fit_areas(then.gap, gap)),
        shared_then_(shared_fits(then.sheet, gap_then_)),
        shared_now_(shared_fits(sheet, gap)),
        worked_(then.sheet.size(), 0) {
    const Reader reader(sheet, gap);
    for (const Vec3& p : then.sheet.mesh.points) now_.push_back(reader.at(p));
    for (const int k : then.plan.chosen) {
      const Correction& c = then.plan.candidates[k];
      if (c.kind == Kind::shim) continue;
      for (std::size_t i = 0; i < worked_.size(); ++i) worked_[i] |= change_at(c, i) != 0;
    }
    see_seat();
  }
  void of(const Correction&);
  std::vector<Confirmed> out;

 private:
  /// Means over the nodes that take part.
  template <class TakesPart>
  Confirmed means(const Correction&, const std::string& part, const TakesPart&) const;
  void of_shims(const Correction&);
  double now_at(std::size_t i) const {
    double sum = 0;
    for (const auto& [j, fraction] : now_[i]) sum += fraction * gap_.nodes[j].gap;
    return sum;
  }
  bool comparable(std::size_t i) const {
    return std::isfinite(then_.before[i]) && std::isfinite(then_.after[i]) && !now_[i].empty();
  }
  void see_seat();
  bool see_worst(const Correction&, Confirmed&) const;
  void take_out_seat(const std::vector<char>& core, Confirmed&) const;
  void set_U(Confirmed&, const std::vector<double>& weights) const;

  const Prediction& then_;
  const Sheet& sheet_;
  const GapMap& gap_;
  const Verdict* verdict_;
  GapMap gap_then_;
  SharedFits shared_then_, shared_now_;
  std::vector<Reader::Reading> now_;  // at the places of the old sheet
  std::vector<char> worked_;          // by something else than shims
  RigidFit fit_;                      // of what the halves lie off the prediction
  std::vector<double> seat_;          // the same at each node, mm; empty: too little to tell by
  bool shims_off_ = false;            // a station is not as predicted
};

/// What the halves lie off as a whole, from where nothing but the shims was to change the gap.
void Confirmation::see_seat() {
  std::vector<double> off(worked_.size(), std::numeric_limits<double>::quiet_NaN());
  double area = 0, all = 0;
  GapMap there = gap_then_;
  for (std::size_t i = 0; i < off.size(); ++i) {
    all += then_.sheet.area[i];
    there.nodes[i].measured = there.nodes[i].measured && comparable(i) && !worked_[i];
    if (there.nodes[i].measured) off[i] = now_at(i) - then_.after[i], area += then_.sheet.area[i];
  }
  if (area < kSeatArea * all) return;
  fit_ = conformity::solve_rigid(then_.sheet, there, off);
  const Vec3 motion(fit_.part.offset, fit_.part.tilt.dot(fit_.e1), fit_.part.tilt.dot(fit_.e2));
  for (std::size_t i = 0; i < off.size(); ++i)
    seat_.push_back(fit_.row(then_.sheet, gap_then_, static_cast<int>(i)).dot(motion));
}

/// What is left of the work when the halves' lie is taken out, where that is more than chance or the shims' own fault.
/// The fit's errors, and what of the maps' errors goes with it, are in U.
void Confirmation::take_out_seat(const std::vector<char>& core, Confirmed& r) const {
  if (seat_.empty()) return;
  double seat = 0;
  std::vector<double> weights(worked_.size(), 0);
  for (std::size_t i = 0; i < core.size(); ++i)
    if (core[i] && comparable(i)) weights[i] = then_.sheet.area[i] / r.area, seat += weights[i] * seat_[i];
  if (!shims_off_ && std::abs(seat) <= std::hypot(r.predicted_U, r.achieved_U)) return;
  r.seat = seat, r.achieved -= seat;
  set_U(r, fit_.on_remainder(then_.sheet, gap_then_, std::move(weights)));
}

/// Whether the place of the largest deviation is by its own gap beyond a limit: it is judged by a mean about it.
bool Confirmation::see_worst(const Correction& c, Confirmed& r) const {
  if (!verdict_) return false;
  int at = -1;
  for (std::size_t i = 0; i < worked_.size(); ++i) {
    if (change_at(c, i) == 0) continue;
    for (const auto& [j, fraction] : now_[i]) {
      const double deviation = verdict_->deviation[j];
      if (!std::isfinite(deviation) || std::abs(deviation) <= std::abs(std::isfinite(r.worst) ? r.worst : 0)) continue;
      r.worst = deviation, r.worst_is = verdict_->node[j], at = j;
    }
  }
  if (at < 0) return false;
  const NodeLimits& l = verdict_->limits[at];
  return gap_.nodes[at].gap < l.low || gap_.nodes[at].gap > l.high;
}

template <class TakesPart>
Confirmed Confirmation::means(const Correction& c, const std::string& part, const TakesPart& takes_part) const {
  Confirmed r;
  r.correction = c.name, r.part = part, r.kind = c.kind;
  std::vector<double> weights(worked_.size(), 0);
  for (std::size_t i = 0; i < worked_.size(); ++i) {
    if (!takes_part(i) || !comparable(i)) continue;
    const double a = then_.sheet.area[i];
    r.area += a, weights[i] = a;
    r.before += a * then_.before[i], r.predicted += a * then_.after[i], r.achieved += a * now_at(i);
  }
  r.can_tell = r.area > 0;
  if (!r.can_tell) {
    r.says = Message("work.nothing-can-said-two");
    return r;
  }
  r.before /= r.area, r.predicted /= r.area, r.achieved /= r.area;
  for (double& h : weights) h /= r.area;
  set_U(r, weights);
  return r;
}

/// Of what was predicted and of what is achieved, as sums over the old sheet's nodes.
void Confirmation::set_U(Confirmed& r, const std::vector<double>& weights) const {
  std::vector<double> of_now(sheet_.size(), 0);
  for (std::size_t i = 0; i < weights.size(); ++i)
    if (weights[i] != 0)
      for (const auto& [j, fraction] : now_[i]) of_now[j] += weights[i] * fraction;
  r.predicted_U = gap_.coverage * sum_errors(then_.sheet, gap_then_, shared_then_, weights).u();
  r.achieved_U = gap_.coverage * sum_errors(sheet_, gap_, shared_now_, of_now).u();
}

void set_En(Confirmed& r) {
  r.En = std::abs(r.achieved - r.predicted) / std::max(std::hypot(r.predicted_U, r.achieved_U), 1e-9);
}

/// Every station by the part of the sheet that is nearest to it: a mean over all would hide a tilt.
void Confirmation::of_shims(const Correction& c) {
  bool worked_off = false;
  std::vector<std::size_t> idle_off;
  for (const auto& s : c.shims) {
    Confirmed r = means(c, s.station, [&](std::size_t i) {
      const auto nearest = std::min_element(c.shims.begin(), c.shims.end(), [&](const auto& a, const auto& b) {
        return (a.at - then_.sheet.mesh.points[i]).squaredNorm() < (b.at - then_.sheet.mesh.points[i]).squaredNorm();
      });
      return !worked_[i] && nearest->station == s.station;
    });
    if (r.can_tell) {
      set_En(r);
      shims_off_ |= r.En > 1;
      const bool idle = s.change == 0 && s.relief == 0;
      worked_off |= !idle && r.En > 1;
      if (idle && r.En > 1) idle_off.push_back(out.size());
      r.says = outcome(r);
    }
    out.push_back(std::move(r));
  }
  for (const std::size_t k : idle_off)
    out[k].says = Message(worked_off ? "work.nothing-to-do-there" : "work.idle-station-changed");
}

void Confirmation::of(const Correction& c) {
  if (c.kind == Kind::shim) return of_shims(c);
  if (deepest(c) == 0) {
    Confirmed r;
    r.correction = c.name, r.kind = c.kind;
    r.says = Message("work.leaves-gap-so-gap");
    out.push_back(std::move(r));
    return;
  }
  const auto core = core_of(c, worked_.size());
  Confirmed r = means(c, "", [&](std::size_t i) { return core[i] != 0; });
  if (r.can_tell) {
    const bool out_there = see_worst(c, r);
    take_out_seat(core, r);
    set_En(r);
    Text says{outcome(r)};
    if (shims_off_ && seat_.empty()) says = {Message("work.not-before-shims")};
    if (r.seat != 0) says.push_back(Message("work.seat-taken-out", {arg::length(r.seat, 2, true)}));
    const double across = verdict_ ? verdict_->rule.across : 0;
    if (const Message worst = worst_there(r, out_there, across); !worst.empty()) says.push_back(worst);
    r.says = says.size() == 1 ? says[0] : in_sequence(says);
  }
  out.push_back(std::move(r));
}

/// Of one inlet or vent: does it lie where the correction wants it?
template <class Ports>
bool lies_there(const Ports& ports, const Correction& c) {
  const Vec3 wanted = mean_place(c.port_to);
  return std::any_of(ports.begin(), ports.end(), [&](const auto& p) {
    return !p.path.empty() && (mean_place(p.path) - wanted).norm() <= std::max(kPortPlace, c.port_radius) &&
           p.radius >= kPortRadius * c.port_radius;
  });
}

}  // namespace

std::vector<Confirmed> confirm(const Prediction& then, const Sheet& sheet, const GapMap& gap, const Verdict* verdict) {
  Confirmation all(then, sheet, gap, verdict);
  // Shims first, as the other works are judged by how the halves lie; told in the plan's order.
  std::vector<std::vector<Confirmed>> of_each(then.plan.chosen.size());
  for (const bool shims : {true, false})
    for (std::size_t k = 0; k < of_each.size(); ++k) {
      const Correction& c = then.plan.candidates[then.plan.chosen[k]];
      if ((c.kind == Kind::shim) != shims) continue;
      all.of(c);
      std::swap(of_each[k], all.out);
    }
  std::vector<Confirmed> out;
  for (auto& some : of_each) out.insert(out.end(), some.begin(), some.end());
  return out;
}

Confirmed::Port port_made(const Correction& c, const FlowOptions& job) {
  using Port = Confirmed::Port;
  // A result from before it told the mouth does not say what was to be made.
  if (c.port_radius <= 0 && (c.kind == Kind::vent_add || c.kind == Kind::vent_enlarge || c.kind == Kind::inlet_add))
    return Port::none;
  switch (c.kind) {
    case Kind::vent_add:
    case Kind::vent_move:
    case Kind::vent_enlarge:
      return lies_there(job.vents, c) ? Port::there : Port::missing;
    case Kind::inlet_add:
    case Kind::inlet_move:
      return lies_there(job.inlets, c) ? Port::there : Port::missing;
    default:
      return Port::none;
  }
}

}  // namespace gapfront::correct
