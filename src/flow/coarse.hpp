// A sheet of fewer nodes, for fillings of which less is asked than the sheet resolves.
#pragma once
#include <vector>

#include "flow/network.hpp"

namespace gapfront {

/// Nodes of a sheet, so far apart as is wanted, each with the cells that lie nearest to it: area and resin stay as they
/// are, and a cell conducts as its parts do on average.
struct CoarseSheet {
  /// `row`: wanted width of a cell (root of its area), mm.
  CoarseSheet(const Sheet&, double row);
  Sheet sheet;            ///< points, triangles, areas and rim
  std::vector<int> home;  ///< per node of the fine sheet, the cell that it belongs to
  /// It hangs together as the fine sheet does. A neck or web as narrow as a cell may be cut through.
  bool whole = true;

  /// Of a laminate of the fine sheet: what moves the front. (What soaks an open channel's floor has no mean.)
  LaminateMap mean(const LaminateMap&) const;
  /// Cells that are an inlet's, together about as large, and what of each cell lies in a vent's mouth.
  flow::Ports ports(const flow::Ports&) const;
  /// Values at the coarse nodes.
  std::vector<double> at_nodes(const std::vector<double>& fine) const;

 private:
  void join_cells(const Mesh& fine);
  std::vector<int> inlet_cells(const std::vector<int>& inlet) const;
  std::vector<int> node_;     // per coarse node, of the fine sheet
  std::vector<double> area_;  // of the fine sheet
};

}  // namespace gapfront
