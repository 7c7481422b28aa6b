// Fillings of the states of a diagnosis: one, or with what differs from part to part drawn.
#pragma once
#include <vector>

#include "diagnose/states.hpp"

namespace gapfront::diagnosis {

// A spot counts as predicted when a quarter of it is in trouble: less is an edge that the mesh may place either way.
constexpr double kPredicted = 0.25;
// A cause explains the spot when removing it takes most of the trouble away.
constexpr double kExplains = 0.5;

/// Fills states, and asks the ensemble about them.
class Fillings {
 public:
  Fillings(const CorrectInput&, const DiagnoseOptions&, const Progress&);

  Filling operator()(const State&);
  double trouble(const State& s, const DrySpot& spot) { return trouble_at(in_.sheet, (*this)(s), s.flow, spot); }
  /// Per draw, from the first so many: does the spot come about?
  std::vector<char> hits(const State&, const DrySpot&, std::size_t draws);

  int done = 0;
  int unsettled = 0;  ///< of these

 private:
  void progress(int more);

  const CorrectInput& in_;
  std::vector<Part> ensemble_;
  const Progress& progress_;
};

/// The share of the parts in which a spot was counted: n of m, with half a part on either side (Jeffreys).
inline double counted_share(const DrySpot& spot) { return (spot.seen + 0.5) / (spot.parts + 1); }

/// The draws of one spot: with the tool as it is, and what each of them counts.
struct Counted {
  std::vector<char> hit;
  std::vector<double> weights;
  bool drawn() const { return !hit.empty(); }
  Chance of(const std::vector<char>& hits) const {
    return conformity::weighted_chance(
        hits, std::vector<double>(weights.begin(), weights.begin() + static_cast<long>(hits.size())));
  }
  /// With the tool as it is, over the first so many draws: to compare with what saw no more.
  double now(std::size_t draws) const {
    return of(std::vector<char>(hit.begin(), hit.begin() + static_cast<long>(std::min(draws, hit.size())))).p;
  }
};

/// What the model says of the spot, and whether that accounts for what was seen.
Counted ask(const CorrectInput&, const State& now, const DiagnoseOptions&, Fillings&, SpotDiagnosis&);
/// What, removed, takes the trouble away; the greatest relief first.
void find_causes(const CorrectInput&, const State& now, const DiagnoseOptions&, const Counted&, Fillings&,
                 SpotDiagnosis&);
/// Whether the spot is there because the resin gels, whatever it is that comes in time.
bool gel_explains(const SpotDiagnosis&);
/// What may be the matter although the model shows nothing of it.
void find_suspects(const CorrectInput&, const State& now, Fillings&, SpotDiagnosis&);
/// The report's own plan, if that cures the spot; else the cheapest candidate that does on top of it.
void find_cure(const CorrectInput&, const CorrectionPlan&, const State& now, const DiagnoseOptions&, const Counted&,
               Fillings&, SpotDiagnosis&);
/// What is said of it all, and what would tell the causes apart.
void tell(const CorrectInput&, SpotDiagnosis&);

}  // namespace gapfront::diagnosis
