// A sheet of fewer nodes, for fillings of which less is asked than the sheet resolves.
#pragma once
#include <memory>
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

  /// Of a laminate of the fine sheet: what the resin feels of it.
  LaminateMap mean(const LaminateMap&) const;
  /// The cells that the ports of the fine sheet lie in.
  flow::Ports ports(const flow::Ports&) const;
  /// Values at the coarse nodes.
  std::vector<double> taken(const std::vector<double>& fine) const;

 private:
  std::vector<int> node_;     // per coarse node, of the fine sheet
  std::vector<double> area_;  // of the fine sheet
};

}  // namespace gapfront
