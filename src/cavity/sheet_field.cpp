#include "cavity/sheet_field.hpp"
#include <Eigen/Geometry>
#include <Eigen/SparseCholesky>
#include <algorithm>
#include <cmath>
#include "gapfront/error.hpp"

namespace gapfront::cavity {
namespace {

using Factor = Eigen::SimplicialLDLT<Eigen::SparseMatrix<double>, Eigen::Lower>;

void compute(Factor& f, const Eigen::SparseMatrix<double>& m) {
  f.compute(m);
  if (f.info() != Eigen::Success)
    throw Error(Fault::measurement, "readings: the sheet has triangles without area; give another cavity.edge");
}

/// By the factor L D Lᵀ, in its own order: Z = D⁻¹ L⁻¹ + (1 − Lᵀ) Z, from the last column to the first.
Eigen::VectorXd inverse_diagonal(const Factor& f) {
  const Eigen::SparseMatrix<double> l = f.matrixL();
  const auto& d = f.vectorD();
  const Eigen::Index n = l.cols();
  std::vector<double> inverse(l.nonZeros(), 0.0);  // below the diagonal, where l has entries
  Eigen::VectorXd diagonal(n), sum = Eigen::VectorXd::Zero(n);
  std::vector<char> wanted(n, 0);
  const auto* outer = l.outerIndexPtr();
  const auto* row = l.innerIndexPtr();
  for (Eigen::Index j = n - 1; j >= 0; --j) {
    const auto first = outer[j], last = outer[j + 1];
    for (auto a = first; a < last; ++a)
      if (row[a] > j) wanted[row[a]] = 1;
    for (auto a = first; a < last; ++a) {
      const auto k = row[a];
      if (k <= j) continue;
      const double l_kj = l.valuePtr()[a];
      sum[k] += l_kj * diagonal[k];
      for (auto b = outer[k]; b < outer[k + 1]; ++b)
        if (row[b] > k && wanted[row[b]]) sum[row[b]] += l_kj * inverse[b];
    }
    // The other half of the symmetric block: entries (k, i) with i > k, for row k.
    for (auto a = first; a < last; ++a) {
      const auto k = row[a];
      if (k <= j) continue;
      for (auto b = outer[k]; b < outer[k + 1]; ++b) {
        const auto i = row[b];
        if (i <= k || !wanted[i]) continue;
        const auto at = std::lower_bound(row + first, row + last, i) - row;
        sum[k] += l.valuePtr()[at] * inverse[b];
      }
    }
    double own = 1 / d[j];
    for (auto a = first; a < last; ++a) {
      const auto k = row[a];
      if (k <= j) continue;
      inverse[a] = -sum[k];
      own -= l.valuePtr()[a] * inverse[a];
      sum[k] = 0, wanted[k] = 0;
    }
    diagonal[j] = own;
  }
  return f.permutationPinv() * diagonal;
}

}  // namespace

Elements elements_of(const Mesh& mesh) {
  const auto n = static_cast<Eigen::Index>(mesh.points.size());
  Elements out{Eigen::VectorXd::Zero(n), Eigen::SparseMatrix<double>(n, n)};
  std::vector<Eigen::Triplet<double>> entries;
  for (const auto& t : mesh.triangles)
    for (int k = 0; k < 3; ++k) {
      const int a = t[k], b = t[(k + 1) % 3], c = t[(k + 2) % 3];
      const Vec3 u = mesh.points[a] - mesh.points[c], v = mesh.points[b] - mesh.points[c];
      const double twice = u.cross(v).norm();  // the triangle's area
      out.mass[c] += twice / 6;
      const double w = 0.5 * u.dot(v) / twice;  // half the cotangent, of the edge opposite
      entries.insert(entries.end(), {{a, b, -w}, {b, a, -w}, {a, a, w}, {b, b, w}});
    }
  out.stiffness.setFromTriplets(entries.begin(), entries.end());
  return out;
}

Eigen::VectorXd diagonal_of_inverse(const Eigen::SparseMatrix<double>& m) {
  Factor f;
  compute(f, m);
  return inverse_diagonal(f);
}

Eigen::MatrixXd field_correlations(const Elements& e, const Eigen::SparseMatrix<double, Eigen::RowMajor>& places,
                                   double length) {
  const double kappa2 = 8 / (length * length);  // length = √(8ν)/κ, ν = 1
  Eigen::SparseMatrix<double> step = e.stiffness;
  for (Eigen::Index i = 0; i < e.mass.size(); ++i) step.coeffRef(i, i) += kappa2 * e.mass[i];
  // Precision (κ²C + G) C⁻¹ (κ²C + G).
  const Eigen::SparseMatrix<double> precision = step.transpose() * e.mass.cwiseInverse().asDiagonal() * step;
  Factor f;
  compute(f, precision);
  const Eigen::VectorXd scale = inverse_diagonal(f).cwiseSqrt().cwiseInverse();
  Eigen::MatrixXd out = Eigen::MatrixXd(places.transpose());
  out = scale.asDiagonal() * out;
  out = f.solve(out).eval();
  return scale.asDiagonal() * out;
}

}  // namespace gapfront::cavity
