// Figures that only the pages without a script have, and what the maps of all pages share.
#pragma once
#include <optional>
#include <string>
#include <utility>
#include <vector>

#include "report/html.hpp"
#include "report/scales.hpp"

namespace gapfront::report {

/// A dry spot that was seen on parts.
struct SeenSpot {
  std::string name;
  Vec3 at;
  double size;  ///< across, mm
};
/// What a map shows beside the field.
struct MapExtras {
  bool isochrones = false;
  std::vector<SeenSpot> seen;
  std::optional<ColourScale> scale;  ///< none: that of the field's family
  /// Lines of these values (internal units), shown one after the other where the page's box "play" is ticked.
  std::vector<double> film = {};
};
std::string map_figure(const Inspection&, const Field&, const std::string& caption, const MapExtras&);

/// The course of a gap over the parts made.
struct Trend {
  std::string name, y_label;  ///< HTML; the name is read out in place of the picture
  struct Seen {
    double x, y, U;
  };
  std::vector<Seen> seen;
  struct Fit {
    double x, y, low, high;
  };
  std::vector<Fit> line;  ///< with its 95 % interval
  double limit = 0;
  double now = 0;
  std::optional<std::pair<double, double>> reached;  ///< 95 % interval of the cycles at which the limit is reached
};
std::string trend_chart(const std::string& caption, const Trend&, const Voice&);

}  // namespace gapfront::report
