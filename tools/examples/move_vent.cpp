// A cavity from two arrays of points, without a file: its gap, how it fills, and how with the vent moved. Each stage is
// called by itself, so that any can be left out or replaced.
#include <cstdio>
#include <exception>
#include <vector>

#include <gapfront/gapfront.hpp>

using namespace gapfront;

namespace {

constexpr double kLength = 200, kWidth = 60, kGap = 3.2;  // mm: a flat strip, with a flange of 10 mm around it

/// A scanned face at this height, a point every millimetre; lower and upper points do not lie above each other.
Surface flat_face(double z, double shift) {
  std::vector<Vec3> points;
  for (double x = -10 + shift; x <= kLength + 10; x += 1)
    for (double y = -10 + shift; y <= kWidth + 10; y += 1) points.push_back({x, y, z});
  return Surface(std::move(points), {.spacing = 1, .noise = 0.005});  // spacing and noise, mm
}

void print(const char* name, const Filling& f) {
  std::printf("%s: filled in %.2f s, %.0f mm2 stay dry\n", name, f.fill_time, flow::dry_area(f));
}

}  // namespace

int main() try {
  // Both halves in the tool frame, closed. A registration of one's own puts its covariance in here.
  const Surface lower = flat_face(0, 0), upper = flat_face(kGap, 0.5);
  const Alignment closed;

  SheetOptions face;
  face.edge = 4;
  face.seal = {{0, 0, 0}, {kLength, 0, 0}, {kLength, kWidth, 0}, {0, kWidth, 0}};
  const Sheet sheet = cavity::build_sheet(lower, upper, face);

  GapOptions search;
  search.nominal = 3;
  const GapMap gap = cavity::measure_gap(sheet, lower, upper, closed, search);
  ToleranceOptions limits;  // 3 mm ± 0.3 mm
  const Verdict verdict = conformity::judge(sheet, gap, limits);
  std::printf("%s\nmean gap %.4f mm\n", say(verdict.headline).c_str(), limits.nominal + verdict.mean);

  std::vector<double> measured(sheet.size());
  for (std::size_t i = 0; i < measured.size(); ++i) measured[i] = gap.nodes[i].gap;
  LaminateOptions glass;
  glass.plies = {{.reinforcement = laminate::find_reinforcement("chopped strand mat 450"), .count = 2}};
  const LaminateMap laminate = laminate::evaluate_laminate(sheet, measured, glass);

  // Resin comes in along one end under constant pressure, and air leaves at the other.
  FlowOptions flow;
  flow.inlets = {{.name = "end", .path = {{0, 0, 0}, {0, kWidth, 0}}, .radius = 1}};
  flow.vents = {{.name = "far end", .path = {{kLength, 0, 0}, {kLength, kWidth, 0}}, .radius = 1}};
  const Filling filling = flow::fill(sheet, laminate, flow);
  print("vent at the far end", filling);

  // In the middle the vent is reached half-way; what lies behind it has no way out.
  flow.vents = {{.name = "middle", .path = {{kLength / 2, kWidth / 2, 0}}, .radius = 5}};
  print("vent in the middle", flow::fill(sheet, laminate, flow));
} catch (const std::exception& e) {
  std::fprintf(stderr, "%s\n", e.what());
  return 1;
}
