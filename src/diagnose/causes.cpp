// What causes a spot, and what may.
#include <algorithm>
#include <cmath>

#include "core/sheet_parts.hpp"
#include "diagnose/fillings.hpp"

namespace gapfront::diagnosis {
namespace {

// The ensemble is dear; the causes that matter get all of it.
constexpr std::size_t kWithChance = 3;

/// What is wrong with the tool or the lay-up comes first; then a vent that the job closes; then settings that would
/// only hide either; last that the resin gels, which explains all that comes too late, whatever holds it up.
int order_of(CauseKind k) {
  if (k < CauseKind::vent || k == CauseKind::whole_gap) return 0;
  return k == CauseKind::vent_closed ? 1 : k == CauseKind::gel ? 3 : 2;
}

/// In that order; then the greatest relief, to a tenth, which is what the draws can tell; then that of the one filling.
void rank(std::vector<Try>& tries) {
  const auto relief = [](const Cause& c) { return c.chance.draws > 0 ? std::round(10 * c.relief) / 10 : c.relief; };
  std::stable_sort(tries.begin(), tries.end(), [&](const Try& a, const Try& b) {
    const bool ea = a.cause.relief >= kExplains, eb = b.cause.relief >= kExplains;
    if (ea != eb) return ea;
    const int oa = order_of(a.cause.kind), ob = order_of(b.cause.kind);
    if (ea && oa != ob) return oa < ob;
    if (relief(a.cause) != relief(b.cause)) return relief(a.cause) > relief(b.cause);
    return a.cause.without < b.cause.without;
  });
}

}  // namespace

void find_causes(const CorrectInput& in, const State& now, const DiagnoseOptions& o, const Counted& counted,
                 Fillings& run, SpotDiagnosis& d) {
  std::vector<Try> tries = candidates(in, now, d.spot);
  const auto draw = [&](Try& t, std::size_t draws) {
    const auto hits = run.hits(t.state, d.spot, draws);
    t.cause.chance = counted.of(hits);
    const double is = counted.now(hits.size());
    t.cause.relief = is > 0 ? (is - t.cause.chance.p) / is : 0;
  };
  for (Try& t : tries) {
    t.cause.without = run.trouble(t.state, d.spot);
    if (counted.drawn())
      draw(t, std::size_t(o.screening));
    else
      t.cause.relief = (d.trouble - t.cause.without) / d.trouble;
  }
  rank(tries);
  if (counted.drawn()) {
    for (std::size_t k = 0; k < std::min(kWithChance, tries.size()); ++k) draw(tries[k], counted.hit.size());
    rank(tries);
  }
  const bool single = std::any_of(tries.begin(), tries.end(),
                                  [](const Try& t) { return t.cause.is_gap && t.cause.relief >= kExplains; });
  if (d.gap_explains && !single) {
    Try t{{}, nominal_state(in)};
    t.cause.kind = CauseKind::whole_gap, t.cause.name = "gap", t.cause.is_gap = true;
    t.cause.what = Message("diagnosis.all-deviations");
    t.cause.without = d.nominal_trouble, t.cause.chance = d.nominal;
    t.cause.relief = counted.drawn() ? (d.now.p - d.nominal.p) / d.now.p : (d.trouble - d.nominal_trouble) / d.trouble;
    tries.push_back(t);
    rank(tries);
  }
  for (Try& t : tries) d.causes.push_back(t.cause);
}

void find_suspects(const CorrectInput& in, const State& now, Fillings& run, SpotDiagnosis& d) {
  const double all = sheet_area(in.sheet);
  for (auto& [suspect, state] : suspects(in, now, d.spot)) {
    const Filling f = run(state);
    // A fault that leaves the spot as it is does not explain it.
    suspect.trouble = std::max(0.0, trouble_at(in.sheet, f, state.flow, d.spot) - d.trouble);
    for (std::size_t i = 0; i < in.sheet.size(); ++i)
      if (!std::isfinite(f.arrival[i])) suspect.dry += in.sheet.area[i] / all;
    d.suspects.push_back(suspect);
  }
  // To a tenth of the spot; of two that make it alike the one that makes little else.
  const auto tenths = [](const Suspect& s) { return std::round(10 * s.trouble); };
  std::stable_sort(d.suspects.begin(), d.suspects.end(), [&](const Suspect& a, const Suspect& b) {
    return tenths(a) != tenths(b) ? tenths(a) > tenths(b) : a.dry < b.dry;
  });
}

}  // namespace gapfront::diagnosis
