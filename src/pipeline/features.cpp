#include "pipeline/features.hpp"

#include <algorithm>

namespace gapfront::pipeline {
namespace {

const ScanFeature* named(const Scan& scan, const std::string& name) {
  const auto found =
      std::find_if(scan.features.begin(), scan.features.end(), [&](const ScanFeature& f) { return f.name == name; });
  return found == scan.features.end() ? nullptr : &*found;
}

/// Touched on both halves: its size by both, as such balls are sold.
Target touched_ball(const ScanFeature& low, const ScanFeature& up) {
  const SphereFit a = align::fit_touched_ball(low.points, 0), b = align::fit_touched_ball(up.points, 0);
  FoundBall both;
  both.measured = a.radius + b.radius;
  Target t;
  t.name = low.name, t.touched = true, t.ball = align::usual_diameter(both);
  const SphereFit at = align::fit_touched_ball(low.points, *t.ball / 2),
                  to = align::fit_touched_ball(up.points, *t.ball / 2);
  t.lower = ScanPlace{at.used > 0 ? at.centre : a.centre}, t.upper = ScanPlace{to.used > 0 ? to.centre : b.centre};
  return t;
}

}  // namespace

void pair_features(Survey& s) {
  std::vector<Target> balls;
  std::vector<DatumFeature> datum;
  for (const ScanFeature& low : s.lower.scan.features) {
    const ScanFeature* up = named(s.upper.scan, low.name);
    if (!up) continue;
    const align::FeatureShape shape = align::shape_of(low.points);
    if (shape != align::shape_of(up->points)) continue;
    if (shape == align::FeatureShape::ball)
      balls.push_back(touched_ball(low, *up));
    else
      datum.push_back({low.name, shape == align::FeatureShape::plane  ? DatumKind::plane
                                 : shape == align::FeatureShape::line ? DatumKind::line
                                                                      : DatumKind::point});
  }
  const auto of_kind = [&](DatumKind kind) {
    return std::count_if(datum.begin(), datum.end(), [&](const auto& f) { return f.kind == kind; });
  };
  if (balls.size() >= 3)
    s.balls = std::move(balls), s.matches = 1;
  else if (datum.size() == 3 && of_kind(DatumKind::plane) == 1 && of_kind(DatumKind::line) == 1)
    s.datum = std::move(datum), s.balls.clear();
}

AlignOptions closing_options(const Survey& s) {
  AlignOptions o;
  o.targets = s.balls;
  o.features = s.datum;
  if (!s.datum.empty()) o.methods = {AlignMethod::datum};
  // Only the pose is wanted here, and it does not depend on it; the job says how well a touch is known.
  o.touch_u = 0.02;
  return o;
}

}  // namespace gapfront::pipeline
