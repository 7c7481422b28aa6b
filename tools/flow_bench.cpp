// Times the filling of a sheet on one core, and beside it a plain filling: flow_bench [NODES…]; sizes up to 6000
// are also filled the plain way (one node per step, a fresh sparse factorisation in each, and where CHOLMOD is there
// one factor that grows), which takes minutes beyond.
#include <Eigen/SparseCholesky>
#include <algorithm>
#include <cmath>
#include <cstdio>
#include <cstdlib>
#include <ctime>
#include <limits>
#include <vector>

#ifdef GAPFRONT_CHOLMOD
#include <suitesparse/cholmod.h>
#endif

#include "gapfront/flow.hpp"

using namespace gapfront;

namespace {

constexpr double side = 500, porosity = 0.83, thickness = 3, permeability = 1e-3, viscosity = 0.2, pressure = 1e5;

double cpu() { return double(std::clock()) / CLOCKS_PER_SEC; }

/// A square plate, its inner nodes shaken by a fifth of a cell; resin from one edge, air out at the other.
Sheet plate(int n) {
  Mesh m;
  unsigned long seed = 12345;
  const auto random = [&] {
    return double((seed = seed * 6364136223846793005ul + 1442695040888963407ul) >> 40) / (1 << 24) - 0.5;
  };
  for (int j = 0; j <= n; ++j)
    for (int i = 0; i <= n; ++i) {
      const bool inner = i > 0 && i < n && j > 0 && j < n;
      const double x = i + (inner ? 0.4 * random() : 0), y = j + (inner ? 0.4 * random() : 0);
      m.points.emplace_back(x * side / n, y * side / n, 0);
    }
  for (int j = 0; j < n; ++j)
    for (int i = 0; i < n; ++i) {
      const int a = j * (n + 1) + i, b = a + 1, c = a + n + 1, d = c + 1;
      if ((i + j) % 2)
        m.triangles.push_back({a, b, d}), m.triangles.push_back({a, d, c});
      else
        m.triangles.push_back({a, b, c}), m.triangles.push_back({b, d, c});
    }
  return cavity::make_sheet(std::move(m));
}

/// Glass alike everywhere, or of three kinds in stripes across the front.
LaminateMap reinforcement(const Sheet& s, bool stripes) {
  LaminateMap m;
  for (const auto& p : s.mesh.points) {
    NodeLaminate n;
    const double k = permeability * (stripes ? 1 + std::floor(p.y() / 100) / 2 : 1);
    n.conductance = n.conductance2 = k * thickness;
    n.porosity = porosity, n.fluid_thickness = porosity * thickness;
    m.nodes.push_back(n);
  }
  return m;
}

FlowOptions flow_options() {
  FlowOptions o;
  o.viscosity = viscosity, o.cavity_pressure = atmosphere_pa, o.pressure_limit = pressure;
  o.inlets.push_back({"edge", false, {{0, 0, 0}, {0, side, 0}}, 1e-6});
  o.vents.push_back({"far edge", {{side, 0, 0}, {side, side, 0}}, 1e-6, 0});
  return o;
}

struct Plain {
  std::vector<double> arrival;
  double fill_time = 0;
};

using Neighbours = std::vector<std::vector<std::pair<int, double>>>;  ///< per node: neighbour and conductance

/// Pressure at full nodes, the whole system factorised anew each time: Eigen's sparse Cholesky.
class Factorised {
 public:
  Factorised(const Neighbours& links, const std::vector<char>& inlet)
      : links_(links), inlet_(inlet), row_(inlet.size(), -1) {}
  void fill(int node) { row_[node] = int(nodes_.size()), nodes_.push_back(node); }
  void solve(std::vector<double>& p) const {
    if (nodes_.empty()) return;
    const int n = int(nodes_.size());
    std::vector<Eigen::Triplet<double>> entries;
    Eigen::VectorXd b = Eigen::VectorXd::Zero(n);
    for (int i : nodes_) {
      double sum = 0;
      for (const auto& [j, t] : links_[i]) {
        sum += t;
        if (row_[j] >= 0)
          entries.emplace_back(row_[i], row_[j], -t);
        else if (inlet_[j])
          b[row_[i]] += t * pressure;
      }
      entries.emplace_back(row_[i], row_[i], sum);
    }
    Eigen::SparseMatrix<double> a(n, n);
    a.setFromTriplets(entries.begin(), entries.end());
    const Eigen::VectorXd x = Eigen::SimplicialLDLT<Eigen::SparseMatrix<double>>(a).solve(b);
    for (int i : nodes_) p[i] = x[row_[i]];
  }

