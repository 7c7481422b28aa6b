#include "diagnose/fillings.hpp"

#include <algorithm>
#include <cmath>

#include "core/distributions.hpp"
#include "core/parallel.hpp"
#include "gapfront/ensemble.hpp"

namespace gapfront::diagnosis {
namespace {

// Draws between two reports of progress.
constexpr int kBatch = 8;

void unwatched(double, double, const std::vector<double>&) {}

/// Weights of the draws so that they show the spot in the share of the parts in which it was counted. All 1 where
/// nothing was counted, or where the draws are all of one mind.
std::vector<double> weighted_by_count(const std::vector<char>& hit, const DrySpot& spot) {
  const double p = std::count(hit.begin(), hit.end(), 1) / double(hit.size());
  std::vector<double> w(hit.size(), 1);
  if (spot.parts <= 0 || !(p > 0) || !(p < 1)) return w;
  const double fraction = counted_share(spot);
  for (std::size_t k = 0; k < w.size(); ++k) w[k] = hit[k] ? fraction / p : (1 - fraction) / (1 - p);
  return w;
}

// The usual level.
constexpr double kLevel = 0.05;

/// Whether n of m parts are what the model's drawn fillings lead one to expect: Fisher's exact test of the two counts,
/// two-sided. Even draws scatter less than the test takes them to, so that it errs to the side of agreement.
bool agrees(const Chance& model, int n, int m) { return fisher_exact(n, m, model.hits, model.draws) >= kLevel; }

}  // namespace

Fillings::Fillings(const CorrectInput& in, const DiagnoseOptions& o, const Progress& progress)
    : in_(in), ensemble_(parts(in, o)), progress_(progress) {}

Filling Fillings::operator()(const State& s) {
  progress(1);
  LaminateMap laminate = laminate::evaluate_laminate(in_.sheet, s.gap, s.laminate);
  if (!s.reinforcement.empty()) flow::scatter_reinforcement(laminate, s.reinforcement);
  Filling out = flow::fill_watched(in_.sheet, laminate, s.flow, unwatched);
  unsettled += !flow::settled(out);
  return out;
}

std::vector<char> Fillings::hits(const State& s, const DrySpot& spot, std::size_t draws) {
  std::vector<char> out(std::min(draws, ensemble_.size())), rough(out.size());
  const LaminateCurves reinforcement(in_.sheet, s.gap, s.laminate);
  State quick = s;
  quick.flow = flow::drawn_flow(in_.sheet, s.flow, {});
  for (std::size_t first = 0; first < out.size(); first += kBatch) {
    const std::size_t some = std::min<std::size_t>(kBatch, out.size() - first);
    parallel_for(
        some,
        [&](std::size_t k) {
          const State part = made_as(quick, ensemble_[first + k]);
          LaminateMap laminate = reinforcement(part.gap);
          flow::scatter_reinforcement(laminate, part.reinforcement);
          const Filling f = flow::fill_watched(in_.sheet, laminate, part.flow, unwatched);
          out[first + k] = trouble_at(in_.sheet, f, part.flow, spot) >= kPredicted;
          rough[first + k] = !flow::settled(f);
        },
        1);
    progress(static_cast<int>(some));
  }
  unsettled += static_cast<int>(std::count(rough.begin(), rough.end(), 1));
  return out;
}

// How many there will be is not known; half of them are done when 200 are.
void Fillings::progress(int more) {
  done += more;
  report_progress(progress_, "diagnose", std::min(0.99, done / (done + 200.0)));
}

Counted ask(const CorrectInput& in, const State& now, const DiagnoseOptions& o, Fillings& run, SpotDiagnosis& d) {
  Counted counted;
  d.trouble = trouble_at(in.sheet, in.measured, in.flow, d.spot);
  d.nominal_trouble = trouble_at(in.sheet, in.nominal, in.flow, d.spot);
  if (o.draws <= 0) {
    d.predicted = d.trouble >= kPredicted;
    d.gap_explains = d.predicted && d.nominal_trouble <= (1 - kExplains) * d.trouble;
  } else {
    counted.hit = run.hits(now, d.spot, std::size_t(o.draws));
    counted.weights = weighted_by_count(counted.hit, d.spot);
    d.model = conformity::chance_of(static_cast<int>(std::count(counted.hit.begin(), counted.hit.end(), 1)), o.draws);
    d.now = counted.of(counted.hit);
    d.seen_fits = agrees(d.model, d.spot.seen, d.spot.parts);
    // A model that expects the spot in less than half as many parts as were counted does not account for it.
    const double seen = d.spot.parts > 0 ? double(d.spot.seen) / d.spot.parts : 0;
    // Where nobody counted, a spot that is asked about comes back: a chance that may as well be below what counts as
    // cured does not account for it, unless the one filling shows it too.
    const bool surely = d.spot.parts > 0 || d.trouble >= kPredicted || d.model.low >= o.cured_below;
    d.predicted = d.model.p >= o.cured_below && surely && (d.seen_fits || d.model.p >= kExplains * seen);
    if (d.predicted) {
      d.nominal = counted.of(run.hits(nominal_state(in), d.spot, std::size_t(o.draws)));
      d.gap_explains = d.nominal.p <= (1 - kExplains) * d.now.p;
    }
  }
  d.layout = d.predicted && !d.gap_explains && o.obstacle == Obstacle::layout_traps_air;
  return counted;
}

}  // namespace gapfront::diagnosis
