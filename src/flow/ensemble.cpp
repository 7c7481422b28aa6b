#include "gapfront/ensemble.hpp"

#include <algorithm>
#include <cmath>

#include "flow/draw.hpp"
#include "flow/watched.hpp"
#include "geometry/parallel.hpp"

namespace gapfront {
namespace {

// On fewer nodes than this a pocket is a few nodes, which coarse steps overlook: of a demo's fillings (4.4k nodes) none
// trapped air then, and a quarter with the flow's own steps.
constexpr std::size_t coarse_from = 8000;
// Runs between two reports of progress.
constexpr int batch = 8;

struct Run {
  std::vector<char> dry, last, leads, region_leads;
  double fill_time = 0, greatest = 0, dry_area = 0;
  bool pocket = false;
};

double quantile(std::vector<double> v, double q) {
  std::sort(v.begin(), v.end());
  const double at = q * double(v.size() - 1);
  const auto k = static_cast<std::size_t>(at);
  return k + 1 < v.size() ? v[k] + (at - double(k)) * (v[k + 1] - v[k]) : v.back();
}

}  // namespace

Ensemble draw_fillings(const Sheet& sheet, const GapMap& map, const std::vector<double>& gap,
                       const LaminateOptions& laminate, const FlowOptions& flow, const Filling& nominal,
                       const Lead& lead, const EnsembleOptions& o, const Progress& progress) {
  Ensemble out;
  out.runs = o.runs;
  out.lead_s = lead_threshold(nominal);
  if (o.runs <= 0) return out;
  const std::size_t n = sheet.size();
  const Draws draws(sheet, map, permeability_spread(laminate, o.spread), o.glass, o.seed);
  FlowOptions coarse = flow;
  if (n >= coarse_from) coarse.cells_per_step = std::max(flow.cells_per_step, o.cells_per_step);

  const auto draw = [&](int k) {
    const Draw drawn = draws(unsigned(k));
    auto g = gap;
    for (std::size_t i = 0; i < n; ++i) g[i] += drawn.gap[i];
    auto state = evaluate_laminate(sheet, g, laminate);
    scatter_glass(state, drawn.glass);
    const Filling f = fill_watched(sheet, state, coarse, [](double, double, const std::vector<double>&) {});
    const Lead l = compare_fillings(sheet, nominal, f);
    Run run;
    run.pocket = !f.pockets.empty();
    for (const auto& p : f.pockets) run.dry_area += p.area;
    run.fill_time = f.fill_time, run.greatest = l.greatest_s;
    std::vector<std::size_t> order;
    double wet = 0;
    for (std::size_t i = 0; i < n; ++i) {
      run.dry.push_back(!std::isfinite(f.arrival[i]));
      run.leads.push_back(l.seconds[i] > out.lead_s);
      if (!run.dry[i]) order.push_back(i), wet += sheet.area[i] * state.nodes[i].fluid_thickness;
    }
    run.last.assign(n, 0);
    std::sort(order.begin(), order.end(), [&](auto a, auto b) { return f.arrival[a] > f.arrival[b]; });
    double late = 0;
    for (std::size_t k = 0; k < order.size() && late < o.late * wet; ++k) {
      run.last[order[k]] = 1;
      late += sheet.area[order[k]] * state.nodes[order[k]].fluid_thickness;
    }
    for (const auto& r : lead.regions) {
      double sum = 0, area = 0;
      for (int i : r.nodes) sum += sheet.area[i] * l.seconds[i], area += sheet.area[i];
      run.region_leads.push_back(sum > out.lead_s * area);
    }
    return run;
  };

  std::vector<Run> runs(o.runs);
  for (int first = 0; first < o.runs; first += batch) {
    parallel_for(
        std::min(batch, o.runs - first), [&](std::size_t k) { runs[first + k] = draw(first + int(k)); }, 1);
    report_progress(progress, "ensemble", std::min(1.0, double(first + batch) / o.runs));
  }
  const auto share = [&](std::vector<double>& to, std::vector<char> Run::*from, std::size_t size) {
    to.assign(size, 0);
    for (const auto& r : runs)
      for (std::size_t i = 0; i < size; ++i) to[i] += (r.*from)[i] / double(o.runs);
  };
  share(out.dry, &Run::dry, n), share(out.last, &Run::last, n), share(out.leads, &Run::leads, n);
  share(out.region_leads, &Run::region_leads, lead.regions.size());
  std::vector<double> times, greatest;
  for (const auto& r : runs) {
    times.push_back(r.fill_time), greatest.push_back(r.greatest);
    out.pocket += r.pocket / double(o.runs), out.dry_area += r.dry_area / double(o.runs);
  }
  out.fill_time_low = quantile(times, 0.025), out.fill_time_high = quantile(times, 0.975);
  out.greatest_low = quantile(greatest, 0.025), out.greatest_high = quantile(greatest, 0.975);
  return out;
}

}  // namespace gapfront
