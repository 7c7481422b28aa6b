#include "flow/coarse.hpp"

#include <algorithm>
#include <array>
#include <limits>
#include <map>
#include <numeric>
#include <queue>
#include <tuple>
#include <utility>

#include "core/linear.hpp"
#include "core/neighbours.hpp"
#include "core/sheet_parts.hpp"

namespace gapfront {
namespace {

// Distance of nodes that are taken in turn, in widths of the cells wanted: cells then come out as wide as that
// (tests/flow/coarse.cpp).
constexpr double kApart = 0.9;
// Times that a node moves to the middle of its cell (Lloyd 1982): after two the cells are nearly alike.
constexpr int kMoves = 2;

constexpr double kFar = std::numeric_limits<double>::infinity();

using Near = std::vector<std::vector<int>>;

/// The outer nodes first, each loop from one neighbour to the next, then inwards: what is taken in this order with a
/// distance between lies close.
std::vector<int> from_the_rim(const std::vector<std::pair<int, int>>& rim, const Near& near) {
  const std::size_t n = near.size();
  Near along(n);
  for (const auto& [a, b] : rim) along[a].push_back(b), along[b].push_back(a);
  std::vector<int> order;
  std::vector<char> seen(n, 0);
  const auto spread = [&](const Near& ways, std::size_t from) {
    for (std::size_t k = from; k < order.size(); ++k)
      for (const int j : ways[order[k]])
        if (!seen[j]) seen[j] = 1, order.push_back(j);
  };
  for (std::size_t i = 0; i < n; ++i)
    if (!along[i].empty() && !seen[i]) {
      seen[i] = 1, order.push_back(static_cast<int>(i));
      spread(along, order.size() - 1);
    }
  spread(near, 0);
  for (std::size_t i = 0; i < n; ++i)  // a sheet without a rim
    if (!seen[i]) seen[i] = 1, order.push_back(static_cast<int>(i)), spread(near, order.size() - 1);
  return order;
}

/// Shortest ways along the edges (Dijkstra 1959).
class Ways {
 public:
  Ways(const Mesh& mesh, const Near& near)
      : mesh_(mesh), near_(near), away(mesh.points.size(), kFar), owner(away.size(), -1) {}
  /// From a node, as far as `most`, to all that no other node is nearer to.
  void from(int node, int name, double most) { go({{0, name, node}}, most); }
  /// From all of them at once.
  void from(const std::vector<int>& nodes) {
    std::fill(away.begin(), away.end(), kFar);
    std::vector<Reached> start;
    for (std::size_t k = 0; k < nodes.size(); ++k) start.emplace_back(0, static_cast<int>(k), nodes[k]);
    go(std::move(start), kFar);
  }

 private:
  using Reached = std::tuple<double, int, int>;  // how far, from whom, which node
  const Mesh& mesh_;
  const Near& near_;

  void go(std::vector<Reached> start, double most) {
    std::priority_queue<Reached, std::vector<Reached>, std::greater<>> open(std::greater<>(), std::move(start));
    while (!open.empty()) {
      const auto [far, name, i] = open.top();
      open.pop();
      if (far >= away[i]) continue;
      away[i] = far, owner[i] = name;
      for (const int j : near_[i])
        if (const double there = far + (mesh_.points[j] - mesh_.points[i]).norm(); there < std::min(most, away[j]))
          open.emplace(there, name, j);
    }
  }

