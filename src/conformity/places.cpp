#include "conformity/places.hpp"

#include <algorithm>
#include <cmath>
#include <numeric>
#include <random>

#include "core/area_mean.hpp"
#include "core/cell_grid.hpp"
#include "core/distributions.hpp"
#include "core/linear.hpp"
#include "core/parallel.hpp"
#include "gapfront/error.hpp"

namespace gapfront::conformity {
namespace {

// Nodes of one disc lie on one wall: normals within 72° (as the gap's fits).
constexpr double kSameFace = 0.3;
// Draws of the error over the whole sheet. The factor at 2.5 % then varies by some 2 % from seed to seed.
constexpr int kDraws = 1000;
// The stated risk of a false statement about the tool, either way (ISO 14253-1: 95 % conformance probability, from
// memory). Outside is said for two reasons, a disc and a narrow strip; each takes half of it.
constexpr double kRisk = 0.05;

/// An uncertainty that is no number would be taken for none by every comparison, and prove all that lies within.
void refuse_no_numbers(const GapMap& gap) {
  const bool none = std::any_of(gap.nodes.begin(), gap.nodes.end(), [](const NodeGap& g) {
    return g.measured && std::isnan(g.u_lower + g.u_upper + g.u_instrument + g.u_registration + g.u_temperature + g.U);
  });
  if (none || gap.registration.hasNaN())
    throw Error(
        Fault::input,
        "conformity: an uncertainty of the gap is no number; measure the gap with uncertainties that are numbers");
}

/// The discs, one row after the other. They are looked for twice, to be counted and to be kept: rows of their own would
/// take twice the memory for as long as both are there.
void fill_discs(const Sheet& sheet, const GapMap& gap, const std::vector<NodeLimits>& limits, double across,
                Places& out) {
  const std::size_t n = sheet.size();
  const double reach = std::max(across / 2, 1e-6);  // a disc without extent holds its own node
  const cells::Grid grid(sheet.mesh.points, std::max(reach, 1.0));
  const auto visit = [&](std::size_t i, const auto& take) {
    if (!gap.nodes[i].measured) return;
    thread_local std::vector<std::uint32_t> around;
    grid.around(sheet.mesh.points[i], around);
    for (const std::uint32_t j : around)
      if (gap.nodes[j].measured && limits[j].zone == limits[i].zone &&
          (sheet.mesh.points[j] - sheet.mesh.points[i]).norm() <= reach &&
          sheet.normals[i].dot(sheet.normals[j]) > kSameFace)
        take(static_cast<int>(j));
  };
  out.start.assign(n + 1, 0), out.area.assign(n, 0), out.factor.assign(n, 0);
  parallel_for(n, [&](std::size_t i) {
    out.area[i] = gap.judged_area(sheet, i);
    visit(i, [&](int) { ++out.start[i + 1]; });
  });
  std::partial_sum(out.start.begin(), out.start.end(), out.start.begin());
  out.node.resize(out.start.back());
  parallel_for(n, [&](std::size_t i) {
    const auto first = out.node.begin() + static_cast<std::ptrdiff_t>(out.start[i]);
    auto last = first;
    visit(i, [&](int j) { *last++ = j; });
    std::sort(first, last);
    double area = 0;
    for (auto j = first; j != last; ++j) area += out.area[static_cast<std::size_t>(*j)];
    if (area > 0) out.factor[i] = 1 / area;
  });
}

/// What one standard deviation of each error that is common to the sheet does to a gap, mm: registration (six),
/// instrument, temperature, what U holds beyond these (a shift that was taken out), and the map's shapes.
using Common = Eigen::VectorXd;
constexpr Eigen::Index kNamed = 9;

std::vector<Common> common_errors(const Sheet& sheet, const GapMap& gap) {
  const Matrix6 root = root_of(gap.registration);
  const bool given = !gap.registration.isZero();
  std::vector<Common> out(sheet.size(), Common::Zero(kNamed + gap.shapes.cols()));
  for (std::size_t i = 0; i < sheet.size(); ++i) {
    const NodeGap& g = gap.nodes[i];
    if (!g.measured) continue;
    // Without a covariance the declared registration u counts as one common error.
    if (given)
      out[i].head<6>() = root.transpose() * registration_row(sheet, gap, static_cast<int>(i));
    else
      out[i](0) = g.u_registration;
    out[i](6) = gap.common_instrument(i), out[i](7) = g.u_temperature;
    if (gap.shapes.cols() > 0)
      out[i].tail(gap.shapes.cols()) = gap.shapes.row(static_cast<Eigen::Index>(i)).transpose();
    const double u = g.U / gap.coverage, named = std::hypot(g.u_lower, g.u_upper, out[i].norm());
    out[i](8) = std::sqrt(std::max(0.0, u * u - named * named));
  }
  return out;
}

/// Variance of the fits' part of each disc's mean, as it is and as it would be if all fits were independent, mm².
struct FitVariance {
  std::vector<double> true_one, independent;
};

FitVariance fit_variance(const Places& p, const Sheet& sheet, const GapMap& gap) {
  const std::size_t n = sheet.size();
  // Two nodes of a disc are no farther apart than it is wide; 1e-3: rounding, and discs without extent.
  SharedFits shared = shared_fits(sheet, gap, p.rule.across + 1e-3);
  std::vector<float>& twice = shared.rho;  // from here on twice the covariance of the two, mm²
  parallel_for(n, [&](std::size_t i) {
    const NodeGap& a = gap.nodes[i];
    for (std::size_t k = shared.start[i]; k < shared.start[i + 1]; ++k) {
      const NodeGap& b = gap.nodes[std::size_t(shared.node[k])];
      twice[k] = static_cast<float>(2 * shared.rho[k] * (a.u_lower * b.u_lower + a.u_upper * b.u_upper));
    }
  });
  FitVariance out{std::vector<double>(n, 0), std::vector<double>(n, 0)};
  parallel_for(n, [&](std::size_t i) {
    thread_local std::vector<double> h;
    h.resize(std::max(h.size(), n), 0);
    for (std::size_t k = p.start[i]; k < p.start[i + 1]; ++k) h[p.node[k]] = p.weight(i, k);
    for (std::size_t k = p.start[i]; k < p.start[i + 1]; ++k) {
      const NodeGap& a = gap.nodes[p.node[k]];
      const double weight = h[p.node[k]], own = weight * weight * (a.u_lower * a.u_lower + a.u_upper * a.u_upper);
      out.independent[i] += own, out.true_one[i] += own;
      double with_partners = 0;
      const std::size_t row = std::size_t(p.node[k]);
      for (std::size_t o = shared.start[row]; o < shared.start[row + 1]; ++o)
        with_partners += h[std::size_t(shared.node[o])] * double(twice[o]);
      out.true_one[i] += weight * with_partners;
    }
    for (std::size_t k = p.start[i]; k < p.start[i + 1]; ++k) h[p.node[k]] = 0;
    out.true_one[i] = std::max(0.0, out.true_one[i]);
  });
  return out;
}

/// Greatest error in standard uncertainties, over all discs and over all nodes, of each draw; in ascending order.
struct Greatest {
  std::vector<double> disc, node;
};

// Draws that are made side by side: each disc's nodes are then read once for all of them.
constexpr int kTogether = 8;
static_assert(kDraws % kTogether == 0);
using Together = Eigen::Array<double, kTogether, 1>;

/// Sum of the common errors, each times what is drawn of it.
Together common_part(const Common& of, const std::vector<Together>& shared) {
  Together sum = Together::Zero();
  for (Eigen::Index m = 0; m < of.size(); ++m) sum += of[m] * shared[static_cast<std::size_t>(m)];
  return sum;
}

/// The fits are drawn as independent from node to node and brought to the variance that they have together: the discs'
/// overlap correlates them, and what more they have in common would only make the greatest error smaller.
Greatest draw_errors(const Places& p, const std::vector<Common>& common, const std::vector<Common>& of_disc,
                     const FitVariance& fits) {
  const std::size_t n = common.size();
  Greatest out{std::vector<double>(kDraws, 0), std::vector<double>(kDraws, 0)};
  std::vector<double> scale(n, 0);
  for (std::size_t i = 0; i < n; ++i)
    if (fits.independent[i] > 0) scale[i] = std::sqrt(fits.true_one[i] / fits.independent[i]);
  parallel_for(
      kDraws / kTogether,
      [&](std::size_t first) {
        std::vector<Together> shared(common.empty() ? 0 : std::size_t(common.front().size())), local(n);
        for (int d = 0; d < kTogether; ++d) {
          std::mt19937_64 random(first * kTogether + std::size_t(d) + 1);
          std::normal_distribution<double> normal;
          for (Together& z : shared) z[d] = normal(random);
          for (std::size_t i = 0; i < n; ++i) local[i][d] = p.u_fits[i] * normal(random);
        }
        Together disc = Together::Zero(), node = Together::Zero();
        for (std::size_t i = 0; i < n; ++i)
          if (p.u_node[i] > 0) node = node.max((local[i] + common_part(common[i], shared)) / p.u_node[i]);
        std::vector<Together> by_area(n);
        for (std::size_t i = 0; i < n; ++i) by_area[i] = p.area[i] * local[i];
        for (std::size_t i = 0; i < n; ++i) {
          if (!(p.u[i] > 0)) continue;
          const bool weighs = p.factor[i] > 0;
          const auto& errors = weighs ? by_area : local;
          Together sum = Together::Zero();
          for (std::size_t k = p.start[i]; k < p.start[i + 1]; ++k) sum += errors[std::size_t(p.node[k])];
          sum *= weighs ? p.factor[i] : 1 / double(p.start[i + 1] - p.start[i]);
          disc = disc.max((scale[i] * sum + common_part(of_disc[i], shared)) / p.u[i]);
        }
        for (int d = 0; d < kTogether; ++d)
          out.disc[first * kTogether + std::size_t(d)] = disc[d],
                                       out.node[first * kTogether + std::size_t(d)] = node[d];
      },
      1);
  std::sort(out.disc.begin(), out.disc.end()), std::sort(out.node.begin(), out.node.end());
  return out;
}

double upper_quantile(const std::vector<double>& ascending, double chance) {
  return ascending[static_cast<std::size_t>(std::ceil((1 - chance) * double(ascending.size()))) - 1];
}

/// What the draws are made of beside the uncertainties.
struct Errors {
  std::vector<Common> node, disc;
  FitVariance fits;
};

Errors errors_on(const Sheet& sheet, const GapMap& gap, Places& p) {
  const std::size_t n = sheet.size();
  p.u.assign(n, 0), p.u_node.assign(n, 0), p.u_fits.assign(n, 0);
  Errors e{common_errors(sheet, gap), std::vector<Common>(n, Common::Zero(kNamed + gap.shapes.cols())),
           fit_variance(p, sheet, gap)};
  for (std::size_t i = 0; i < n; ++i) {
    const NodeGap& g = gap.nodes[i];
    if (!g.measured) continue;
    for (std::size_t k = p.start[i]; k < p.start[i + 1]; ++k) e.disc[i] += p.weight(i, k) * e.node[p.node[k]];
    p.u_fits[i] = std::hypot(g.u_lower, g.u_upper);
    p.u_node[i] = std::hypot(p.u_fits[i], e.node[i].norm());
    p.u[i] = std::sqrt(e.fits.true_one[i] + e.disc[i].squaredNorm());
  }
  return e;
}

Errors discs_on(const Sheet& sheet, const GapMap& gap, const std::vector<NodeLimits>& limits, double across,
                Places& p) {
  refuse_no_numbers(gap);
  fill_discs(sheet, gap, limits, across, p);
  p.rule.across = across;
  return errors_on(sheet, gap, p);
}

}  // namespace

void uncertainties(const Sheet& sheet, const GapMap& gap, Places& p) { errors_on(sheet, gap, p); }

Places places_on(const Sheet& sheet, const GapMap& gap, const std::vector<NodeLimits>& limits, double across) {
  Places p;
  const Errors e = discs_on(sheet, gap, limits, across, p);
  p.rule.inside = normal_limit(kRisk);
  const Greatest greatest = draw_errors(p, e.node, e.disc, e.fits);
  p.rule.outside = std::max(p.rule.inside, upper_quantile(greatest.disc, kRisk / 2));
  p.rule.outside_node = std::max(p.rule.inside, upper_quantile(greatest.node, kRisk / 2));
  p.greatest = greatest.disc;
  return p;
}

Places places_by(const Sheet& sheet, const GapMap& gap, const std::vector<NodeLimits>& limits,
                 const DecisionRule& rule) {
  Places p;
  discs_on(sheet, gap, limits, rule.across, p);
  p.rule = rule;
  return p;
}

}  // namespace gapfront::conformity
