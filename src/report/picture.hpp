// Pictures of the sheet, drawn by the program itself: no graphics library, the same everywhere.
#pragma once
#include <array>
#include <cstdint>
#include <string>
#include <vector>

#include "gapfront/conformity.hpp"
#include "gapfront/geometry.hpp"
#include "gapfront/residual_air.hpp"
#include "report/colour.hpp"

namespace gapfront::report {

/// Parallel projection of tool coordinates to pixels (y down).
struct View {
  Vec3 right, up, toward;  ///< orthonormal; `toward` points at the viewer
  double px_per_mm = 1, x0 = 0, y0 = 0;
  int width = 0, height = 0;
  double x(const Vec3& p) const { return (p.dot(right) - x0) * px_per_mm; }
  double y(const Vec3& p) const { return (y0 - p.dot(up)) * px_per_mm; }
};

/// Looking down on the X–Y plane; the mesh, and what else is to be seen, fit `width` × at most `max_height` pixels.
View plan_view(const Mesh&, int width, int max_height, const std::vector<Vec3>& also = {});
/// From above and that corner of four to which the mesh turns its face where the values are far from zero: on the near
/// wall of a deep mold they would be hidden.
View corner_view(const Mesh&, int width, int max_height, const std::vector<double>& values);

/// How nodes are coloured: a scalar on a scale, or a class by colour and pattern.
struct Paint {
  const std::vector<double>* values = nullptr;  ///< NaN: hatched as "not measured"
  double low = 0, high = 1;
  Scale scale = Scale::sequence;
  const std::vector<Conformity>* classes = nullptr;  ///< used when set
  const std::vector<AirClass>* air = nullptr;        ///< the same
  bool shaded = false;                               ///< darken faces turned away from the light
};

/// What a pixel shows of the mesh: the triangle nearest to the viewer (−1: none), and the weights of its corners there.
struct Seen {
  int triangle = -1;
  double a = 0, b = 0, c = 0;
  /// Of the weights, the corner that is nearest.
  int nearest(const std::array<int, 3>& corners) const { return corners[a >= b && a >= c ? 0 : b >= c ? 1 : 2]; }
};
/// One a pixel, row by row.
std::vector<Seen> seen_pixels(const Mesh&, const View&);

/// A pixel of what stays of air, by colour and pattern, as rasterise() draws it.
Rgb air_colour(AirClass, int x, int y);

/// RGBA, 4 bytes a pixel, transparent where the sheet is not.
std::vector<std::uint8_t> rasterise(const Mesh&, const View&, const Paint&);

/// "data:image/png;base64,…" (libpng).
std::string png_data_uri(const std::vector<std::uint8_t>& rgba, int width, int height);

/// Level lines of node values as SVG path data in the view's pixels.
std::string level_line(const Mesh&, const View&, const std::vector<double>& values, double level);

}  // namespace gapfront::report
