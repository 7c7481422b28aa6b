#include "gapfront/ensemble.hpp"

#include <Eigen/Eigenvalues>
#include <algorithm>
#include <cmath>
#include <random>

#include "flow/watched.hpp"
#include "geometry/neighbours.hpp"
#include "geometry/parallel.hpp"

namespace gapfront {
namespace {

// A random field is a sum of so many waves: enough that no single one is seen.
constexpr int waves = 64;
// Runs between two reports of progress.
constexpr int batch = 8;

using Random = std::mt19937_64;
using Normal = std::normal_distribution<double>;

// Unit variance, correlation exp(−r²/2L²): waves of random phase, wave vectors normal with deviation 1/L (the spectrum
// of that correlation).
std::vector<double> smooth_field(const std::vector<Vec3>& points, double length, Random& random) {
  Normal normal;
  std::uniform_real_distribution<double> phase(0, 2 * M_PI);
  std::vector<double> out(points.size(), 0);
  for (int k = 0; k < waves; ++k) {
    Vec3 wave;
    for (int d = 0; d < 3; ++d) wave[d] = normal(random) / length;
    const double start = phase(random);
    for (std::size_t i = 0; i < points.size(); ++i)
      out[i] += std::sqrt(2.0 / waves) * std::cos(wave.dot(points[i]) + start);
  }
  return out;
}

// Unit variance, alike over about an edge: fits at neighbouring nodes share points.
std::vector<double> short_field(const std::vector<std::vector<int>>& near, Random& random) {
  Normal normal;
  std::vector<double> noise(near.size()), out(near.size());
  for (auto& v : noise) v = normal(random);
  for (std::size_t i = 0; i < near.size(); ++i) {
    double sum = noise[i];
    for (int j : near[i]) sum += noise[j];
    out[i] = sum / std::sqrt(1.0 + double(near[i].size()));
  }
  return out;
}

double spread_of(const LaminateOptions& laminate, double otherwise) {
  double spread = 0;
  for (const auto& p : laminate.plies) spread = std::max(spread, p.glass.permeability.spread);
  return spread > 0 ? spread : otherwise;
}

struct Run {
  std::vector<char> dry, last, leads, region_leads;
  double fill_time = 0, greatest = 0;
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
  const auto near = neighbours(sheet.mesh);
  const Eigen::SelfAdjointEigenSolver<Matrix6> motion(map.registration);
  const Vector6 size = motion.eigenvalues().cwiseMax(0).cwiseSqrt();
  const double spread = spread_of(laminate, o.spread);

  FlowOptions coarse = flow;
  coarse.cells_per_step = o.cells_per_step;

  const auto draw = [&](int k) {
    std::seed_seq seed{o.seed, static_cast<unsigned>(k)};
    Random random(seed);
    Normal normal;
    Vector6 z;
    for (int j = 0; j < 6; ++j) z[j] = normal(random);
    const Vector6 moved = motion.eigenvectors() * size.cwiseProduct(z);
    const double offset = normal(random), warm = normal(random);
    const auto fits = short_field(near, random);
    const auto glass = smooth_field(sheet.mesh.points, o.glass, random);
    auto g = gap;
    for (std::size_t i = 0; i < n; ++i) {
      const NodeGap& m = map.nodes[i];
      if (!m.measured) continue;
      g[i] += m.direction.dot(moved.head<3>() + Vec3(moved.tail<3>()).cross(m.mid - map.pivot)) +
              m.u_instrument * offset + m.u_temperature * warm + std::hypot(m.u_lower, m.u_upper) * fits[i];
    }
    auto state = evaluate_laminate(sheet, g, laminate);
    for (std::size_t i = 0; i < n; ++i) {
      // Through the glass only: an open channel has no scatter.
      const double factor = std::exp(spread * glass[i]), channel = std::pow(state.nodes[i].channel, 3) / 12;
      for (double* c : {&state.nodes[i].conductance, &state.nodes[i].conductance2})
        *c = channel + std::max(0.0, *c - channel) * factor;
    }
    const Filling f = fill_watched(sheet, state, coarse, [](double, double, const std::vector<double>&) {});
    const Lead l = compare_fillings(sheet, nominal, f);
    Run run;
    run.pocket = !f.pockets.empty();
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
    out.pocket += r.pocket / double(o.runs);
  }
  out.fill_time_low = quantile(times, 0.025), out.fill_time_high = quantile(times, 0.975);
  out.greatest_low = quantile(greatest, 0.025), out.greatest_high = quantile(greatest, 0.975);
  return out;
}

}  // namespace gapfront
