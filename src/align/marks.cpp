#include "align/marks.hpp"

#include <algorithm>
#include <set>

#include "align/find_balls.hpp"

namespace gapfront::align {
namespace {

// Diameters around a dowel's axis that are no moulding face: dowel, play, countersink, as around a ball.
constexpr double kDowelReach = 1.5;

}  // namespace

std::vector<FoundMark> marks_of(const Alignment& a, const std::vector<LocatedTarget>& targets,
                                const std::vector<Target>& wanted) {
  std::vector<FoundMark> out;
  for (const LocatedTarget& t : targets)
    for (const Target& w : wanted) {
      if (w.name != t.name) continue;
      std::optional<double> clear = w.mask;
      if (w.dowel && !clear) clear = kDowelReach * *w.dowel;
      if (t.lower) out.push_back({t.name, a.lower_to_tool * ScanPlace{t.lower->at}, w.ball, clear});
      if (t.upper) out.push_back({t.name, a.upper_to_tool * ScanPlace{t.upper->at}, w.ball, clear});
      // A ball of another size than the job's is no target, and stands on the face all the same.
      for (const auto& other : t.other)
        if (other)
          out.push_back({t.name, (other->upper ? a.upper_to_tool : a.lower_to_tool) * ScanPlace{other->place},
                         other->measured, clear});
    }
  return out;
}

void place_balls(Alignment& a, const std::vector<LocatedTarget>& targets) {
  for (WrongBalls& w : a.wrong_balls)
    for (BallSize& b : w.balls)
      for (const LocatedTarget& t : targets)
        if (const auto& at = b.upper ? t.upper : t.lower; t.name == b.name && at)
          b.place = (b.upper ? a.upper_to_tool : a.lower_to_tool) * ScanPlace{at->at};
}

std::optional<double> ball_size(const std::vector<Target>& wanted) {
  std::optional<double> size;
  for (const Target& w : wanted)
    if (w.ball) size = std::max(size.value_or(0), *w.ball);
  return size;
}

std::vector<Vec3> spare_of(const std::vector<Vec3>& points, double noise, const std::vector<LocatedTarget>& targets,
                           const std::vector<Target>& wanted, int half) {
  std::vector<Vec3> known, out;
  for (const LocatedTarget& t : targets)
    if (const auto& at = half ? t.upper : t.lower)
      known.push_back(at->at);
    else if (t.other[half])
      known.push_back(t.other[half]->place);
  std::set<double> sizes;
  for (const Target& w : wanted)
    if (w.ball) sizes.insert(*w.ball);
  for (const double size : sizes)
    for (const Vec3& p : spare_balls(points, noise, size, known)) out.push_back(p), known.push_back(p);
  return out;
}

}  // namespace gapfront::align
