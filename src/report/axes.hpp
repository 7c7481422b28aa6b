// The axes that all charts share, and the few strokes they are drawn with.
#pragma once
#include <string>

#include "gapfront/text.hpp"

namespace gapfront::report {

struct Axis {
  double low, high;  ///< data
  double from, to;   ///< pixels
  double at(double v) const { return from + (v - low) / (high - low) * (to - from); }
};

/// 1, 2 or 5 times a power of ten, so that about five steps make the span.
double tick_step(double span);
/// A label of a tick, with as many decimals as the step needs.
std::string tick_text(double v, double step, const Voice& = {});

/// Words on a map; they are HTML already.
std::string plain_label(double x, double y, const std::string& html, const char* anchor = "start");
/// Words in the picture; they are HTML already.
std::string text(double x, double y, const std::string& html, const char* anchor);
std::string path(const char* style, const std::string& d);
std::string line(double x1, double y1, double x2, double y2, const char* style);

/// Ticks below, level lines to the left, both labelled.
std::string axes(const Axis& x, const Axis& y, const std::string& x_label, const std::string& y_label,
                 const Voice& = {});

/// A picture 460 pixels wide, of which `said` is read out; both texts are HTML.
std::string chart_figure(const std::string& caption, const std::string& said, const std::string& inside, int height);

}  // namespace gapfront::report
