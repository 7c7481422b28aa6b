#include "gapfront/draws.hpp"

#include <algorithm>
#include <cmath>
#include <random>

#include "core/linear.hpp"
#include "core/neighbours.hpp"
#include "core/parallel.hpp"
#include "flow/even_normals.hpp"
#include "flow/field_modes.hpp"

namespace gapfront {
namespace {

// A random field is a sum of so many waves: enough that no single one is seen.
constexpr int kWaves = 64;
// Numbers that move the whole gap: six of the registration, the instrument, the temperature.
constexpr int kOfGap = 8;
// Of draws that are kept: 64 of them on a sheet of 60,000 nodes.
constexpr std::size_t kKeptBytes = std::size_t(64) << 20;

using Random = std::mt19937_64;
using Normal = std::normal_distribution<double>;

// cos(2π turns), to 1e-13, without a branch: compilers take several at once, the C library's is three times as slow.
double cos_of(double turns) {
  constexpr double kWhole = 6755399441055744;  // 1.5·2⁵²: adding it leaves whole numbers
  const double x = turns - ((turns + kWhole) - kWhole), y = 2 * M_PI * (0.25 - std::abs(x)), s = y * y;
  // sin y for |y| ≤ π/2, by its series to y¹⁷.
  double p = 1 / 355687428096000.0;
  p = p * s - 1 / 1307674368000.0, p = p * s + 1 / 6227020800.0, p = p * s - 1 / 39916800.0, p = p * s + 1 / 362880.0;
  p = p * s - 1 / 5040.0, p = p * s + 1 / 120.0, p = p * s - 1 / 6.0, p = p * s + 1;
  return y * p;
}

// Unit variance, correlation exp(−r²/2L²): waves of random phase, wave vectors normal with deviation 1/L (the spectrum
// of that correlation).
std::vector<double> smooth_field(const std::vector<Vec3>& points, double length, Random& random) {
  Normal normal;
  std::uniform_real_distribution<double> phase(0, 2 * M_PI);
  const std::size_t n = points.size();
  std::vector<double> out(n, 0), x(n), y(n), z(n);
  for (std::size_t i = 0; i < n; ++i) x[i] = points[i].x(), y[i] = points[i].y(), z[i] = points[i].z();
  for (int k = 0; k < kWaves; ++k) {
    Vec3 wave;
    for (int d = 0; d < 3; ++d) wave[d] = normal(random) / length;
    const double start = phase(random) / (2 * M_PI);
    wave /= 2 * M_PI;
    for (std::size_t i = 0; i < n; ++i)
      out[i] += std::sqrt(2.0 / kWaves) * cos_of(wave.x() * x[i] + wave.y() * y[i] + wave.z() * z[i] + start);
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

}  // namespace

double flow::permeability_spread(const LaminateOptions& laminate, double otherwise) {
  double spread = 0;
  for (const Ply* p : laminate::all_plies(laminate)) spread = std::max(spread, p->reinforcement.permeability.spread);
  return spread > 0 ? spread : otherwise;
}

Draws::Draws(const Sheet& sheet, const GapMap& map, const ScatterModel& scatter, unsigned seed)
    : sheet_(sheet),
      map_(map),
      scatter_(scatter),
      seed_(seed),
      near_(std::make_shared<const std::vector<std::vector<int>>>(neighbours(sheet.mesh))),
      modes_(std::make_shared<const flow::FieldModes>(sheet, scatter.length)),
      motion_(root_of(map.registration)) {}

Draws Draws::with(const ScatterModel& scatter) const {
  Draws out = *this;
  if (scatter.length != scatter_.length) out.modes_ = std::make_shared<const flow::FieldModes>(sheet_, scatter.length);
  out.scatter_ = scatter;
  return out;
}

Draw Draws::operator()(unsigned number) const {
  std::seed_seq seed{seed_, number};
  Random random(seed);
  Normal normal;
  // The glass first: it is the first axes that are covered best, and most of what scatters is glass.
  auto even = flow::even_normals(seed_, number, modes_->count() + kOfGap);
  const Vector6 moved = motion_ * Eigen::Map<const Vector6>(even.data() + modes_->count());
  const double warm = even.back(), offset = even.end()[-2];
  even.resize(static_cast<std::size_t>(modes_->count()));
  const auto fits = short_field(*near_, random);
  Draw out{std::vector<double>(sheet_.size(), 0), smooth_field(sheet_.mesh.points, scatter_.length, random)};
  modes_->set(out.permeability, even);
  // Drawn last, so that a map without shapes has the same draws beside them.
  Eigen::VectorXd shapes(map_.shapes.cols());
  for (double& s : shapes) s = normal(random);
  for (std::size_t i = 0; i < sheet_.size(); ++i) {
    const double spread = scatter_.spread_at.empty() ? scatter_.spread : scatter_.spread_at[i];
    out.permeability[i] = std::exp(spread * out.permeability[i]);
    const NodeGap& m = map_.nodes[i];
    if (!m.measured) continue;
    out.gap[i] = m.direction.dot(moved.head<3>() + Vec3(moved.tail<3>()).cross(m.mid - map_.pivot)) +
                 map_.common_instrument(i) * offset + m.u_temperature * warm +
                 std::hypot(m.u_lower, m.u_upper) * fits[i];
    if (shapes.size() > 0) out.gap[i] += map_.shapes.row(Eigen::Index(i)).dot(shapes);
  }
  if (scatter_.weight > 0) {  // last, so that the rest is drawn as without it
    out.weight = smooth_field(sheet_.mesh.points, scatter_.length, random);
    for (double& w : out.weight) w = std::exp(scatter_.weight * w);
  }
  if (const AssumedGap& a = map_.assumed; !a.u.empty()) {  // the same
    const auto off = smooth_field(sheet_.mesh.points, a.length, random);
    for (std::size_t i = 0; i < sheet_.size(); ++i) out.gap[i] += a.u[i] * off[i];
  }
  return out;
}

bool Draws::alike(const Sheet& sheet, const GapMap& map, unsigned seed) const {
  return &sheet_ == &sheet && &map_ == &map && seed_ == seed;
}

bool Draws::same_as(const Draws& o) const { return alike(o.sheet_, o.map_, o.seed_) && scatter_ == o.scatter_; }

KeptDraws::KeptDraws(Draws draws, int count, std::shared_ptr<const CoarseSheet> filled)
    : draws_(std::move(draws)), filled_(std::move(filled)) {
  const std::size_t each = draws_.bytes();
  kept_.resize(std::min<std::size_t>(std::max(0, count), kKeptBytes / std::max<std::size_t>(1, each)));
  parallel_for(
      kept_.size(), [&](std::size_t k) { kept_[k] = draws_(static_cast<unsigned>(k)); }, 1);
}

bool KeptDraws::has(int number, const Draws& of) const {
  return number >= 0 && static_cast<std::size_t>(number) < kept_.size() && draws_.same_as(of);
}

void flow::scatter_reinforcement(LaminateMap& state, const std::vector<double>& factor) {
  for (std::size_t i = 0; i < state.nodes.size(); ++i) {
    NodeLaminate& n = state.nodes[i];
    const double channel = std::pow(n.channel, 3) / 12, both = channel + n.beside;
    n.conductance = both + std::max(0.0, n.conductance - both) * factor[i];
    n.conductance2 = channel + std::max(0.0, n.conductance2 - channel) * factor[i];
  }
}

}  // namespace gapfront
