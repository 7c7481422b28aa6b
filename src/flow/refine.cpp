// What the mesh does to a small pocket: the filling once more on a sheet of half the edge.
#include <algorithm>
#include <cmath>
#include <limits>
#include <map>
#include <numbers>
#include <utility>

#include "gapfront/flow.hpp"

namespace gapfront {
namespace {

// A front is known to a fraction of a cell. Around a pocket of a hundred nodes' area lie some 35 of them, a third of
// it; larger ones are known to a few per cent, which no decision turns on.
constexpr double kSmall = 100;
// Four times the nodes take about eight times the time of a filling (0.2 s on 4,500 nodes). Beyond so many nodes only
// the sheet around the pockets is refined.
constexpr std::size_t kWholly = 6000;
// Around: where the fronts that close a pocket meet, two of its radii and five edges about its centre.
constexpr double kAroundRadii = 2, kAroundEdges = 5;
// Errors go with the edge (see tests/flow/closed_forms.cpp): half of them is left on half the edge, so that the coarse
// mesh is off by twice the difference.
constexpr double kFirstOrder = 2;

double mean_edge(const Sheet& sheet) {
  double area = 0;
  for (const double a : sheet.area) area += a;
  // A node of an even mesh of equilateral triangles has √3/2 of an edge's square.
  return std::sqrt(area / std::max<std::size_t>(1, sheet.size()) * 2 / std::sqrt(3.0));
}

double radius_of(double area) { return std::sqrt(area / std::numbers::pi); }

}  // namespace

FinerSheet flow::finer_sheet(const Sheet& sheet, const std::vector<char>& here) {
  FinerSheet out;
  const auto& triangles = sheet.mesh.triangles;
  std::map<std::pair<int, int>, int> sides;  // triangles at an edge
  const auto edge = [](int a, int b) { return std::pair{std::min(a, b), std::max(a, b)}; };
  for (const auto& t : triangles)
    for (int k = 0; k < 3; ++k) ++sides[edge(t[k], t[(k + 1) % 3])];
  Mesh mesh;
  mesh.points = sheet.mesh.points;
  for (int i = 0; i < int(sheet.size()); ++i) out.from.push_back({i, i});
  std::map<std::pair<int, int>, int> middle;
  std::vector<char> rim = sheet.rim;
  for (const auto& t : triangles)
    if (here.empty() || here[t[0]] || here[t[1]] || here[t[2]])
      for (int k = 0; k < 3; ++k) {
        const auto e = edge(t[k], t[(k + 1) % 3]);
        const auto [at, made] = middle.insert({e, int(mesh.points.size())});
        if (!made) continue;
        mesh.points.push_back(0.5 * (sheet.mesh.points[e.first] + sheet.mesh.points[e.second]));
        out.from.push_back({e.first, e.second});
        rim.push_back(sides[e] == 1 && sheet.rim[e.first] && sheet.rim[e.second]);
      }
  for (const auto& t : triangles) {
    // Edges are halved, not triangles, so that neighbours always fit. Turned until the halved ones come first.
    int m[3], halved = 0;
    for (int k = 0; k < 3; ++k) {
      const auto found = middle.find(edge(t[k], t[(k + 1) % 3]));
      m[k] = found == middle.end() ? -1 : found->second, halved += m[k] >= 0;
    }
    int s = 0;
    while (halved > 0 && halved < 3 && !(m[s] >= 0 && m[(s + 2) % 3] < 0)) ++s;
    const int a = t[s], b = t[(s + 1) % 3], c = t[(s + 2) % 3];
    const int ab = m[s], bc = m[(s + 1) % 3], ca = m[(s + 2) % 3];
    if (halved == 0) mesh.triangles.push_back(t);
    if (halved == 1) mesh.triangles.insert(mesh.triangles.end(), {{a, ab, c}, {ab, b, c}});
    if (halved == 2) mesh.triangles.insert(mesh.triangles.end(), {{a, ab, c}, {ab, b, bc}, {ab, bc, c}});
    if (halved == 3) mesh.triangles.insert(mesh.triangles.end(), {{a, ab, ca}, {ab, b, bc}, {ca, bc, c}, {ab, bc, ca}});
  }
  out.sheet = cavity::make_sheet(std::move(mesh));
  out.sheet.rim = std::move(rim);
  return out;
}

std::vector<double> FinerSheet::carried(const std::vector<double>& coarse) const {
  std::vector<double> out;
  for (const auto& [a, b] : from) out.push_back(0.5 * (coarse[a] + coarse[b]));
  return out;
}

void flow::judge_pockets(const Sheet& sheet, const std::vector<double>& gap, const LaminateOptions& laminate,
                         const FlowOptions& flow, Filling& filling) {
  const double edge = mean_edge(sheet), node = edge * edge * std::sqrt(3.0) / 2;
  std::vector<char> here(sheet.size(), 0);
  bool any = false;
  for (const Pocket& p : filling.pockets) {
    if (p.area >= kSmall * node) continue;
    any = true;
    const double reach = kAroundRadii * radius_of(p.area) + kAroundEdges * edge;
    for (std::size_t i = 0; i < sheet.size(); ++i) here[i] |= (sheet.mesh.points[i] - p.centre).norm() < reach;
  }
  if (!any) return;
  const FinerSheet finer = flow::finer_sheet(sheet, sheet.size() <= kWholly ? std::vector<char>() : here);
  const Filling again =
      flow::fill(finer.sheet, laminate::evaluate_laminate(finer.sheet, finer.carried(gap), laminate), flow);
  // Each of the finer pockets belongs to the coarse one that it lies nearest to, if their discs and two edges touch.
  std::vector<double> found(filling.pockets.size(), 0);
  for (const Pocket& f : again.pockets) {
    std::size_t best = found.size();
    double minimum = std::numeric_limits<double>::infinity();
    for (std::size_t k = 0; k < filling.pockets.size(); ++k) {
      const Pocket& p = filling.pockets[k];
      const double d = (p.centre - f.centre).norm();
      if (d < radius_of(p.area) + radius_of(f.area) + 2 * edge && d < minimum) best = k, minimum = d;
    }
    if (best < found.size()) found[best] += f.area;
  }
  for (std::size_t k = 0; k < found.size(); ++k) {
    Pocket& p = filling.pockets[k];
    p.area_fine = found[k];
    // Not found again: it may be there or not.
    p.area_U = found[k] > 0 ? kFirstOrder * std::abs(found[k] - p.area) : p.area;
  }
}

}  // namespace gapfront
