#include "report/picture.hpp"

#include <png.h>

#include <algorithm>
#include <array>
#include <cmath>
#include <cstdio>
#include <limits>
#include <map>

#include "core/base64.hpp"
#include "gapfront/error.hpp"

namespace gapfront::report {
namespace {

View fit_view(const Mesh& mesh, const Vec3& right, const Vec3& up, int width, int max_height,
              const std::vector<Vec3>& also = {}) {
  View v;
  v.right = right.normalized();
  v.up = up.normalized();
  v.toward = v.right.cross(v.up);
  double lo_x = 1e300, hi_x = -1e300, lo_y = 1e300, hi_y = -1e300;
  for (const auto* points : {&mesh.points, &also})
    for (const auto& p : *points) {
      lo_x = std::min(lo_x, p.dot(v.right)), hi_x = std::max(hi_x, p.dot(v.right));
      lo_y = std::min(lo_y, p.dot(v.up)), hi_y = std::max(hi_y, p.dot(v.up));
    }
  const double margin = also.empty() ? 8 : 26;  // pixels, so that outlines on the rim and marks are not cut
  v.px_per_mm = std::min((width - 2 * margin) / std::max(hi_x - lo_x, 1e-9),
                         (max_height - 2 * margin) / std::max(hi_y - lo_y, 1e-9));
  v.width = static_cast<int>(std::ceil((hi_x - lo_x) * v.px_per_mm + 2 * margin));
  v.height = static_cast<int>(std::ceil((hi_y - lo_y) * v.px_per_mm + 2 * margin));
  v.x0 = lo_x - margin / v.px_per_mm;
  v.y0 = hi_y + margin / v.px_per_mm;
  return v;
}

// Class by pattern as well as by colour, so that a black-and-white print still tells them apart.
Rgb class_colour(Conformity c, int x, int y) {
  const Rgb ink{40, 40, 40};
  switch (c) {
    case Conformity::conforming:
      return {205, 222, 232};
    case Conformity::undecided:
      return (x + y) % 10 < 2 ? Rgb{140, 110, 40} : Rgb{246, 232, 185};
    case Conformity::nonconforming:
      return (x + y) % 8 < 2 || (x - y + 4000) % 8 < 2 ? ink : Rgb{224, 130, 20};
    case Conformity::not_judged:
    case Conformity::not_measured:
      return x % 6 < 2 && y % 6 < 2 ? Rgb{110, 110, 110} : Rgb{240, 240, 240};
  }
  return ink;
}

}  // namespace

// The colours of the page's own scales: what is in order is light, what resin never reached is dark.
Rgb air_colour(AirClass c, int x, int y) {
  const Rgb dark = colour(Scale::diverging, 0.02);
  switch (c) {
    case AirClass::sound:
      return {205, 222, 232};
    case AirClass::in_bundles:  // fine dots
      return x % 5 < 2 && (y + (x / 5 % 2) * 2) % 5 < 2 ? dark : colour(Scale::sequence, 0.98);
    case AirClass::between_bundles: {  // rings
      const int u = x % 12 - 6, v = (y + (x / 12 % 2) * 6) % 12 - 6, square = u * u + v * v;
      return square >= 6 && square <= 16 ? dark : colour(Scale::diverging, 0.7);
    }
    case AirClass::dry_below:  // stripes
      return (x + y) % 10 < 3 ? dark : colour(Scale::amount, 0.95);
    case AirClass::dry:  // crosses
      return (x + y) % 8 < 2 || (x - y + 4000) % 8 < 2 ? Rgb{240, 240, 240} : dark;
  }
  return dark;
}

View plan_view(const Mesh& mesh, int width, int max_height, const std::vector<Vec3>& also) {
  return fit_view(mesh, Vec3::UnitX(), Vec3::UnitY(), width, max_height, also);
}

View corner_view(const Mesh& mesh, int width, int max_height, const std::vector<double>& values) {
  Vec3 toward = Vec3::Zero();
  double most = -1;
  for (const auto& corner :
       {Vec3(-0.45, -0.75, 0.75), Vec3(0.45, -0.75, 0.75), Vec3(0.45, 0.75, 0.75), Vec3(-0.45, 0.75, 0.75)}) {
    double seen = 0;
    for (const auto& t : mesh.triangles) {
      const Vec3& a = mesh.points[t[0]];
      const double facing = (mesh.points[t[1]] - a).cross(mesh.points[t[2]] - a).dot(corner.normalized());
      const double v = (values[t[0]] + values[t[1]] + values[t[2]]) / 3;
      if (facing > 0 && std::isfinite(v)) seen += facing * v * v;
    }
    if (seen > most) most = seen, toward = corner.normalized();
  }
  const Vec3 right = Vec3::UnitZ().cross(toward).normalized();
  return fit_view(mesh, right, toward.cross(right), width, max_height);
}

// Steps of a colour scale: finer than the 64 of the bar beside the map, and few enough for a palette of 256.
constexpr int kShades = 128;

std::vector<Seen> seen_pixels(const Mesh& mesh, const View& view) {
  std::vector<Seen> out(1ull * view.width * view.height);
  std::vector<double> depth(out.size(), -std::numeric_limits<double>::infinity());
  for (std::size_t k = 0; k < mesh.triangles.size(); ++k) {
    const auto& t = mesh.triangles[k];
    const Vec3 &a = mesh.points[t[0]], &b = mesh.points[t[1]], &c = mesh.points[t[2]];
    const double ax = view.x(a), ay = view.y(a), bx = view.x(b), by = view.y(b), cx = view.x(c), cy = view.y(c);
    const double area = (bx - ax) * (cy - ay) - (cx - ax) * (by - ay);
    if (std::abs(area) < 1e-12) continue;
    const int x_lo = std::max(0, static_cast<int>(std::floor(std::min({ax, bx, cx}) - 0.5)));
    const int x_hi = std::min(view.width - 1, static_cast<int>(std::ceil(std::max({ax, bx, cx}))));
    const int y_lo = std::max(0, static_cast<int>(std::floor(std::min({ay, by, cy}) - 0.5)));
    const int y_hi = std::min(view.height - 1, static_cast<int>(std::ceil(std::max({ay, by, cy}))));
    const double za = a.dot(view.toward), zb = b.dot(view.toward), zc = c.dot(view.toward);
    for (int y = y_lo; y <= y_hi; ++y)
      for (int x = x_lo; x <= x_hi; ++x) {
        const double px = x + 0.5, py = y + 0.5;
        const double wa = ((bx - px) * (cy - py) - (cx - px) * (by - py)) / area;
        const double wb = ((cx - px) * (ay - py) - (ax - px) * (cy - py)) / area;
        const double wc = 1 - wa - wb;
        const double tiny = -1e-9;  // so that pixels on a shared edge belong to one side at least
        if (wa < tiny || wb < tiny || wc < tiny) continue;
        const double z = wa * za + wb * zb + wc * zc;
        const std::size_t at = 1ull * y * view.width + x;
        if (z <= depth[at]) continue;
        depth[at] = z, out[at] = {static_cast<int>(k), wa, wb, wc};
      }
  }
  return out;
}

std::vector<std::uint8_t> rasterise(const Mesh& mesh, const View& view, const Paint& paint) {
  std::vector<std::uint8_t> rgba(4ull * view.width * view.height, 0);
  const std::vector<Seen> seen = seen_pixels(mesh, view);
  const Vec3 light = (view.toward + 0.4 * view.up - 0.5 * view.right).normalized();
  const double span = paint.high > paint.low ? paint.high - paint.low : 1;
  std::array<Rgb, kShades + 1> scale;  // a colour takes powers and sines: too many to do again for each pixel
  for (int i = 0; i <= kShades; ++i) scale[i] = colour(paint.scale, double(i) / kShades);
  for (std::size_t at = 0; at < seen.size(); ++at) {
    const Seen& s = seen[at];
    if (s.triangle < 0) continue;
    const auto& t = mesh.triangles[s.triangle];
    const int x = static_cast<int>(at % view.width), y = static_cast<int>(at / view.width);
    Rgb ink;
    if (paint.air) {
      ink = air_colour((*paint.air)[s.nearest(t)], x, y);
    } else if (paint.classes) {
      ink = class_colour((*paint.classes)[s.nearest(t)], x, y);
    } else {
      const auto& v = *paint.values;
      double value = s.a * v[t[0]] + s.b * v[t[1]] + s.c * v[t[2]];
      if (!std::isfinite(value)) value = v[s.nearest(t)];
      const double step = std::round(kShades * (value - paint.low) / span);
      ink = !std::isfinite(value)
                ? class_colour(Conformity::not_measured, x, y)
                : scale[std::isfinite(step) ? static_cast<int>(std::clamp<double>(step, 0, kShades)) : 0];
    }
    double shade = 1;
    if (paint.shaded) {
      const Vec3& a = mesh.points[t[0]];
      const Vec3 normal = (mesh.points[t[1]] - a).cross(mesh.points[t[2]] - a).normalized();
      shade = 0.62 + 0.38 * std::abs(normal.dot(light));
    }
    rgba[4 * at] = static_cast<std::uint8_t>(ink.r * shade);
    rgba[4 * at + 1] = static_cast<std::uint8_t>(ink.g * shade);
    rgba[4 * at + 2] = static_cast<std::uint8_t>(ink.b * shade);
    rgba[4 * at + 3] = 255;
  }
  return rgba;
}

std::string png_data_uri(const std::vector<std::uint8_t>& rgba, int width, int height) {
  // With 256 colours at most a byte a pixel does, and the file is half as large.
  std::map<std::array<std::uint8_t, 4>, std::uint8_t> palette;
  std::vector<std::uint8_t> colours, indices(rgba.size() / 4);
  bool few = true;
  for (std::size_t i = 0; few && i < indices.size(); ++i) {
    if (i > 0 && std::equal(&rgba[4 * i], &rgba[4 * i] + 4, &rgba[4 * i - 4])) {  // most are like the one beside them
      indices[i] = indices[i - 1];
      continue;
    }
    const std::array<std::uint8_t, 4> c{rgba[4 * i], rgba[4 * i + 1], rgba[4 * i + 2], rgba[4 * i + 3]};
    const auto [at, is_new] = palette.try_emplace(c, static_cast<std::uint8_t>(palette.size()));
    few = palette.size() <= 256;
    if (is_new && few) colours.insert(colours.end(), c.begin(), c.end());
    indices[i] = at->second;
  }
  png_image image{};
  image.version = PNG_IMAGE_VERSION;
  image.width = width;
  image.height = height;
  image.format = few ? PNG_FORMAT_RGBA_COLORMAP : PNG_FORMAT_RGBA;
  image.colormap_entries = few ? static_cast<png_uint_32>(palette.size()) : 0;
  const void* pixels = few ? indices.data() : rgba.data();
  // Room for the largest file that it can be: libpng asked for its size first would compress it twice.
  png_alloc_size_t bytes = PNG_IMAGE_PNG_SIZE_MAX(image);
  std::string png(bytes, '\0');
  if (!png_image_write_to_memory(&image, png.data(), &bytes, 0, pixels, 0, colours.data()))
    throw Error(Fault::measurement, std::string("the report's picture could not be encoded: ") + image.message);
  return "data:image/png;base64," + base64(png.data(), bytes);
}

std::string level_line(const Mesh& mesh, const View& view, const std::vector<double>& values, double level) {
  std::string path;
  char text[64];
  for (const auto& t : mesh.triangles) {
    double x[3], y[3];
    int n = 0;
    for (int e = 0; e < 3; ++e) {
      const int i = t[e], j = t[(e + 1) % 3];
      const double a = values[i], b = values[j];
      if (!std::isfinite(a) || !std::isfinite(b) || (a < level) == (b < level)) continue;
      const double f = (level - a) / (b - a);
      const Vec3 p = mesh.points[i] + f * (mesh.points[j] - mesh.points[i]);
      x[n] = view.x(p), y[n] = view.y(p), ++n;
    }
    if (n != 2) continue;
    std::snprintf(text, sizeof text, "M%.1f %.1fL%.1f %.1f", x[0], y[0], x[1], y[1]);
    path += text;
  }
  return path;
}

}  // namespace gapfront::report