 private:
  const Neighbours& links_;
  const std::vector<char>& inlet_;
  std::vector<int> row_, nodes_;
};

#ifdef GAPFRONT_CHOLMOD
/// The same with one factor that grows by a row for every node that fills (CHOLMOD, cholmod_rowadd), ordered once for
/// the whole sheet.
class Updated {
 public:
  Updated(const Neighbours& links, const std::vector<char>& inlet)
      : links_(links), inlet_(inlet), n_(int(links.size())), full_(n_, 0), place_(n_) {
    cholmod_start(&c_);
    c_.supernodal = CHOLMOD_SIMPLICIAL;
    std::vector<std::pair<int, double>> none;
    cholmod_sparse* whole = column_major([&](int i) -> const auto& { return links[i]; });
    c_.nmethods = 1, c_.method[0].ordering = CHOLMOD_AMD, c_.postorder = 1;
    cholmod_factor* order = cholmod_analyze(whole, &c_);
    for (int k = 0; k < n_; ++k) place_[static_cast<const int*>(order->Perm)[k]] = k;
    cholmod_free_factor(&order, &c_), cholmod_free_sparse(&whole, &c_);
    cholmod_sparse* identity = column_major([&](int) -> const auto& { return none; });
    c_.method[0].ordering = CHOLMOD_NATURAL, c_.postorder = 0;
    factor_ = cholmod_analyze(identity, &c_);
    cholmod_factorize(identity, factor_, &c_);
    cholmod_change_factor(CHOLMOD_REAL, 0, 0, 0, 0, factor_, &c_);  // LDLᵀ whose columns can grow
    cholmod_free_sparse(&identity, &c_);
    b_ = cholmod_zeros(n_, 1, CHOLMOD_REAL, &c_);
  }
  Updated(const Updated&) = delete;
  ~Updated() { cholmod_free_dense(&b_, &c_), cholmod_free_factor(&factor_, &c_), cholmod_finish(&c_); }
  void fill(int node) {
    full_[node] = 1, nodes_.push_back(node);
    double sum = 0, given = 0;
    std::vector<std::pair<int, double>> row;
    for (const auto& [j, t] : links_[node]) {
      sum += t;
      if (full_[j]) row.emplace_back(place_[j], -t);
      if (inlet_[j]) given += t * pressure;
    }
    row.emplace_back(place_[node], sum);
    std::sort(row.begin(), row.end());
    cholmod_sparse* r = cholmod_allocate_sparse(n_, 1, row.size(), 1, 1, 0, CHOLMOD_REAL, &c_);
    static_cast<int*>(r->p)[1] = int(row.size());
    for (std::size_t k = 0; k < row.size(); ++k)
      static_cast<int*>(r->i)[k] = row[k].first, static_cast<double*>(r->x)[k] = row[k].second;
    cholmod_rowadd(place_[node], r, factor_, &c_);
    cholmod_free_sparse(&r, &c_);
    static_cast<double*>(b_->x)[place_[node]] = given;
  }
  void solve(std::vector<double>& p) {
    cholmod_dense* x = cholmod_solve(CHOLMOD_A, factor_, b_, &c_);
    for (int i : nodes_) p[i] = static_cast<const double*>(x->x)[place_[i]];
    cholmod_free_dense(&x, &c_);
  }

 private:
  /// Upper part with a diagonal of ones, of the given neighbours.
  template <class F>
  cholmod_sparse* column_major(F near) {
    std::vector<std::vector<int>> columns(n_);
    std::size_t all = 0;
    for (int i = 0; i < n_; ++i) {
      for (const auto& [j, t] : near(i))
        if (j < i) columns[i].push_back(j);
      columns[i].push_back(i);
      std::sort(columns[i].begin(), columns[i].end()), all += columns[i].size();
    }
    cholmod_sparse* a = cholmod_allocate_sparse(n_, n_, all, 1, 1, 1, CHOLMOD_REAL, &c_);
    int at = 0;
    for (int i = 0; i < n_; ++i) {
      static_cast<int*>(a->p)[i] = at;
      for (int j : columns[i]) static_cast<int*>(a->i)[at] = j, static_cast<double*>(a->x)[at++] = i == j;
    }
    static_cast<int*>(a->p)[n_] = at;
    return a;
  }

