#include "cavity/seal_contour.hpp"

#include <algorithm>
#include <cmath>
#include <map>

namespace gapfront::cavity {
namespace {

/// Nodes of the largest 4-connected part of `in`.
std::vector<char> largest_of(const PlanGrid& g, const std::vector<char>& in, int& count) {
  std::vector<int> part(in.size(), -1);
  int best = -1, parts = 0;
  count = 0;
  std::vector<int> stack;
  for (int start = 0; start < g.size(); ++start) {
    if (!in[start] || part[start] >= 0) continue;
    int size = 0;
    stack = {start};
    part[start] = parts;
    while (!stack.empty()) {
      const int k = stack.back(), i = k % g.nu, j = k / g.nu;
      stack.pop_back();
      ++size;
      for (const auto& [di, dj] : {std::pair{1, 0}, {-1, 0}, {0, 1}, {0, -1}}) {
        if (i + di < 0 || j + dj < 0 || i + di >= g.nu || j + dj >= g.nv) continue;
        const int m = g.at(i + di, j + dj);
        if (in[m] && part[m] < 0) part[m] = parts, stack.push_back(m);
      }
    }
    if (size > count) count = size, best = parts;
    ++parts;
  }
  std::vector<char> out(in.size(), 0);
  for (std::size_t k = 0; k < in.size(); ++k) out[k] = best >= 0 && part[k] == best;
  return out;
}

/// What the rest of the grid does not reach from its corner is a hole, and belongs to the part.
void fill_holes(const PlanGrid& g, std::vector<char>& in) {
  std::vector<char> reached(in.size(), 0);
  std::vector<int> stack{0};
  reached[0] = 1;
  while (!stack.empty()) {
    const int k = stack.back(), i = k % g.nu, j = k / g.nu;
    stack.pop_back();
    for (const auto& [di, dj] : {std::pair{1, 0}, {-1, 0}, {0, 1}, {0, -1}}) {
      if (i + di < 0 || j + dj < 0 || i + di >= g.nu || j + dj >= g.nv) continue;
      const int m = g.at(i + di, j + dj);
      if (!in[m] && !reached[m]) reached[m] = 1, stack.push_back(m);
    }
  }
  for (std::size_t k = 0; k < in.size(); ++k)
    if (!reached[k]) in[k] = 1;
}

double turn(const PlanPoint& a, const PlanPoint& b, const PlanPoint& c) {
  return (b.u - a.u) * (c.v - a.v) - (b.v - a.v) * (c.u - a.u);
}

void keep_between(const std::vector<PlanPoint>& p, std::size_t from, std::size_t to, double tolerance,
                  std::vector<char>& keep) {
  if (to <= from + 1) return;
  double most = -1;
  std::size_t at = from;
  const double du = p[to].u - p[from].u, dv = p[to].v - p[from].v, length = std::hypot(du, dv);
  for (std::size_t k = from + 1; k < to; ++k) {
    const double d =
        length > 0 ? std::abs(turn(p[from], p[to], p[k])) / length : std::hypot(p[k].u - p[from].u, p[k].v - p[from].v);
    if (d > most) most = d, at = k;
  }
  if (most <= tolerance) return;
  keep[at] = 1;
  keep_between(p, from, at, tolerance, keep);
  keep_between(p, at, to, tolerance, keep);
}

}  // namespace

double polygon_area(const std::vector<PlanPoint>& p) {
  double sum = 0;
  for (std::size_t i = 0, j = p.size() - 1; i < p.size(); j = i++) sum += p[j].u * p[i].v - p[i].u * p[j].v;
  return sum / 2;
}

PlanContour largest_part(const PlanGrid& g, const std::vector<double>& field, const std::vector<char>& outside,
                         int minimum) {
  PlanContour out;
  std::vector<char> in(field.size());
  for (std::size_t k = 0; k < field.size(); ++k) in[k] = field[k] > 0 && !outside[k];
  int count = 0;
  out.inside = largest_of(g, in, count);
  if (count < minimum) return out;
  fill_holes(g, out.inside);

  // Crossing of the line with the side between an inner and an outer node. Outside the field means nothing: half way.
  const auto crossing = [&](int a, int b) {
    const double fa = field[a], fb = field[b];
    const double t = outside[b] || !(fa > 0) || !(fb <= 0) ? 0.5 : std::clamp(fa / (fa - fb), 0.02, 0.98);
    return PlanPoint{g.u(a) + t * (g.u(b) - g.u(a)), g.v(a) + t * (g.v(b) - g.v(a))};
  };
  // Segments by the sides of the squares they join, with the inside on the left; a side is named by its two nodes.
  using Side = std::pair<int, int>;
  const auto side = [](int a, int b) { return Side{std::min(a, b), std::max(a, b)}; };
  std::map<Side, std::vector<Side>> next;
  std::map<Side, PlanPoint> place;
  for (int j = 0; j + 1 < g.nv; ++j)
    for (int i = 0; i + 1 < g.nu; ++i) {
      const int c[4] = {g.at(i, j), g.at(i + 1, j), g.at(i + 1, j + 1), g.at(i, j + 1)};
      std::vector<Side> leave, enter;  // walking round the square: from inside to outside, and back in
      for (int k = 0; k < 4; ++k) {
        const int a = c[k], b = c[(k + 1) % 4];
        if (out.inside[a] == out.inside[b]) continue;
        place[side(a, b)] = out.inside[a] ? crossing(a, b) : crossing(b, a);
        (out.inside[a] ? leave : enter).push_back(side(a, b));
      }
      // Two separate corners: each line turns round its own.
      for (const Side& l : leave) {
        const Side* to = nullptr;
        for (const Side& e : enter) {
          const bool same_corner =
              e.first == l.first || e.first == l.second || e.second == l.first || e.second == l.second;
          if (enter.size() == 1 ||
              (same_corner && out.inside[e.first == l.first || e.first == l.second ? e.first : e.second]))
            to = &e;
        }
        if (to) next[l].push_back(*to);
      }
    }
  std::vector<PlanPoint> longest;
  while (!next.empty()) {
    const Side first = next.begin()->first;
    std::vector<PlanPoint> loop;
    for (Side at = first;;) {
      const auto found = next.find(at);
      if (found == next.end()) break;
      loop.push_back(place[at]);
      const Side to = found->second.back();
      found->second.pop_back();
      if (found->second.empty()) next.erase(found);
      at = to;
      if (at == first) break;
    }
    if (loop.size() > longest.size()) longest = std::move(loop);
  }
  if (polygon_area(longest) < 0) std::reverse(longest.begin(), longest.end());
  out.line = std::move(longest);
  return out;
}

std::vector<PlanPoint> simplified(const std::vector<PlanPoint>& p, double tolerance) {
  if (p.size() < 8) return p;
  // Two corners that surely stay: the ends of the longest extent from the first.
  std::size_t far = 0;
  double most = -1;
  for (std::size_t k = 0; k < p.size(); ++k)
    if (const double d = std::hypot(p[k].u - p[0].u, p[k].v - p[0].v); d > most) most = d, far = k;
  std::vector<PlanPoint> open(p.begin(), p.end());
  open.push_back(p[0]);
  std::vector<char> keep(open.size(), 0);
  keep[0] = keep[far] = 1;
  keep_between(open, 0, far, tolerance, keep);
  keep_between(open, far, open.size() - 1, tolerance, keep);
  std::vector<PlanPoint> out;
  for (std::size_t k = 0; k < p.size(); ++k)
    if (keep[k]) out.push_back(p[k]);
  return out;
}

bool simple_polygon(const std::vector<PlanPoint>& p) {
  const std::size_t n = p.size();
  for (std::size_t i = 0; i < n; ++i)
    for (std::size_t j = i + 2; j < n; ++j) {
      if (i == 0 && j == n - 1) continue;
      const PlanPoint &a = p[i], &b = p[(i + 1) % n], &c = p[j], &d = p[(j + 1) % n];
      if (turn(a, b, c) * turn(a, b, d) < 0 && turn(c, d, a) * turn(c, d, b) < 0) return false;
    }
  return n >= 3;
}

}  // namespace gapfront::cavity
