// Errors that neighbouring points share, drawn from a Gaussian field with correlation exp(−d²/2L²).
#pragma once
#include <cmath>
#include <vector>

#include "gapfront/cavity.hpp"
#include "random.hpp"

namespace support {

/// Random Fourier features (Rahimi & Recht 2007): a sum of cosines whose wave vectors are normal with 1/L.
class SharedErrors {
 public:
  SharedErrors(double sigma, double length, Random& random) : amplitude_(sigma * std::sqrt(2.0 / kWaves)) {
    for (int k = 0; k < kWaves; ++k) {
      waves_.push_back(random.vector() / length);
      phases_.push_back(2 * M_PI * random.uniform());
    }
  }
  double at(const gapfront::Vec3& p) const {
    double sum = 0;
    for (int k = 0; k < kWaves; ++k) sum += std::cos(waves_[k].dot(p) + phases_[k]);
    return amplitude_ * sum;
  }

 private:
  static constexpr int kWaves = 120;
  double amplitude_;
  std::vector<gapfront::Vec3> waves_;
  std::vector<double> phases_;
};

/// A flat sheet of 330 mm by 224 mm with 99 nodes: few enough to sum over all pairs of them.
inline gapfront::Sheet flat_sheet() {
  gapfront::Mesh mesh;
  const int nx = 11, ny = 9;
  for (int j = 0; j < ny; ++j)
    for (int i = 0; i < nx; ++i) mesh.points.push_back(gapfront::Vec3(-165 + 33.0 * i, -112 + 28.0 * j, 0));
  for (int j = 0; j + 1 < ny; ++j)
    for (int i = 0; i + 1 < nx; ++i) {
      const int a = j * nx + i;
      mesh.triangles.push_back({a, a + 1, a + nx}), mesh.triangles.push_back({a + 1, a + nx + 1, a + nx});
    }
  return gapfront::cavity::make_sheet(std::move(mesh));
}

}  // namespace support