  const Neighbours& links_;
  const std::vector<char>& inlet_;
  int n_;
  std::vector<char> full_;
  std::vector<int> place_, nodes_;
  cholmod_common c_;
  cholmod_factor* factor_ = nullptr;
  cholmod_dense* b_ = nullptr;
};
#endif

/// What everybody writes first: linear elements, the wetted nodes' pressure solved anew for every node that fills.
/// A node counts as reached when half of its volume is filled (all of it at the far edge).
template <class Solver>
Plain fill_plainly(const Sheet& s, const LaminateMap& lam) {
  const int n = int(s.size());
  Neighbours links(n);
  const auto link = [&](int i, int j, double t) {
    for (auto& [k, w] : links[i])
      if (k == j) return void(w += t);
    links[i].emplace_back(j, t);
  };
  for (const auto& tri : s.mesh.triangles) {
    const auto& p = s.mesh.points;
    const double c =
        (lam.nodes[tri[0]].conductance + lam.nodes[tri[1]].conductance + lam.nodes[tri[2]].conductance) / 3;
    for (int k = 0; k < 3; ++k) {
      const int a = tri[k], b = tri[(k + 1) % 3], o = tri[(k + 2) % 3];
      const Vec3 u = p[a] - p[o], v = p[b] - p[o];
      const double t = 0.5 * c * u.dot(v) / u.cross(v).norm();
      link(a, b, t), link(b, a, t);
    }
  }
  Plain out;
  out.arrival.assign(n, std::numeric_limits<double>::infinity());
  std::vector<double> filled(n, 0), volume(n), p(n, 0);
  std::vector<char> full(n, 0), inlet(n, 0);
  for (int i = 0; i < n; ++i) {
    volume[i] = s.area[i] * lam.nodes[i].fluid_thickness;
    if (s.mesh.points[i].x() < 1e-6) inlet[i] = full[i] = 1, p[i] = pressure, out.arrival[i] = 0;
  }
  double time = 0;
  Solver solver(links, inlet);
  for (;;) {
    solver.solve(p);
    double dt = std::numeric_limits<double>::infinity();
    std::vector<double> q(n, 0);
    for (int i = 0; i < n; ++i) {
      if (full[i]) continue;
      for (const auto& [j, t] : links[i])
        if (full[j]) q[i] += t * p[j] / viscosity;
      if (q[i] > 0) dt = std::min(dt, (volume[i] - filled[i]) / q[i]);
    }
    if (!std::isfinite(dt)) break;
    for (int i = 0; i < n; ++i) {
      if (!(q[i] > 0)) continue;
      const double level = volume[i] * (s.mesh.points[i].x() > side - 1e-6 ? 1 : 0.5) * (1 - 1e-9);
      if (filled[i] < level && filled[i] + q[i] * dt >= level) out.arrival[i] = time + (level - filled[i]) / q[i];
      filled[i] += q[i] * dt;
      if (filled[i] >= volume[i] * (1 - 1e-12)) full[i] = 1, solver.fill(i);
    }
    time += dt;
  }
  out.fill_time = time;
  return out;
}

template <class Solver>
void beside(const char* name, const Sheet& sheet, const LaminateMap& lam, const Filling& f, double time) {
  const double start = cpu();
  const Plain plain = fill_plainly<Solver>(sheet, lam);
  const double plain_time = cpu() - start;
  double sum = 0;
  for (std::size_t i = 0; i < sheet.size(); ++i)
    sum += std::pow((f.arrival[i] - plain.arrival[i]) / plain.fill_time, 2);
  std::printf("     %s  %.2f s (%.0f times as long), fill time %.3f s (%+.3f %%), arrivals differ by %.3f %% rms\n",
              name, plain_time, plain_time / time, plain.fill_time, 100 * (f.fill_time / plain.fill_time - 1),
              100 * std::sqrt(sum / double(sheet.size())));
}

}  // namespace

int main(int argc, char** argv) {
  std::vector<double> sizes;
  for (int k = 1; k < argc; ++k) sizes.push_back(std::atof(argv[k]));
  if (sizes.empty()) sizes = {2500, 5000, 10000, 25000, 50000};
  double last_nodes = 0, last_time[2] = {0, 0};
  for (double wanted : sizes) {
    const Sheet sheet = plate(std::max(2, int(std::lround(std::sqrt(wanted))) - 1));
    for (bool stripes : {false, true}) {
      const LaminateMap lam = reinforcement(sheet, stripes);
      double start = cpu();
      const Filling f = flow::fill(sheet, lam, flow_options());
      const double time = cpu() - start, nodes = double(sheet.size());
      std::printf("flow %s %6.0f nodes: %.2f s, fill time %.3f s, entered/held - 1 = %.1e",
                  stripes ? "stripes" : "even   ", nodes, time, f.fill_time, f.injected / f.resin - 1);
      if (!stripes) {
        const double end = porosity * viscosity * side * side / (2 * permeability * pressure);
        double sum = 0, most = 0;
        for (std::size_t i = 0; i < sheet.size(); ++i) {
          const double x = sheet.mesh.points[i].x() / side, e = std::abs(f.arrival[i] / end - x * x);
          sum += e * e, most = std::max(most, e);
        }
        std::printf(", arrival off by %.3f %% rms, %.2f %% at worst", 100 * std::sqrt(sum / nodes), 100 * most);
      }
      if (last_nodes > 0)
        std::printf(", cost grows as n^%.2f", std::log(time / last_time[stripes]) / std::log(nodes / last_nodes));
      last_time[stripes] = time;
      std::printf("\n");
      std::fflush(stdout);
      if (nodes > 6000) continue;
      beside<Factorised>("factorised anew", sheet, lam, f, time);
#ifdef GAPFRONT_CHOLMOD
      beside<Updated>("CHOLMOD, updated", sheet, lam, f, time);
#endif
    }
    last_nodes = double(sheet.size());
  }
}
