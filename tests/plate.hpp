// A plate of two triangles a cell, laid out by rows.
#pragma once
#include "gapfront/geometry.hpp"

namespace support {

/// nx by ny cells; `place(i, j)` says where its corners are, i from 0 to nx, j from 0 to ny.
template <class Place>
gapfront::Mesh plate_of(int nx, int ny, Place place) {
  gapfront::Mesh m;
  for (int i = 0; i <= nx; ++i)
    for (int j = 0; j <= ny; ++j) m.points.push_back(place(i, j));
  for (int i = 0; i < nx; ++i)
    for (int j = 0; j < ny; ++j) {
      const int k = i * (ny + 1) + j;
      m.triangles.push_back({k, k + ny + 1, k + ny + 2}), m.triangles.push_back({k, k + ny + 2, k + 1});
    }
  return m;
}

}  // namespace support
