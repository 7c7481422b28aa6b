// fronts.png: both fronts side by side on one time axis, as an animated PNG (W3C, PNG third edition, acTL, fcTL, fdAT).
#include <zlib.h>

#include <algorithm>
#include <cmath>
#include <limits>

#include "gapfront/error.hpp"
#include "gapfront/report.hpp"
#include "report/fields.hpp"
#include "report/html.hpp"
#include "report/lettering.hpp"
#include "report/packer.hpp"
#include "report/picture.hpp"
#include "units/digits.hpp"

namespace gapfront::report {
namespace {

constexpr int kWide = 960, kHigh = 560, kMapTop = 112, kMapHigh = 300;
constexpr int kFilmFrames = 96, kRate = 12,
              kRest = 3;  // frames of the filling, and a second; seconds that its end stands
// The palette: from white to ink in steps that smooth the letters, then what is not filled, its hatching, and the time.
constexpr int kInk = 8, kEmpty = 9, kHatch = 10, kMark = 11, kTimes = 12, kShadesOfTime = 128;

std::string big_endian(std::uint32_t v) {
  return {static_cast<char>(v >> 24), static_cast<char>(v >> 16), static_cast<char>(v >> 8), static_cast<char>(v)};
}

std::string chunk(const std::string& kind, const std::string& data) {
  const std::string body = kind + data;
  const auto sum = ::crc32(0, reinterpret_cast<const Bytef*>(body.data()), static_cast<uInt>(body.size()));
  return big_endian(static_cast<std::uint32_t>(data.size())) + body + big_endian(static_cast<std::uint32_t>(sum));
}

/// A part of a picture.
struct Part {
  int x = 0, y = 0, width = 0, height = 0;
};

/// What differs between two frames; one pixel where nothing does, as a frame has to have one.
Part changed(const Plate& a, const Plate& b) {
  int x0 = b.width, x1 = -1, y0 = b.height, y1 = -1;
  for (int y = 0; y < b.height; ++y)
    for (int x = 0; x < b.width; ++x)
      if (const std::size_t at = static_cast<std::size_t>(y) * b.width + x; a.pixels[at] != b.pixels[at])
        x0 = std::min(x0, x), x1 = std::max(x1, x), y0 = std::min(y0, y), y1 = std::max(y1, y);
  if (x1 < 0) return {0, 0, 1, 1};
  return {x0, y0, x1 - x0 + 1, y1 - y0 + 1};
}

std::string packed(const Plate& p, const Part& part) {
  std::string rows;
  for (int y = part.y; y < part.y + part.height; ++y) {
    rows += '\0';  // no filter: there are few colours, and they are not amounts
    const auto* from = p.pixels.data() + static_cast<std::size_t>(y) * p.width + part.x;
    rows.append(reinterpret_cast<const char*>(from), part.width);
  }
  return deflated(rows, "the film could not be packed; free some memory and try again");
}

std::string palette() {
  std::string out;
  const auto add = [&](Rgb c) {
    out += static_cast<char>(c.r), out += static_cast<char>(c.g), out += static_cast<char>(c.b);
  };
  const auto grey = [](double t) { return static_cast<std::uint8_t>(std::lround(255 - t * (255 - 29))); };
  for (int k = 0; k <= kInk; ++k) add({grey(double(k) / kInk), grey(double(k) / kInk), grey(double(k) / kInk)});
  add({222, 226, 229}), add({110, 110, 110}), add({255, 255, 255});
  for (int k = 0; k <= kShadesOfTime; ++k) add(colour(Scale::sequence, double(k) / kShadesOfTime));
  return out;
}

/// One of the two fronts.
struct Side {
  std::string title;
  const Filling* filling;
  std::vector<float> arrival;  ///< of each pixel of the map, s; infinity: stays dry; NaN: no sheet there
};

std::vector<float> arrivals(const Mesh& mesh, const std::vector<Seen>& seen, const Filling& f) {
  std::vector<float> out(seen.size(), std::numeric_limits<float>::quiet_NaN());
  for (std::size_t at = 0; at < seen.size(); ++at) {
    if (seen[at].triangle < 0) continue;
    const auto& t = mesh.triangles[seen[at].triangle];
    const double v = seen[at].a * f.arrival[t[0]] + seen[at].b * f.arrival[t[1]] + seen[at].c * f.arrival[t[2]];
    out[at] = static_cast<float>(std::isfinite(v) ? v : f.arrival[seen[at].nearest(t)]);
  }
  return out;
}

/// The course of a filling at a time; beyond its end it stays.
FlowSample at_time(const std::vector<FlowSample>& course, double t) {
  const auto next = std::find_if(course.begin(), course.end(), [&](const FlowSample& s) { return s.time > t; });
  if (course.empty()) return {t, 0, 0, 0};
  if (next == course.begin() || next == course.end()) return next == course.end() ? course.back() : course.front();
  const FlowSample &a = *(next - 1), &b = *next;
  const double w = b.time > a.time ? (t - a.time) / (b.time - a.time) : 0;
  const auto mix = [w](double p, double q) { return p + w * (q - p); };
  return {t, mix(a.inlet_pressure, b.inlet_pressure), mix(a.rate, b.rate), mix(a.filled, b.filled)};
}

/// What all frames are made of.
struct Scene {
  const Inspection& r;
  Voice voice;
  View view;
  std::vector<Side> sides;
  double last;  ///< s: when both are full
};

void mark_ring(Plate& p, double x, double y) {
  for (int v = -6; v <= 6; ++v)
    for (int u = -6; u <= 6; ++u)
      if (const double d = std::hypot(u, v); d <= 6.2)
        p.pixels[static_cast<std::size_t>(std::lround(y) + v) * p.width + std::lround(x) + u] = d > 3.8 ? kInk : kMark;
}

void mark_cross(Plate& p, double x, double y) {
  for (int u = -6; u <= 6; ++u)
    for (int wide = -1; wide <= 1; ++wide)
      for (const int v : {u, -u})
        p.pixels[static_cast<std::size_t>(std::lround(y) + v) * p.width + std::lround(x) + u + wide] = kInk;
}

void paint_side(Plate& plate, const Scene& s, std::size_t which, double t) {
  const Side& side = s.sides[which];
  const int left = static_cast<int>(which) * kWide / 2 + (kWide / 2 - s.view.width) / 2;
  for (int y = 0; y < s.view.height; ++y)
    for (int x = 0; x < s.view.width; ++x) {
      const float a = side.arrival[static_cast<std::size_t>(y) * s.view.width + x];
      if (std::isnan(a)) continue;
      const bool hatched = std::isinf(a) && t >= s.last && (x + y) % 8 < 3;
      plate.pixels[static_cast<std::size_t>(kMapTop + y) * kWide + left + x] =
          static_cast<std::uint8_t>(a <= t    ? kTimes + std::lround(kShadesOfTime * a / s.last)
                                    : hatched ? kHatch
                                              : kEmpty);
    }
  const auto on = [&](const Vec3& p) { return Eigen::Vector2d(left + s.view.x(p), kMapTop + s.view.y(p)); };
  const auto inside = [&](const Eigen::Vector2d& q) {
    return q.x() > 8 && q.x() < kWide - 9 && q.y() > 8 && q.y() < kHigh - 9;
  };
  for (const Pocket& p : side.filling->pockets)
    if (const Eigen::Vector2d q = on(p.centre); p.closed_at <= t && inside(q)) mark_cross(plate, q.x(), q.y());
  if (const int n = side.filling->last_node; n >= 0 && t >= side.filling->fill_time)
    if (const Eigen::Vector2d q = on(s.r.sheet.mesh.points[n]); inside(q)) mark_ring(plate, q.x(), q.y());
  const FlowSample now = at_time(side.filling->history, t);
  const double middle = (static_cast<double>(which) + 0.5) * kWide / 2;
  const Voice& v = s.voice;
  const double bar = per_shown_unit(Dimension::pressure, v.units), rate = per_shown_unit(Dimension::flow_rate, v.units);
  const std::string numbers =
      say(Message("film.numbers",
                  {arg::name(fixed(now.inlet_pressure / bar, shown_decimals(Dimension::pressure, v.units), v)),
                   arg::name(shown_unit(Dimension::pressure, v.units)), arg::name(fixed(now.rate / rate, 2, v)),
                   arg::name(shown_unit(Dimension::flow_rate, v.units))}),
          v);
  letter(plate, {middle, kMapTop - 14, 12, 2.0}, side.title, kInk);
  letter(plate, {middle, kMapTop + kMapHigh + 32, 11, 1.6}, numbers, kInk);
  letter(plate, {middle, kMapTop + kMapHigh + 56, 11, 1.6},
         say(Message("film.filled", {arg::name(fixed(100 * now.filled, 0, v))}), v), kInk);
}

Plate frame(const Scene& s, double t) {
  Plate plate{kWide, kHigh, std::vector<std::uint8_t>(static_cast<std::size_t>(kWide) * kHigh, 0)};
  for (std::size_t k = 0; k < s.sides.size(); ++k) paint_side(plate, s, k, t);
  const double size = std::min(15.0, 15 * 900 / std::max(1.0, width_of(s.r.job.name, 15)));
  letter(plate, {kWide / 2.0, 32, size, 2.2}, s.r.job.name, kInk);
  letter(plate, {kWide / 2.0, 66, 15, 2.2}, fixed(t, second_decimals(s.last), s.voice) + " s", kInk);
  const auto line = [&](double y, const std::string& words) {
    const double fits = std::min(10.0, 10 * 920 / std::max(1.0, width_of(words, 10)));
    letter(plate, {kWide / 2.0, y, fits, 1.4}, words, kInk);
  };
  line(kHigh - 62, say(Message("fronts.key"), s.voice));
  line(kHigh - 38, say(Message("film.caption"), s.voice));
  if (s.r.job.invented) line(kHigh - 14, say(Message("page.invented-data-no-real"), s.voice));
  return plate;
}

/// `shown`: for how long, s, as a fraction.
std::string frame_control(std::uint32_t number, const Part& part, std::pair<int, int> shown) {
  std::string data =
      big_endian(number) + big_endian(part.width) + big_endian(part.height) + big_endian(part.x) + big_endian(part.y);
  for (const int v : {shown.first, shown.second}) data += static_cast<char>(v >> 8), data += static_cast<char>(v);
  return chunk("fcTL", data + '\0' + '\0');  // the part is left in place, and is put in place of what was there
}

}  // namespace

std::string film_png(const Inspection& r, bool after) {
  const Voice voice = voice_of(r.job);
  const Filling& now = after ? r.filling_after : r.filling;
  if (r.doubt || r.sheet.size() == 0 || now.arrival.size() != r.sheet.size() ||
      r.nominal_filling.arrival.size() != r.sheet.size())
    throw Error(Fault::input, "--film: the result holds no fronts; inspect the mold with its glass and resin");
  Scene s{r, voice, plan_view(r.sheet.mesh, kWide / 2 - 30, kMapHigh), {}, 1};
  const auto seen = seen_pixels(r.sheet.mesh, s.view);
  s.sides = {
      {say(Message("page.nominal-gap"), voice), &r.nominal_filling, arrivals(r.sheet.mesh, seen, r.nominal_filling)},
      {say(Message(after ? "page.after-corrections" : "page.measured-gap"), voice), &now,
       arrivals(r.sheet.mesh, seen, now)}};
  for (const Side& side : s.sides)
    for (const double a : side.filling->arrival)
      if (std::isfinite(a)) s.last = std::max(s.last, a);
  std::string out = "\x89PNG\r\n\x1a\n";
  out += chunk("IHDR", big_endian(kWide) + big_endian(kHigh) + std::string("\x08\x03\0\0\0", 5));
  out += chunk("acTL", big_endian(kFilmFrames + 1) + big_endian(0));  // over and over
  out += chunk("PLTE", palette());
  Plate before;
  std::uint32_t number = 0;
  for (int k = 0; k <= kFilmFrames; ++k) {
    Plate plate = frame(s, s.last * k / kFilmFrames);
    const Part part = k ? changed(before, plate) : Part{0, 0, kWide, kHigh};
    out += frame_control(number++, part, k == kFilmFrames ? std::pair(kRest, 1) : std::pair(1, kRate));
    out += k ? chunk("fdAT", big_endian(number++) + packed(plate, part)) : chunk("IDAT", packed(plate, part));
    before = std::move(plate);
  }
  return out + chunk("IEND", "");
}

}  // namespace gapfront::report
