// Counterfactuals: the same filling again with one thing put right, or one fault put in.
#include "gapfront/diagnose.hpp"

#include <Eigen/Eigenvalues>
#include <algorithm>
#include <cmath>
#include <cstdio>
#include <random>

#include "gapfront/error.hpp"

namespace gapfront {
namespace {

// A spot counts as predicted when a quarter of it is in trouble: less is an edge that the mesh may place either way.
constexpr double kPredicted = 0.25;
// A cause explains the spot when removing it takes most of the trouble away.
constexpr double kExplains = 0.5;
// A cure leaves less than this of the spot in trouble.
constexpr double kCured = 0.1;
// Normals that turn by more than about 15° across a region: it lies in a radius.
constexpr double kTurns = 0.97;
// What practice can do when a setting is put right (from memory): nine tenths of a vacuum, half the rate.
constexpr double kGoodVacuum = 0.1 * atmosphere_pa, kSlow = 0.5, kThin = 0.7;

std::string words(const char* format, double a, double b = 0) {
  char out[200];
  std::snprintf(out, sizeof out, format, a, b);
  return out;
}
std::string spot_words(const Vec3& p) { return words("x %.0f, y %.0f", p.x(), p.y()); }

struct State {
  std::vector<double> gap;
  LaminateOptions laminate;
  FlowOptions flow;
};

State measured_state(const CorrectInput& in) {
  State s{in.verdict.nominal, in.laminate, in.flow};
  for (std::size_t i = 0; i < s.gap.size(); ++i)
    if (in.gap.nodes[i].measured) s.gap[i] = in.gap.nodes[i].gap;
  return s;
}

struct Try {
  Cause cause;
  State state;
};

bool in_radius(const Sheet& sheet, const DeviationRegion& r) {
  Vec3 normal = Vec3::Zero();
  double area = 0;
  for (const int i : r.nodes) normal += sheet.area[i] * sheet.normals[i], area += sheet.area[i];
  return area > 0 && normal.norm() / area < kTurns;
}

int nearest_node(const Sheet& sheet, const Vec3& p) {
  int best = 0;
  for (int i = 1; i < static_cast<int>(sheet.size()); ++i)
    if ((sheet.mesh.points[i] - p).squaredNorm() < (sheet.mesh.points[best] - p).squaredNorm()) best = i;
  return best;
}

/// Everything that can be put right, one at a time.
std::vector<Try> candidates(const CorrectInput& in, const State& now, const DrySpot& spot) {
  std::vector<Try> out;
  const auto add = [&](CauseKind kind, std::string name, std::string what, bool gap) -> State& {
    Cause c;
    c.kind = kind, c.name = std::move(name), c.what = std::move(what), c.is_gap = gap;
    out.push_back({c, now});
    return out.back().state;
  };
  for (const auto& r : in.verdict.regions) {
    const bool radius = in_radius(in.sheet, r);
    State& s = add(radius ? CauseKind::radius : CauseKind::gap_region, r.name,
                   std::string(r.high ? "the gap that is too wide " : "the gap that is too tight ") +
                       (radius ? "in the radius " : "") + "around " + spot_words(r.centre),
                   true);
    const auto& field = r.on_remainder ? in.verdict.remainder : in.verdict.deviation;
    for (const int i : r.nodes) s.gap[i] -= field[i];
  }
  if (in.verdict.rigid_significant) {
    State& s = add(CauseKind::seat, "seat", "the rigid offset and tilt of the upper half", true);
    for (std::size_t i = 0; i < s.gap.size(); ++i)
      if (std::isfinite(in.verdict.remainder[i])) s.gap[i] -= in.verdict.deviation[i] - in.verdict.remainder[i];
  }
  for (std::size_t k = 0; k < in.laminate.zones.size(); ++k)
    if (in.laminate.zones[k].adds) {
      State& s = add(CauseKind::overlap, in.laminate.zones[k].name,
                     "the extra glass of \"" + in.laminate.zones[k].name + "\"", false);
      s.laminate.zones.erase(s.laminate.zones.begin() + static_cast<long>(k));
    }
  {
    State& s = add(CauseKind::vent, "vent", "the place of the vent (as if one stood at the spot)", false);
    s.flow.vents.push_back({"at the spot", {in.sheet.mesh.points[nearest_node(in.sheet, spot.at)]}, spot.size / 2, 0});
  }
  if (!in.flow.schedule.empty()) {
    State& s = add(CauseKind::schedule, "schedule", "the flow schedule (as if at half the rate)", false);
    for (auto& step : s.flow.schedule) step.rate *= kSlow;
  }
  if (in.flow.cavity_pressure > kGoodVacuum)
    add(CauseKind::vacuum, "vacuum", "the cavity's vacuum (as if nine tenths of an atmosphere)", false)
        .flow.cavity_pressure = kGoodVacuum;
  if (in.flow.gel_time > 0)
    add(CauseKind::viscosity, "viscosity", "the resin's viscosity (as if three tenths thinner)", false)
        .flow.viscosity *= kThin;
  return out;
}

/// Shut or leaking vents, glass that nobody wrote down: put in where the model as given shows nothing.
std::vector<std::pair<Suspect, State>> suspects(const CorrectInput& in, const State& now, const DrySpot& spot) {
  std::vector<std::pair<Suspect, State>> out;
  if (!in.laminate.plies.empty()) {
    State s = now;
    LaminateZone zone;
    zone.name = "unrecorded overlap", zone.adds = true;
    zone.where.path = {in.sheet.mesh.points[nearest_node(in.sheet, spot.at)]}, zone.where.radius = spot.size;
    zone.plies = {in.laminate.plies.front()};
    zone.plies[0].count = 1;
    s.laminate.zones.push_back(zone);
    out.push_back(
        {{"an overlap of one ply over the spot that the job does not list",
          "cut a part through the spot and burn off or weigh the glass: more than beside it means an overlap"},
         s});
  }
  if (in.flow.cavity_pressure < atmosphere_pa) {
    State s = now;
    s.flow.cavity_pressure = 0.5 * (in.flow.cavity_pressure + atmosphere_pa);
    out.push_back({{"a leak that costs half of the vacuum",
                    "close the mold empty, pull the vacuum, shut the line and watch the gauge for the time of a fill"},
                   s});
  }
  {
    State s = now;
    s.flow.viscosity *= 1 / kThin;
    out.push_back({{"a resin that is four tenths thicker (cold, or old)",
                    "measure viscosity and temperature at the machine when a part is made"},
                   s});
  }
  if (in.flow.vents.size() > 1)
    for (std::size_t k = 0; k < in.flow.vents.size(); ++k) {
      State s = now;
      s.flow.vents.erase(s.flow.vents.begin() + static_cast<long>(k));
      out.push_back(
          {{"the vent \"" + in.flow.vents[k].name + "\" blocked", "blow through the vent before the mold is closed"},
           s});
    }
  return out;
}

/// Draws shared by all states, so that what differs between them is the cause alone.
struct Draw {
  double permeability, viscosity;
  Vector6 motion;
};
std::vector<Draw> draws(const CorrectInput& in, const DiagnoseOptions& o) {
  double spread = 0.2;  // of the permeability where no ply gives one (from memory; glass mats scatter by about that)
  for (const Ply& p : in.laminate.plies)
    if (p.glass.permeability.spread > 0) spread = p.glass.permeability.spread;
  std::mt19937_64 random(4);
  std::normal_distribution<double> normal;
  const Eigen::SelfAdjointEigenSolver<Matrix6> solver(in.gap.registration);
  const Vector6 root = solver.eigenvalues().cwiseMax(0).cwiseSqrt();
  std::vector<Draw> out;
  for (int k = 0; k < o.draws; ++k) {
    Draw d;
    d.permeability = std::exp(spread * normal(random)), d.viscosity = std::exp(o.viscosity_spread * normal(random));
    Vector6 z;
    for (int j = 0; j < 6; ++j) z[j] = normal(random);
    d.motion = solver.eigenvectors() * root.cwiseProduct(z);
    out.push_back(d);
  }
  return out;
}

State drawn(const CorrectInput& in, State s, const Draw& d) {
  s.flow.viscosity *= d.viscosity / d.permeability;  // K and 1/µ enter Darcy's law as one factor
  for (std::size_t i = 0; i < s.gap.size(); ++i) {
    const NodeGap& n = in.gap.nodes[i];
    if (n.measured)
      s.gap[i] += n.direction.dot(d.motion.head<3>() + Vec3(d.motion.tail<3>()).cross(n.mid - in.gap.pivot));
  }
  return s;
}

/// Does a share p agree with n of m, within two standard errors of the count (Wilson's interval)?
bool agrees(double p, int draws, int n, int m) {
  if (m <= 0 || p < 0) return true;
  const double z2 = 4, centre = (n + z2 / 2) / (m + z2),
               half = 2 / (m + z2) * std::sqrt(double(n) * (m - n) / m + z2 / 4);
  const double own = 2 * std::sqrt(std::max(p * (1 - p), 0.25 / std::max(draws, 1)) / std::max(draws, 1));
  return std::abs(p - centre) <= half + own;
}

}  // namespace

const char* to_string(CauseKind k) {
  constexpr const char* names[] = {"gap region", "radius",     "seat of the upper half",
                                   "overlap",    "vent place", "flow schedule",
                                   "vacuum",     "viscosity",  "whole gap"};
  return names[static_cast<int>(k)];
}

double trouble_at(const Sheet& sheet, const Filling& f, const FlowOptions& flow, const DrySpot& spot) {
  std::vector<char> shut(sheet.size(), 0);
  for (const Pocket& p : f.pockets)
    for (const int i : p.nodes) shut[i] = 1;
  // Bubbles drift until the resin gels, so air that is shut in within a spot's width of the spot counts for it.
  double bad = 0, disc = 0;
  for (std::size_t i = 0; i < sheet.size(); ++i) {
    const double d = (sheet.mesh.points[i] - spot.at).norm();
    if (d > spot.size) continue;
    if (d <= spot.size / 2) disc += sheet.area[i];
    const bool late = flow.gel_time > 0 && f.arrival[i] > flow.gel_time;
    if (!std::isfinite(f.arrival[i]) || late || shut[i]) bad += sheet.area[i];
  }
  disc = std::max(disc, M_PI / 4 * spot.size * spot.size * 0.5);  // a spot off the face still has a size
  return std::min(1.0, bad / disc);
}

Diagnosis diagnose(const CorrectInput& in, const CorrectionPlan& plan, const std::vector<DrySpot>& spots,
                   const DiagnoseOptions& o, const Progress& progress) {
  if (spots.empty())
    throw Error(Fault::input, "diagnose: no spot given; add --spot \"x, y, z mm\" in tool coordinates");
  Diagnosis out;
  const auto run = [&](const State& s) {
    report_progress(progress, "diagnose", std::min(0.99, out.fillings / (out.fillings + 20.0)));
    ++out.fillings;
    return fill(in.sheet, evaluate_laminate(in.sheet, s.gap, s.laminate), s.flow);
  };
  const auto ensemble = draws(in, o);
  const State now = measured_state(in);
  for (const DrySpot& spot : spots) {
    const double off = (in.sheet.mesh.points[nearest_node(in.sheet, spot.at)] - spot.at).norm();
    if (off > spot.size)
      throw Error(Fault::input, "diagnose: the spot at " + spot_words(spot.at) +
                                    words(" lies %.0f mm from the moulding face", off) +
                                    "; give it in tool coordinates, on the lower face");
    SpotDiagnosis d;
    d.spot = spot;
    const auto trouble = [&](const State& s) { return trouble_at(in.sheet, run(s), s.flow, spot); };
    const auto chance = [&](const State& s) {
      if (ensemble.empty()) return -1.0;
      double hit = 0;
      for (const Draw& draw : ensemble) hit += trouble(drawn(in, s, draw)) >= kPredicted;
      return hit / double(ensemble.size());
    };
    d.trouble = trouble_at(in.sheet, in.measured, in.flow, spot);
    d.nominal_trouble = trouble_at(in.sheet, in.nominal, in.flow, spot);
    d.predicted = d.trouble >= kPredicted;
    d.gap_explains = d.predicted && d.nominal_trouble <= (1 - kExplains) * d.trouble;
    d.probability = chance(now);
    d.seen_fits = agrees(d.probability, o.draws, spot.seen, spot.parts);

    if (d.predicted) {
      std::vector<Try> tries = candidates(in, now, spot);
      for (Try& t : tries) {
        t.cause.without = trouble(t.state);
        t.cause.relief = (d.trouble - t.cause.without) / d.trouble;
      }
      // Equal reliefs: what is wrong with the tool or the lay-up comes before settings that would only hide it.
      const auto setting = [](const Cause& c) { return c.kind >= CauseKind::vent; };
      std::stable_sort(tries.begin(), tries.end(), [&](const Try& a, const Try& b) {
        const bool ea = a.cause.relief >= kExplains, eb = b.cause.relief >= kExplains;
        if (ea != eb) return ea;
        if (ea && setting(a.cause) != setting(b.cause)) return !setting(a.cause);
        return a.cause.relief > b.cause.relief;
      });
      // The ensemble is dear; the three that matter get it.
      for (std::size_t k = 0; k < std::min<std::size_t>(3, tries.size()); ++k)
        if (tries[k].cause.relief > 0) tries[k].cause.probability = chance(tries[k].state);
      for (Try& t : tries) d.causes.push_back(t.cause);
    } else {
      for (auto& [suspect, state] : suspects(in, now, spot)) {
        suspect.trouble = trouble(state);
        d.suspects.push_back(suspect);
      }
      std::stable_sort(d.suspects.begin(), d.suspects.end(),
                       [](const auto& a, const auto& b) { return a.trouble > b.trouble; });
    }

    const std::string where = spot_words(spot.at);
    if (!d.predicted) {
      d.headline = "Not the gap: with the gap as measured, the model predicts no dry spot at " + where + ".";
      d.discriminate = d.suspects.empty() || d.suspects[0].trouble < kPredicted
                           ? "None of the usual faults makes it in the model either; check the job against the shop "
                             "(vents, ports, glass, vacuum at the mold), then scan again with better coverage there."
                           : "It would come from " + d.suspects[0].what + ". To tell: " + d.suspects[0].measure + ".";
    } else if (!d.gap_explains) {
      d.headline = "Not the gap: the dry spot at " + where + " is predicted with the nominal gap as well.";
      d.discriminate =
          d.causes.empty() || d.causes[0].relief < kExplains
              ? "No single change removes it; change the vent and the lay-up together."
              : "Removing " + d.causes[0].what + words(" takes away %.0f %% of it.", 100 * d.causes[0].relief);
    } else {
      const bool single = !d.causes.empty() && d.causes[0].relief >= kExplains && d.causes[0].is_gap;
      d.headline = "The gap explains the dry spot at " + where +
                   (single ? ": removing " + d.causes[0].what + " (" + d.causes[0].name + ")" +
                                 words(" takes away %.0f %% of it.", 100 * d.causes[0].relief)
                           : ": with the nominal gap it is gone, but no single region makes it alone.");
    }
    if (!d.seen_fits)
      d.discriminate += words(
          " The model expects it in %.0f %% of the parts, but it was seen in %.0f %%: something that "
          "changes from part to part has a hand in it (glass, viscosity, vacuum).",
          100 * d.probability, 100.0 * spot.seen / spot.parts);

    // The cheapest correction that cures it, each tried at the spot itself.
    std::vector<int> order(plan.candidates.size());
    for (std::size_t k = 0; k < order.size(); ++k) order[k] = static_cast<int>(k);
    std::stable_sort(order.begin(), order.end(),
                     [&](int a, int b) { return plan.candidates[a].effort < plan.candidates[b].effort; });
    for (const int k : order) {
      if (!d.predicted || !d.gap_explains) break;
      const Correction& c = plan.candidates[k];
      State s = now;
      for (std::size_t i = 0; i < c.gap_change.size(); ++i) s.gap[i] += c.gap_change[i];
      s.laminate.zones.insert(s.laminate.zones.end(), c.added.begin(), c.added.end());
      const Filling f = run(s);
      const double left = trouble_at(in.sheet, f, s.flow, spot);
      if (left > kCured) continue;
      d.cure = k, d.cure_trouble = left, d.cure_fill_time = f.fill_time;
      d.cure_text = c.instruction;
      break;
    }
    if (d.cure_text.empty())
      d.cure_text =
          d.gap_explains
              ? "No single correction of the plan cures it; the chosen steps together are in the report of inspect."
              : "No correction of the tool is proposed: the gap is not what makes the spot.";
    out.spots.push_back(std::move(d));
  }
  report_progress(progress, "diagnose", 1);
  return out;
}

}  // namespace gapfront
