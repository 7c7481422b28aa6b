// Whatever the mold, the layout and the glass: what the plan does is never worse, and what can be cured is.
#include <catch2/catch.hpp>

#include <cmath>
#include <cstdlib>
#include <random>
#include "gapfront/text.hpp"

#include "correct/state.hpp"
#include "plate_case.hpp"

using namespace gapfront;
using plate::Case;

namespace {

struct Mold : Case {
  bool curable = false;  ///< a planted defect within reach of hand or shim, on a mold that is good when true
  using Case::Case;
};

double uniform(std::mt19937& r, double a, double b) { return std::uniform_real_distribution<double>(a, b)(r); }

/// Bumps, tilts, offsets, steps; five layouts; thick, thin and right glass; weak and strong pressure.
Mold random_mold(unsigned seed) {
  std::mt19937 r(seed);
  struct Bump {
    Vec3 at;
    double radius, height;
  };
  std::vector<Bump> bumps;
  const int kinds_of_defect = static_cast<int>(r() % 5);
  const bool hand = kinds_of_defect <= 1 || kinds_of_defect == 4, tilted = kinds_of_defect == 2 || kinds_of_defect == 4;
  const int count = hand ? 1 + static_cast<int>(r() % 2) : 0;
  for (int k = 0; k < count; ++k)
    bumps.push_back({Vec3(uniform(r, -80, 80), uniform(r, -55, 55), 0), uniform(r, 35, 60),
                     uniform(r, 0.4, 0.9) * (r() % 3 ? 1 : -1)});
  // In steps of the stock, so that the stations can take it out.
  const double lift = tilted ? 0.05 * std::round(uniform(r, 6, 12)) : 0;
  const double step = kinds_of_defect == 3 ? uniform(r, 0.3, 0.6) * (r() % 2 ? 1 : -1) : 0, edge = uniform(r, -60, 60);
  std::normal_distribution<double> noise(0, 0.005);
  Mold m([&](const Vec3& p) {
    double gap = 3 + lift * (0.5 - 0.25 * (p.x() / 140 + p.y() / 110)) + (p.x() > edge ? step : 0) + noise(r);
    for (const auto& b : bumps) gap += b.height * plate::bump(p, b.at, b.radius);
    return gap;
  });
  auto& vent = m.flow.vents[0];
  auto& inlet = m.flow.inlets[0];
  const int layout = static_cast<int>(r() % 5);
  const auto from = [&](std::vector<Vec3> path) {
    inlet.perimeter = false, inlet.path = std::move(path), inlet.radius = 8;
  };
  if (layout == 0) vent.radius = uniform(r, 11, 20);
  if (layout == 1) from({{-120, -90, 0}, {-120, 90, 0}}), vent.path = {{120, -90, 0}, {120, 90, 0}}, vent.radius = 8;
  if (layout == 2) from({{-120, -90, 0}, {-120, 90, 0}}), vent.path = {Vec3(120, 0, 0)};
  if (layout == 3) from({Vec3(0, 0, 0)}), vent.path = {Vec3(120, 90, 0)};
  if (layout == 4) vent.path = {Vec3(uniform(r, -80, 80), uniform(r, -60, 60), 0)};
  const double loft[] = {1.65, 1.65, 1.65, 1.8, 1.35};
  auto& mat = m.laminate.plies[0].reinforcement;
  mat.loft = loft[r() % 5];
  mat.permeability.spread = 0.1;
  m.flow.pressure_limit = uniform(r, 5e4, 2e5);
  m.flow.closing.force = uniform(r, 0, 1) < 0.8 ? 1e10 : 2e9;
  m.flow.gel_time = r() % 3 ? 0 : 5000;
  m.options.touch_tool = r() % 6 != 0;
  m.verdict = conformity::judge(m.sheet, m.gap, m.tolerance);
  std::vector<double> now;
  for (const auto& n : m.gap.nodes) now.push_back(n.gap);
  m.nominal = flow::fill(m.sheet, laminate::evaluate_laminate(m.sheet, m.verdict.nominal, m.laminate), m.flow);
  m.measured = flow::fill(m.sheet, laminate::evaluate_laminate(m.sheet, now, m.laminate), m.flow);
  m.lead = flow::compare_fillings(m.sheet, m.nominal, m.measured);
  m.curable = m.options.touch_tool && (hand || tilted);
  return m;
}

/// What a state comes to, without the plan's own functions: other random numbers than the plan's.
struct Found {
  double out = 0, balance = 0, packed = 0;
  std::vector<DrawnFill> drawn;
};
Found look(const Mold& m, const std::vector<double>& gap, const LaminateOptions& l, const FlowOptions& f) {
  Found s;
  for (std::size_t i = 0; i < gap.size(); ++i)
    if (std::abs(gap[i] - m.tolerance.nominal) > m.tolerance.plus) s.out += m.sheet.area[i];
  const LaminateMap reinforcement = laminate::evaluate_laminate(m.sheet, gap, l);
  s.packed = reinforcement.over_packed_area;
  const Filling filling = flow::fill(m.sheet, reinforcement, f);
  s.balance = std::min(filling.opening.dry.safety(), filling.opening.force.safety());
  for (const auto& o : filling.opening.history) s.balance = std::min(s.balance, o.safety());
  EnsembleOptions other;
  other.seed = 77;
  s.drawn = flow::draw_air(m.sheet, m.gap, gap, l, f, other, flow::numbers_from(0, 64));
  return s;
}

/// Three standard errors: the plan was judged by two with its own draws, these are others. What is too small for
/// trapped air counts as none.
bool drier(const Found& a, const Found& b) {
  const auto dry = [](const DrawnFill& f) { return std::max(f.dry_area, EnsembleOptions().min_dry); };
  double mean = 0, square = 0;
  const double n = double(a.drawn.size());
  for (std::size_t k = 0; k < a.drawn.size(); ++k) mean += (dry(b.drawn[k]) - dry(a.drawn[k])) / n;
  for (std::size_t k = 0; k < a.drawn.size(); ++k) square += std::pow(dry(b.drawn[k]) - dry(a.drawn[k]) - mean, 2);
  return mean > 3 * std::sqrt(square / (n - 1) / n) + 1;
}

struct Count {
  int molds = 0, works = 0, worse = 0, curable = 0, cured = 0, opens_called_cured = 0;
};

Count count(unsigned first, unsigned molds) {
  Count c;
  for (unsigned seed = first; seed < first + molds; ++seed) {
    const Mold m = random_mold(seed);
    EnsembleOptions draws;
    CorrectInput in{m.sheet, m.gap, m.tolerance, m.verdict, m.laminate, m.flow, m.nominal, m.measured, m.lead};
    std::vector<double> gap;
    for (const auto& n : m.gap.nodes) gap.push_back(n.gap);
    const auto drawn = flow::draw_air(m.sheet, m.gap, gap, m.laminate, m.flow, draws, flow::numbers_from(0, draws.runs),
                                      false, &m.nominal);
    in.ensemble = &draws, in.drawn = &drawn, in.pocket = correct::air_chance(drawn).p;
    const CorrectionPlan plan = correct::plan_corrections(in, m.options);
    ++c.molds, c.works += !plan.chosen.empty();

    const Found now = look(m, gap, m.laminate, m.flow);
    Found before = now;
    LaminateOptions laminate = m.laminate;
    FlowOptions flow = m.flow;
    std::string steps;
    bool worse = false, gap_worked = false;
    // Air that the mold traps too when its gap is what it was meant to be is not the fault of work on the gap.
    const auto by_layout = [&](const Found& b) {
      return gap_worked && !drier(look(m, m.verdict.nominal, laminate, flow), b);
    };
    const auto compare = [&](const Found& a, const Found& b) {
      const double wanted = m.flow.closing.safety;
      worse = worse || b.out > a.out + 1e-6 || (drier(a, b) && !by_layout(b)) ||
              std::min(b.balance, wanted) < std::min(a.balance, wanted) - 0.05;
    };
    for (const int k : plan.chosen) {
      correct::apply(plan.candidates[k], gap, laminate, flow);
      steps += std::string(to_string(plan.candidates[k].kind)) + ", ";
      const Kind kind = plan.candidates[k].kind;
      gap_worked = gap_worked || kind == Kind::shim || kind == Kind::build_up || kind == Kind::relief;
      const Found after = look(m, gap, laminate, flow);
      compare(before, after), compare(now, after);
      before = after;
    }
    c.worse += worse;
    const bool opens = before.balance < m.flow.closing.safety - 0.05;
    c.opens_called_cured += opens && plan.not_cured.empty();
    // A mold that is good when true, by numbers of its own: it holds, its glass suits, it hardly ever traps air.
    const Found good = look(m, m.verdict.nominal, m.laminate, m.flow);
    const bool sound = good.balance > m.flow.closing.safety + 0.05 && good.packed == 0 &&
                       laminate::evaluate_laminate(m.sheet, m.verdict.nominal, m.laminate).under_filled_area == 0 &&
                       correct::air_chance(good.drawn).p < 0.02 &&
                       (m.flow.gel_time == 0 || m.nominal.fill_time < 0.8 * m.flow.gel_time);
    const bool healed = plan.not_cured.empty() && before.out == 0 && !opens;
    c.curable += m.curable && sound, c.cured += m.curable && sound && healed;
    if (worse || (m.curable && sound && !healed))
      WARN("mold " << seed << (worse ? " worse" : " not cured") << ", steps " << steps << " out " << now.out << " -> "
                   << before.out << ", dry " << flow::mean_dry_area(now.drawn) << " -> "
                   << flow::mean_dry_area(before.drawn) << ", balance " << now.balance << " -> " << before.balance
                   << ": " << say(plan.remains));
  }
  return c;
}

}  // namespace

// GAPFRONT_PROPERTY_MOLDS=200 tries many. Of 200, counted on 2026-11-28: 169 worked on, none worse, 57 of 58 curable
// ones cured (mold 56: 11 cm² on a slope).
TEST_CASE("Random molds: no step and no final state is worse than before, and 95 % of the curable ones are cured") {
  const char* const asked = std::getenv("GAPFRONT_PROPERTY_MOLDS");
  const Count c = count(1, asked ? std::max(1u, unsigned(std::atoi(asked))) : 8);
  if (asked)
    WARN(c.molds << " molds, " << c.works << " worked on, " << c.worse << " worse, " << c.cured << " of " << c.curable
                 << " curable ones cured");
  CHECK(c.worse == 0);
  CHECK(c.opens_called_cured == 0);
  CHECK(c.works > 0);
  CHECK(c.cured >= std::min(0.95 * c.curable, c.curable - 1.0));  // of a few, one may be left
}
