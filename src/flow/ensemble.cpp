#include "gapfront/ensemble.hpp"
#include "core/sheet_parts.hpp"
#include "core/statistics.hpp"

#include <algorithm>
#include <cmath>
#include <mutex>
#include <numeric>

#include "core/parallel.hpp"
#include "flow/coarse.hpp"
#include "flow/fill_run.hpp"
#include "gapfront/check.hpp"
#include "gapfront/draws.hpp"

namespace gapfront::flow {
namespace {

// Runs between two reports of progress.
constexpr int kBatch = 8;

struct Run {
  std::vector<char> dry, last, leads, region_leads;
  double fill_time = 0;
  DrawnFill fill;
};

/// A state as one draw has it, and its filling, both of the sheet that is filled.
struct DrawnState {
  LaminateMap laminate;
  Filling filling;
};

// Rows that are finer by less than this cannot be left to cells of the wanted width: the next after a row is two rows.
constexpr double kMuchFiner = 2;

/// Width of a cell.
double row_of(const Sheet& sheet) {
  return std::sqrt(sheet_area(sheet) / double(std::max<std::size_t>(1, sheet.size())));
}

// A third of the least dry spot that counts sees it close: with a row of 6 mm at a time as many of the demos' fillings
// trap air as with half of it, with 1.6 rows 15 % fewer.
double row_of_draws(double min_dry) { return std::sqrt(4 * min_dry / M_PI) / 3; }

// Steps of over three rows tell nothing of a front, nor do cells of so many.
constexpr double kMostRows = 3;

double rows_per_step(const Sheet& sheet, double min_dry) {
  return std::clamp(row_of_draws(min_dry) / std::max(row_of(sheet), 1e-9), 1.0, kMostRows);
}

// Of the sheet in the cells of its inlets: a narrow ring may hardly have any others.
constexpr double kMostInInlets = 0.15;

/// `ports`: of the whole sheet.
std::shared_ptr<const CoarseSheet> if_it_serves(std::shared_ptr<const CoarseSheet> coarse, const Sheet& sheet,
                                                const Ports& ports) {
  if (!coarse) return {};
  double in_inlets = 0;
  for (const int i : coarse->ports(ports).inlet) in_inlets += coarse->sheet.area[i];
  return in_inlets > kMostInInlets * sheet_area(sheet) ? nullptr : coarse;
}

FlowOptions checked(FlowOptions o) {
  check_options(o);
  return o;
}

class StateDraws {
 public:
  StateDraws(const Sheet& sheet, const GapMap& map, const std::vector<double>& gap, const LaminateOptions& laminate,
             const FlowOptions& flow, const EnsembleOptions& o, bool gap_known,
             std::shared_ptr<const CoarseSheet> coarse, const KeptDraws* kept)
      : sheet_(sheet),
        ports_(find_ports(sheet, checked(flow))),
        coarse_(if_it_serves(std::move(coarse), sheet, ports_)),
        gap_(gap),
        options_(laminate),
        laminate_(sheet, gap, laminate),
        flow_(drawn_flow(filled(), flow, o)),
        ground_(coarse_ ? Ground(coarse_->sheet, coarse_->ports(ports_)) : Ground(sheet, ports_)),
        gap_known_(gap_known),
        batch_(batch_is_drawn(laminate)),
        seed_(o.seed),
        kept_(kept),
        draws_(kept && kept->draws().alike(sheet, map, o.seed)
                   ? kept->draws().with(scatter_model(sheet, laminate, scatter_of(o)))
                   : Draws(sheet, map, scatter_model(sheet, laminate, scatter_of(o)), o.seed)),
        ladder_(std::make_shared<const Ladder>(joined_network(ground_, of_cells(laminate_(gap, {})), flow_))) {}
  /// The sheet that is filled.
  const Sheet& filled() const { return coarse_ ? coarse_->sheet : sheet_; }
  /// Of it, the node that stands for each of the whole sheet.
  std::size_t home(std::size_t i) const { return coarse_ ? static_cast<std::size_t>(coarse_->home[i]) : i; }
  /// By how much a draw's filling leads the nominal one, s per node that is filled. `own`: by how much the state itself
  /// does, per node of the whole sheet. What fewer nodes do to a front drops out, as the state is filled on them too.
  std::vector<double> leads(const Filling& drawn, const Filling& nominal, const std::vector<double>& own) const {
    if (!coarse_) return compare_fillings(sheet_, nominal, drawn).seconds;
    auto out = compare_fillings(filled(), undrawn(), drawn).seconds;
    if (own.empty()) return out;
    const auto before = coarse_->at_nodes(own);
    for (std::size_t k = 0; k < out.size(); ++k) out[k] += before[k];
    return out;
  }
  /// A draw's fill time, of a state that takes `own` on the whole sheet, s.
  double fill_time(const Filling& drawn, double own) const {
    if (!coarse_ || !(undrawn().fill_time > 0) || !(own > 0)) return drawn.fill_time;
    return drawn.fill_time * own / undrawn().fill_time;
  }
  DrawnState operator()(int k, Asked asked) const {
    if (k == kUndrawn) {
      DrawnState out{of_cells(laminate_(gap_, {})), {}};
      out.filling = Fill(ground_, out.laminate, flow_, unwatched_, asked, ladder_).run({});
      return out;
    }
    Draw here;
    const Draw& drawn = kept_ && kept_->has(k, draws_) ? (*kept_)[k] : here = draws_(unsigned(k));
    auto g = gap_;
    if (!gap_known_)
      for (std::size_t i = 0; i < g.size(); ++i) g[i] += drawn.gap[i];
    DrawnState out{batch_ ? LaminateCurves(sheet_, g, drawn_batch(options_, seed_, unsigned(k)))(g, drawn.weight)
                          : laminate_(g, drawn.weight),
                   {}};
    scatter_reinforcement(out.laminate, drawn.permeability);
    out.laminate = of_cells(std::move(out.laminate));
    FlowOptions mixed = flow_;
    mixed.viscosity *= drawn_viscosity(flow_.viscosity_spread, seed_, unsigned(k));
    out.filling = Fill(ground_, out.laminate, mixed, unwatched_, asked, ladder_).run({});
    return out;
  }

