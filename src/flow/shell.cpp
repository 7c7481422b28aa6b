#include "flow/shell.hpp"

#include <Eigen/Dense>
#include <Eigen/SparseCholesky>

#include "gapfront/error.hpp"

namespace gapfront::flow {
namespace {

using Matrix18 = Eigen::Matrix<double, 18, 18>;
using Matrix3x9 = Eigen::Matrix<double, 3, 9>;
using Matrix2x9 = Eigen::Matrix<double, 2, 9>;
using Eigen::Matrix3d;
using Eigen::Vector2d;

// Turning about the facet's normal costs nothing in theory; a share of the stretching stiffness joins the corners'
// turns to each other (Zienkiewicz & Taylor's remedy), small enough not to stiffen a bent shell, and a millionth of
// that to the ground, so that a flat sheet has one answer.
constexpr double kDrilling = 1e-3;

// Of a solve by iteration: residual as a share of the force, far below what Newton's method around it asks for; and
// iterations, each of about a thirtieth of what new factors cost at 20,000 nodes.
constexpr double kShellSettled = 1e-7;
constexpr int kMaxGradients = 25;

Matrix3d material(double nu) {
  Matrix3d d;
  d << 1, nu, 0, nu, 1, 0, 0, 0, 0.5 * (1 - nu);
  return d;
}

/// Corners in the facet's own plane, and the gradients of the corners' linear shapes.
struct Facet {
  std::array<Vector2d, 3> x, gradient;
  double area = 0;
  Matrix3d axes;  // rows: two axes in the plane, normal
};
Facet facet(const Vec3& a, const Vec3& b, const Vec3& c) {
  Facet f;
  const Vec3 cross = (b - a).cross(c - a);
  f.area = 0.5 * cross.norm();
  if (!(f.area > 0)) return f;
  const Vec3 e3 = cross.normalized(), e1 = (b - a).normalized(), e2 = e3.cross(e1);
  f.axes << e1.transpose(), e2.transpose(), e3.transpose();
  f.x = {Vector2d(0, 0), Vector2d((b - a).dot(e1), 0), Vector2d((c - a).dot(e1), (c - a).dot(e2))};
  for (int k = 0; k < 3; ++k) {
    const Vector2d side = f.x[(k + 2) % 3] - f.x[(k + 1) % 3];
    f.gradient[k] = Vector2d(-side.y(), side.x()) / (2 * f.area);
  }
  return f;
}

// The slopes (βx, βy) = (θy, −θx) of the normal at the corners and the middles of the sides, from (w, θx, θy) of the
// corners. Along a side w is the cubic of its ends, and the normal stays at right angles to it; across, β is linear.
std::array<Matrix2x9, 6> slopes(const Facet& f) {
  std::array<Matrix2x9, 6> beta;
  for (auto& b : beta) b.setZero();
  for (int k = 0; k < 3; ++k) beta[k](0, 3 * k + 2) = 1, beta[k](1, 3 * k + 1) = -1;
  for (int k = 0; k < 3; ++k) {
    const int i = k, j = (k + 1) % 3;
    const Vector2d side = f.x[j] - f.x[i], t = side.normalized(), n(-t.y(), t.x());
    Eigen::Matrix<double, 1, 9> along = -0.25 * t.transpose() * (beta[i] + beta[j]);
    along(3 * i) += 1.5 / side.norm();
    along(3 * j) -= 1.5 / side.norm();
    const Eigen::Matrix<double, 1, 9> across = 0.5 * n.transpose() * (beta[i] + beta[j]);
    beta[3 + k] = t * along + n * across;
  }
  return beta;
}

// Curvatures of the bent facet at the place with barycentric coordinates l: gradients of the six quadratic shapes.
Matrix3x9 curvature(const Facet& f, const std::array<Matrix2x9, 6>& beta, const std::array<double, 3>& l) {
  Matrix3x9 b = Matrix3x9::Zero();
  const auto add = [&](const Vector2d& g, const Matrix2x9& m) {
    b.row(0) += g.x() * m.row(0);
    b.row(1) += g.y() * m.row(1);
    b.row(2) += g.y() * m.row(0) + g.x() * m.row(1);
  };
  for (int k = 0; k < 3; ++k) {
    const int j = (k + 1) % 3;
    add((4 * l[k] - 1) * f.gradient[k], beta[k]);
    add(4 * (l[j] * f.gradient[k] + l[k] * f.gradient[j]), beta[3 + k]);
  }
  return b;
}

Matrix18 element(const Facet& f, const ShellSection& s) {
  Matrix18 k = Matrix18::Zero();
  const Matrix3d d = material(s.poisson);
  Eigen::Matrix<double, 9, 9> bend = Eigen::Matrix<double, 9, 9>::Zero();
  const auto beta = slopes(f);
  // The curvature is linear over the facet: the middles of the sides integrate its square exactly.
  for (const auto& l : {std::array{0.5, 0.5, 0.0}, std::array{0.0, 0.5, 0.5}, std::array{0.5, 0.0, 0.5}}) {
    const Matrix3x9 b = curvature(f, beta, l);
    bend += f.area / 3 * s.plate * b.transpose() * d * b;
  }
  Eigen::Matrix<double, 3, 6> b = Eigen::Matrix<double, 3, 6>::Zero();
  for (int i = 0; i < 3; ++i) {
    const Vector2d& g = f.gradient[i];
    b(0, 2 * i) = b(2, 2 * i + 1) = g.x();
    b(1, 2 * i + 1) = b(2, 2 * i) = g.y();
  }
  const Eigen::Matrix<double, 6, 6> stretch = f.area * s.membrane * b.transpose() * d * b;
  const double turn = kDrilling * f.area * s.membrane;
  for (int i = 0; i < 3; ++i)
    for (int j = 0; j < 3; ++j) {
      k.block<2, 2>(6 * i, 6 * j) += stretch.block<2, 2>(2 * i, 2 * j);
      k.block<3, 3>(6 * i + 2, 6 * j + 2) += bend.block<3, 3>(3 * i, 3 * j);
      k(6 * i + 5, 6 * j + 5) += turn * (i == j ? 1 + 1e-6 : -0.5);
    }
  Matrix18 turned = Matrix18::Zero();
  for (int i = 0; i < 6; ++i)
    for (int j = 0; j < 6; ++j)
      turned.block<3, 3>(3 * i, 3 * j) = f.axes.transpose() * k.block<3, 3>(3 * i, 3 * j) * f.axes;
  return turned;
}

}  // namespace

struct Shell::Factor {
  Eigen::SimplicialLDLT<Eigen::SparseMatrix<double>> ldlt;
  bool analysed = false, there = false;