 public:
  std::vector<double> away;
  std::vector<int> owner;
};

/// Each moves to the node of its cell that lies nearest to the middle; on the rim along the rim.
std::vector<int> moved(const Sheet& sheet, const std::vector<char>& edge, const std::vector<int>& nodes,
                       const std::vector<int>& owner) {
  std::vector<Vec3> middle(nodes.size(), Vec3::Zero());
  std::vector<double> area(nodes.size(), 0), least(nodes.size(), kFar);
  const auto counts = [&](std::size_t i) { return owner[i] >= 0 && edge[i] == edge[nodes[owner[i]]]; };
  for (std::size_t i = 0; i < owner.size(); ++i)
    if (counts(i)) middle[owner[i]] += sheet.area[i] * sheet.mesh.points[i], area[owner[i]] += sheet.area[i];
  std::vector<int> out = nodes;
  for (std::size_t i = 0; i < owner.size(); ++i) {
    if (!counts(i)) continue;
    const int c = owner[i];
    const double off = (area[c] * sheet.mesh.points[i] - middle[c]).squaredNorm();
    if (off < least[c]) least[c] = off, out[c] = static_cast<int>(i);
  }
  return out;
}

}  // namespace

CoarseSheet::CoarseSheet(const Sheet& fine, double row) : area_(fine.area) {
  const Near near = neighbours(fine.mesh);
  std::vector<char> edge(fine.size(), 0);
  const auto rim = rim_edges(fine.mesh);
  for (const auto& [a, b] : rim) edge[a] = edge[b] = 1;
  Ways ways(fine.mesh, near);
  for (const int i : from_the_rim(rim, near))
    if (ways.away[i] == kFar) {
      ways.from(i, static_cast<int>(node_.size()), kApart * row);
      node_.push_back(i);
    }
  for (int k = 0; k < kMoves; ++k) ways.from(node_), node_ = moved(fine, edge, node_, ways.owner);
  ways.from(node_);
  home = ways.owner;
  join_cells(fine.mesh);
  sheet.area.assign(node_.size(), 0), sheet.rim.assign(node_.size(), 0);
  for (const int i : node_) sheet.mesh.points.push_back(fine.mesh.points[i]);
  for (std::size_t i = 0; i < home.size(); ++i) {
    sheet.area[home[i]] += fine.area[i];
    if (fine.rim[i]) sheet.rim[home[i]] = 1;
  }
  const auto parts = [](const Sheet& s) { return connected_parts(s, std::vector<char>(s.size(), 1)).size(); };
  whole = parts(sheet) == parts(fine);
}

/// Where three cells meet lies a triangle of the coarse sheet: the dual of the cells. A cell that meets no two others,
/// as at the tip of a wedge, goes to one beside it.
void CoarseSheet::join_cells(const Mesh& fine) {
  auto& triangles = sheet.mesh.triangles;
  for (bool lone = true; lone;) {
    triangles.clear();
    std::vector<char> joined(node_.size(), 0);
    const auto cells_at = [&](const std::array<int, 3>& t) { return std::array{home[t[0]], home[t[1]], home[t[2]]}; };
    for (const auto& t : fine.triangles) {
      auto c = cells_at(t);
      if (c[0] == c[1] || c[1] == c[2] || c[2] == c[0]) continue;
      for (const int k : c) joined[k] = 1;
      std::rotate(c.begin(), std::min_element(c.begin(), c.end()), c.end());
      triangles.push_back(c);
    }
    std::vector<int> to(node_.size()), number(node_.size(), -1), kept;
    std::iota(to.begin(), to.end(), 0);
    for (const auto& t : fine.triangles)
      for (const int a : cells_at(t))
        for (const int b : cells_at(t))
          if (!joined[a] && joined[b]) to[a] = b;
    for (std::size_t c = 0; c < to.size(); ++c)
      if (to[c] == static_cast<int>(c)) number[c] = static_cast<int>(kept.size()), kept.push_back(node_[c]);
    if (!(lone = kept.size() < node_.size())) break;
    for (int& h : home) h = number[to[h]];
    node_ = std::move(kept);
  }
  std::sort(triangles.begin(), triangles.end());
  triangles.erase(std::unique(triangles.begin(), triangles.end()), triangles.end());
}

LaminateMap CoarseSheet::mean(const LaminateMap& fine) const {
  LaminateMap out;
  out.nodes.resize(sheet.size());
  std::vector<Eigen::Matrix3d> tensor;
  const auto along = [](const NodeLaminate& n) { return n.direction.squaredNorm() >= 0.5; };
  const bool any = std::any_of(fine.nodes.begin(), fine.nodes.end(), along);
  if (any) tensor.assign(sheet.size(), Eigen::Matrix3d::Zero());
  for (std::size_t i = 0; i < home.size(); ++i) {
    const NodeLaminate& n = fine.nodes[i];
    NodeLaminate& to = out.nodes[home[i]];
    const double a = area_[i] / sheet.area[home[i]];
    to.loft += a * n.loft, to.channel += a * n.channel, to.fluid_thickness += a * n.fluid_thickness;
    to.conductance += a * n.conductance, to.conductance2 += a * n.conductance2, to.beside += a * n.beside;
    if (!any) continue;
    tensor[home[i]] += a * n.conductance2 * Eigen::Matrix3d::Identity();
    if (along(n)) tensor[home[i]] += a * (n.conductance - n.conductance2) * n.direction * n.direction.transpose();
  }
  for (std::size_t k = 0; k < tensor.size(); ++k) {
    // Across the sheet it is the mean of the lesser ones, as nothing lies along it there; the rest is the sheet's.
    NodeLaminate& to = out.nodes[k];
    const auto axes = spectrum_of(tensor[k]);
    const double most = axes.eigenvalues()[2], rest = tensor[k].trace() - most - to.conductance2;
    to.direction = axes.eigenvectors().col(2), to.conductance = most, to.conductance2 = rest;
  }
  return out;
}

/// Cells whose nodes are in it, and of those about it as many more as its area asks for.
std::vector<int> CoarseSheet::inlet_cells(const std::vector<int>& inlet) const {
  std::map<int, double> inside;
  double wanted = 0;
  for (const int i : inlet) inside[home[i]] += area_[i], wanted += area_[i];
  std::vector<int> out;
  std::vector<std::pair<double, int>> others;
  for (const auto& [cell, area] : inside) {
    if (std::binary_search(inlet.begin(), inlet.end(), node_[cell]))
      out.push_back(cell), wanted -= sheet.area[cell];
    else
      others.emplace_back(-area, cell);
  }
  std::sort(others.begin(), others.end());
  for (const auto& [area, cell] : others)
    if (out.empty() || wanted > 0.5 * sheet.area[cell]) out.push_back(cell), wanted -= sheet.area[cell];
  std::sort(out.begin(), out.end());
  return out;
}

flow::Ports CoarseSheet::ports(const flow::Ports& fine) const {
  flow::Ports out{.inlet = inlet_cells(fine.inlet), .vents = {}, .mouths = {}};
  for (std::size_t v = 0; v < fine.vents.size(); ++v) {
    std::map<int, double> inside;
    for (const flow::Mouth& m : fine.mouths[v]) inside[home[m.node]] += m.share * area_[m.node];
    auto& mouth = out.mouths.emplace_back();
    for (const auto& [cell, area] : inside) mouth.push_back({cell, std::min(1.0, area / sheet.area[cell])});
    // Of its nodes those that lie in it by half, or by more than any other.
    double most = 0;
    for (const flow::Mouth& m : mouth) most = std::max(most, m.share);
    auto& nodes = out.vents.emplace_back();
    for (const flow::Mouth& m : mouth)
      if (m.share >= std::min(0.5, most)) nodes.push_back(m.node);
  }
  return out;
}

std::vector<double> CoarseSheet::at_nodes(const std::vector<double>& fine) const {
  std::vector<double> out;
  for (const int i : node_) out.push_back(fine[i]);
  return out;
}

}  // namespace gapfront
