// A state of the tool, and what it comes to.
#pragma once
#include <optional>

#include "correct/candidates.hpp"
#include "gapfront/draws.hpp"

namespace gapfront::correct {

struct State {
  std::vector<double> change;  ///< of the gap, mm
  LaminateOptions laminate;    ///< what lies in the parts
  LaminateOptions design;      ///< what lies in a true mold's parts: changed by a redesign alone
  FlowOptions flow;
  bool redesigned = false;  ///< the front of a true mold is another one than CorrectInput::nominal
};

/// Gap → laminate → flow for states. Everything is const: states are computed side by side.
class Bench {
 public:
  explicit Bench(const CorrectInput&);
  const CorrectInput& in() const { return in_; }
  double area() const { return area_; }
  const KeptDraws* kept() const { return kept_ ? &*kept_ : nullptr; }
  bool draws() const { return in_.ensemble && in_.ensemble->runs > 0; }
  int all_draws() const { return draws() ? in_.ensemble->runs : 0; }
  State now() const;
  State with(const State&, const Correction&) const;
  std::vector<double> gap(const State&) const;
  /// The front of a true mold with the state's ports and glass.
  Filling nominal(const State&) const;
  /// Filled anew, with so many drawn fillings.
  Effect effect(const State&, int draws) const;
  /// The state's effect as it is known, with so many drawn fillings.
  Effect drawn(const State&, Effect known, int draws) const;
  /// Of a filling that is there; `have`: the first of its drawn fillings; `laminate`: of that gap, if it is there too.
  Effect describe(const State&, const std::vector<double>& gap, const Filling&, const Lead&, const Breathing*,
                  int draws, const std::vector<DrawnFill>& have = {}, const LaminateMap* laminate = nullptr) const;
  /// Drawn fillings of a true mold: its gap has no error, its glass scatters.
  std::vector<DrawnFill> drawn_nominal(const State&, const Filling& nominal, int draws) const;

 private:
  Effect draw_on(const State&, const std::vector<double>& resin_gap, Effect, int draws) const;

  const CorrectInput& in_;
  double area_;
  std::optional<KeptDraws> kept_;
};

/// The effect as its first `draws` drawn fillings tell it: to compare with one that has no more of them.
Effect with_draws(Effect, std::size_t draws);

/// Whether more draws may prove that air is trapped less often than before. Pockets that shrink are a sign as well: 24
/// draws hardly tell one in four from one in seven.
bool seems_drier(const Effect& before, const Effect& after);
/// Whether a correction changes the gap itself.
inline bool works_gap(const Correction& c) {
  return c.kind == Kind::shim || c.kind == Kind::build_up || c.kind == Kind::relief;
}
/// Whether it really traps air less often: the same draws before and after, by those that change alone (McNemar 1947;
/// two standard deviations).
bool fewer_pockets(const std::vector<DrawnFill>& before, const std::vector<DrawnFill>& after);

Chance air_chance(const std::vector<DrawnFill>&);

/// Vents and inlets for a state whose filling traps air: the vent moved to the pocket, one more there, a larger one, a
/// patch under it; each place iterated until the last air is at a vent. `true_mold`: searched in the nominal gap.
/// `known`: the state's first drawn fillings, which say in which draws there is air to let out.
std::vector<Correction> layout_candidates(const Bench&, const CorrectOptions&, const State&, bool true_mold,
                                          const std::vector<DrawnFill>& known);

/// Glass that fills the section and lets the mold close: overlaps butted, a filling ply, another stack.
std::vector<Correction> stack_candidates(const Bench&, const CorrectOptions&, const State&);

/// Vents that are closed by hand before resin has covered them, each left open until it has.
std::vector<Correction> open_vent_candidates(const CorrectOptions&, const FlowOptions&, const Filling& measured,
                                             const Filling& nominal);
/// A vent that was added, moved or widened, bored at once as `last`, which widens or moves it, leaves it. `mouth`: its
/// radius before both.
Correction vent_at_once(const Correction& first, const Correction& last, double mouth);
/// In what steps a shop sets the limit of a pump, Pa (own choice: 0.01 bar).
inline constexpr double kPumpStep = 1000;
/// Whether two candidates for layout or settings ask for the same. A port that is new has no name of its own.
bool same_work(const Correction&, const Correction&);

/// One sentence for each of them, in one filling.
Messages said_of_closed_vents(const Filling&, const FlowOptions&);

/// Settings of pump, vacuum and resin for a state that opens or gels before it is full. `gels_first`: whether it does;
/// none: as its effect says. `state`: which the settings are found for; none: that of the tool as it is.
std::vector<Correction> setting_candidates(const Bench&, const CorrectOptions&, const Effect& now, const CureLimits&,
                                           std::optional<bool> gels_first = {}, const State* state = nullptr);

}  // namespace gapfront::correct