  /// By conjugate gradients, with the factors of an earlier system: between two solves only the springs differ. False
  /// if that takes too long; then factors of its own are cheaper.
  bool iterate(const Eigen::SparseMatrix<double>& k, const Eigen::VectorXd& force, Eigen::VectorXd& u) const {
    u = ldlt.solve(force);
    Eigen::VectorXd r = force - k * u, z = ldlt.solve(r), d = z;
    double rz = r.dot(z);
    const double enough = kShellSettled * force.norm();
    for (int i = 0; i < kMaxGradients && r.norm() > enough; ++i) {
      const Eigen::VectorXd q = k * d;
      const double step = rz / d.dot(q);
      u += step * d, r -= step * q;
      z = ldlt.solve(r);
      const double next = r.dot(z);
      d = z + next / rz * d, rz = next;
    }
    return r.norm() <= enough;
  }
};

Shell::~Shell() = default;

Shell::Shell(const Mesh& mesh, const std::vector<ShellSection>& section, const std::vector<char>& held, bool clamped)
    : factor_(std::make_unique<Factor>()) {
  const std::size_t n = mesh.points.size();
  normals_.assign(n, Vec3::Zero());
  std::vector<Facet> facets;
  for (const auto& t : mesh.triangles) {
    facets.push_back(facet(mesh.points[t[0]], mesh.points[t[1]], mesh.points[t[2]]));
    if (const auto& f = facets.back(); f.area > 0)
      for (int i : t) normals_[i] += f.area / 3 * f.axes.row(2).transpose();
  }
  areas_.resize(n);
  dof_.resize(n);
  int count = 0;
  for (std::size_t i = 0; i < n; ++i) {
    areas_[i] = normals_[i].norm();
    if (areas_[i] > 0) normals_[i] /= areas_[i];
    for (int d = 0; d < 6; ++d) dof_[i][d] = !(areas_[i] > 0) || (held[i] && (d < 3 || clamped)) ? -1 : count++;
  }
  std::vector<Eigen::Triplet<double>> entries;
  entries.reserve(mesh.triangles.size() * 324);
  for (std::size_t e = 0; e < facets.size(); ++e) {
    if (!(facets[e].area > 0)) continue;
    const Matrix18 k = element(facets[e], section[e]);
    for (int i = 0; i < 18; ++i)
      for (int j = 0; j < 18; ++j) {
        const int row = dof_[mesh.triangles[e][i / 6]][i % 6], col = dof_[mesh.triangles[e][j / 6]][j % 6];
        if (row >= 0 && col >= 0) entries.emplace_back(row, col, k(i, j));
      }
  }
  stiffness_.resize(count, count);
  stiffness_.setFromTriplets(entries.begin(), entries.end());
}

std::vector<double> Shell::solve(const std::vector<double>& pressure, const std::vector<double>& spring) {
  Eigen::SparseMatrix<double> k = stiffness_;
  Eigen::VectorXd force = Eigen::VectorXd::Zero(k.rows());
  for (std::size_t i = 0; i < areas_.size(); ++i)
    for (int a = 0; a < 3; ++a) {
      const int row = dof_[i][a];
      if (row < 0) continue;
      force[row] += pressure[i] * areas_[i] * normals_[i][a];
      for (int b = 0; b < 3; ++b)
        k.coeffRef(row, dof_[i][b]) += spring[i] * areas_[i] * normals_[i][a] * normals_[i][b];
    }
  auto& ldlt = factor_->ldlt;
  Eigen::VectorXd u;
  if (!factor_->there || !factor_->iterate(k, force, u)) {
    if (!factor_->analysed) ldlt.analyzePattern(k), factor_->analysed = true;
    ldlt.factorize(k);
    u = ldlt.solve(force);
    factor_->there = ldlt.info() == Eigen::Success;
  }
  if (!factor_->there || !u.allFinite())
    throw Error(Fault::input, "breathing: nothing holds a part of the upper half; give it a [[closing.support]]");
  std::vector<double> move(areas_.size(), 0);
  for (std::size_t i = 0; i < areas_.size(); ++i)
    for (int a = 0; a < 3; ++a)
      if (dof_[i][a] >= 0) move[i] += u[dof_[i][a]] * normals_[i][a];
  return move;
}

}  // namespace gapfront::flow
