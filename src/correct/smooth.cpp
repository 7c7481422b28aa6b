#include "correct/smooth.hpp"

#include <algorithm>
#include <cmath>

namespace gapfront::correct {
namespace {

// A place every so many mm: finer than scissors follow.
constexpr double kPlaceEvery = 2;
constexpr std::size_t kLeast = 12;
// Taubin's pair, from memory: passes what is longer than some ten places, 20 mm, and takes out the mesh's corners; so
// many rounds that nothing is left of them.
constexpr double kIn = 0.5, kOut = -0.53;
constexpr int kRounds = 30;

}  // namespace

std::vector<Vec3> smooth(const std::vector<Vec3>& line) {
  if (line.size() < 4) return line;
  const bool loop = (line.front() - line.back()).norm() < 1e-9;
  std::vector<double> run{0};
  for (std::size_t k = 1; k < line.size(); ++k) run.push_back(run.back() + (line[k] - line[k - 1]).norm());
  const std::size_t count = static_cast<std::size_t>(std::lround(run.back() / kPlaceEvery));
  if (count < kLeast) return line;
  std::vector<Vec3> out;
  std::size_t k = 1;
  for (std::size_t i = 0; i < count + !loop; ++i) {
    const double at = std::min(run.back(), run.back() * static_cast<double>(i) / static_cast<double>(count));
    while (k + 1 < line.size() && run[k] < at) ++k;
    const double length = run[k] - run[k - 1], s = length > 0 ? (at - run[k - 1]) / length : 0;
    out.push_back(line[k - 1] + s * (line[k] - line[k - 1]));
  }
  const std::size_t n = out.size();
  for (int round = 0; round < 2 * kRounds; ++round) {
    const auto before = out;
    for (std::size_t i = loop ? 0 : 1; i < (loop ? n : n - 1); ++i)
      out[i] =
          before[i] + (round % 2 ? kOut : kIn) * (0.5 * (before[(i + n - 1) % n] + before[(i + 1) % n]) - before[i]);
  }
  if (loop) out.push_back(out.front());
  return out;
}

}  // namespace gapfront::correct