 private:
  const Filling& undrawn() const {
    std::call_once(undrawn_made_, [&] { undrawn_ = (*this)(kUndrawn, Asked::everything).filling; });
    return undrawn_;
  }
  LaminateMap of_cells(LaminateMap m) const {
    if (coarse_) return coarse_->mean(m);
    return m;
  }

  const Sheet& sheet_;
  Ports ports_;  // of the whole sheet
  std::shared_ptr<const CoarseSheet> coarse_;
  const std::vector<double>& gap_;
  const LaminateOptions& options_;
  LaminateCurves laminate_;
  FlowOptions flow_;
  Ground ground_;
  PressureWatch unwatched_;
  bool gap_known_, batch_;
  unsigned seed_;
  const KeptDraws* kept_;  // may hold a draw already
  Draws draws_;
  std::shared_ptr<const Ladder> ladder_;  // of the state that is drawn around
  mutable std::once_flag undrawn_made_;
  mutable Filling undrawn_;  // of the state itself, on fewer nodes
};

/// No less than nothing.
double greatest(const std::vector<double>& leads) {
  return leads.empty() ? 0 : std::max(0.0, *std::max_element(leads.begin(), leads.end()));
}

DrawnFill summary(const Filling& f, double min_dry) {
  DrawnFill out;
  out.dry_area = dry_area(f);
  out.pocket = out.dry_area > min_dry;
  out.settled = settled(f);
  if (!f.pockets.empty()) out.centre = f.pockets.front().centre;  // the largest comes first
  return out;
}

}  // namespace

ScatterModel scatter_of(const EnsembleOptions& o) {
  return {.spread = o.spread, .length = o.length, .spread_at = {}, .weight = o.weight};
}

std::shared_ptr<const CoarseSheet> sheet_of_draws(const Sheet& sheet, const EnsembleOptions& o) {
  const double fine = row_of(sheet), row = std::min(row_of_draws(o.min_dry), kMostRows * fine);
  if (row < kMuchFiner * fine) return {};
  const auto coarse = std::make_shared<const CoarseSheet>(sheet, row);
  return coarse->whole ? coarse : nullptr;
}

FlowOptions drawn_flow(const Sheet& sheet, FlowOptions flow, const EnsembleOptions& o) {
  flow.cells_per_step = rows_per_step(sheet, o.min_dry);
  flow.loose_fraction = std::max(flow.loose_fraction, o.loose_fraction);
  flow.rest_fraction = std::max(flow.rest_fraction, o.rest_fraction);
  return flow;
}

Ensemble draw_fillings(const Sheet& sheet, const GapMap& map, const std::vector<double>& gap,
                       const LaminateOptions& laminate, const FlowOptions& flow, const Filling& nominal,
                       const Lead& lead, const EnsembleOptions& o, const Progress& progress) {
  Ensemble out;
  out.runs = o.runs;
  out.lead_s = lead_threshold(nominal);
  if (o.runs <= 0) return out;
  const StateDraws draws(sheet, map, gap, laminate, flow, o, false, sheet_of_draws(sheet, o), nullptr);
  const Sheet& filled = draws.filled();

  const auto draw = [&](int k) {
    const DrawnState state = draws(k, Asked::everything);
    const Filling& f = state.filling;
    const std::vector<double> leads = draws.leads(f, nominal, lead.seconds);
    Run run;
    run.fill = summary(f, o.min_dry), run.fill.max_lead_s = greatest(leads);
    run.fill_time = draws.fill_time(f, lead.fill_time);
    std::vector<std::size_t> order;
    double wet = 0;
    const auto resin = [&](std::size_t i) { return filled.area[i] * state.laminate.nodes[i].fluid_thickness; };
    for (std::size_t i = 0; i < filled.size(); ++i) {
      run.dry.push_back(!std::isfinite(f.arrival[i]) || (flow.gel_time > 0 && f.arrival[i] > flow.gel_time));
      run.leads.push_back(leads[i] > out.lead_s);
      if (std::isfinite(f.arrival[i])) order.push_back(i), wet += resin(i);
    }
    run.last.assign(filled.size(), 0);
    std::sort(order.begin(), order.end(), [&](auto a, auto b) { return f.arrival[a] > f.arrival[b]; });
    double late = 0;
    for (std::size_t k = 0; k < order.size() && late < o.late * wet; ++k) {
      run.last[order[k]] = 1;
      late += resin(order[k]);
    }
    for (const auto& r : lead.regions) {
      double sum = 0, area = 0;
      for (const int i : r.nodes)
        sum += sheet.area[i] * leads[draws.home(static_cast<std::size_t>(i))], area += sheet.area[i];
      run.region_leads.push_back(sum > out.lead_s * area);
    }
    return run;
  };

  std::vector<Run> runs(o.runs);
  for (int first = 0; first < o.runs; first += kBatch) {
    parallel_for(
        std::min(kBatch, o.runs - first), [&](std::size_t k) { runs[first + k] = draw(first + int(k)); }, 1);
    report_progress(progress, "ensemble", std::min(1.0, double(first + kBatch) / o.runs));
  }
  const auto fraction = [&](std::vector<double>& to, std::vector<char> Run::*from) {
    to.assign(sheet.size(), 0);
    for (const auto& r : runs)
      for (std::size_t i = 0; i < to.size(); ++i) to[i] += (r.*from)[draws.home(i)] / double(o.runs);
  };
  fraction(out.dry, &Run::dry), fraction(out.last, &Run::last), fraction(out.leads, &Run::leads);
  out.region_leads.assign(lead.regions.size(), 0);
  for (const auto& r : runs)
    for (std::size_t k = 0; k < r.region_leads.size(); ++k) out.region_leads[k] += r.region_leads[k] / double(o.runs);
  std::vector<double> times, maximum;
  for (const auto& r : runs) {
    times.push_back(r.fill_time), maximum.push_back(r.fill.max_lead_s);
    out.pocket += r.fill.pocket / double(o.runs), out.dry_area += r.fill.dry_area / double(o.runs);
    out.each.push_back(r.fill);
  }
  out.fill_time_low = quantile(times, 0.025), out.fill_time_high = quantile(times, 0.975);
  out.max_low = quantile(maximum, 0.025), out.max_high = quantile(maximum, 0.975);
  return out;
}

std::vector<DrawnFill> draw_air(const Sheet& sheet, const GapMap& map, const std::vector<double>& gap,
                                const LaminateOptions& laminate, const FlowOptions& flow, const EnsembleOptions& o,
                                const std::vector<int>& numbers, bool gap_known, const Filling* front,
                                const KeptDraws* kept) {
  const StateDraws draws(sheet, map, gap, laminate, flow, o, gap_known,
                         kept ? kept->filled() : sheet_of_draws(sheet, o), kept);
  std::vector<DrawnFill> out(numbers.size());
  parallel_for(
      out.size(),
      [&](std::size_t k) {
        const Filling f = draws(numbers[k], front ? Asked::everything : Asked::air).filling;
        out[k] = summary(f, o.min_dry);
        if (front) out[k].max_lead_s = greatest(draws.leads(f, *front, {}));
      },
      1);
  return out;
}

std::vector<int> numbers_from(int first, int count) {
  std::vector<int> out(std::max(0, count));
  std::iota(out.begin(), out.end(), first);
  return out;
}

double mean_dry_area(const std::vector<DrawnFill>& fills) {
  double sum = 0;
  for (const auto& f : fills) sum += f.dry_area;
  return fills.empty() ? 0 : sum / double(fills.size());
}

}  // namespace gapfront::flow
