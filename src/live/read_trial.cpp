// A trial as the page sends it.
#include <cmath>

#include "gapfront/error.hpp"
#include "gapfront/live.hpp"

namespace gapfront::live {
namespace {

/// Numbers taken one by one.
class Numbers {
 public:
  explicit Numbers(const std::vector<double>& all) : all_(all) {}
  double next() {
    if (at_ >= all_.size()) fail();
    return all_[at_++];
  }
  /// NaN: not given.
  std::optional<double> given() {
    const double x = next();
    return std::isnan(x) ? std::nullopt : std::optional(x);
  }
  /// How many items follow, or which one of so many.
  std::size_t whole(std::size_t below) {
    const double x = next();
    if (!(x >= 0 && x < static_cast<double>(below)) || x != std::floor(x)) fail();
    return static_cast<std::size_t>(x);
  }
  std::size_t count() { return whole(all_.size()); }
  std::vector<double> list() {
    std::vector<double> out(count());
    for (double& x : out) x = next();
    return out;
  }
  std::vector<Vec3> places() {
    std::vector<Vec3> out(count());
    for (Vec3& p : out) p.x() = next(), p.y() = next(), p.z() = next();
    return out;
  }
  void end() const {
    if (at_ != all_.size()) fail();
  }

 private:
  [[noreturn]] static void fail() {
    throw Error(Fault::input, "trial: a list of numbers that this program does not know; make the report again");
  }
  const std::vector<double>& all_;
  std::size_t at_ = 0;
};

/// Glass along a path: plies of a kind at hand, or roving packed to a thickness.
LaminateZone added_zone(Numbers& in, const LiveCase& c) {
  LaminateZone z;
  z.adds = true;
  const bool packed = in.whole(2) == 1;
  const Ply& like = c.laminate.plies[in.whole(c.laminate.plies.size())];
  const double amount = in.next();  // number of plies, or mm
  z.plies = {packed ? correct::roving(like, amount) : like};
  if (!packed) z.plies[0].count = amount;
  z.where.radius = in.next();
  z.where.path = in.places();
  return z;
}

}  // namespace

LiveTrial read_trial(const std::vector<double>& numbers, const LiveCase& c) {
  Numbers in(numbers);
  LiveTrial t;
  t.viscosity = in.given(), t.pressure_limit = in.given(), t.cavity_pressure = in.given(), t.rate = in.given();
  for (const double on : in.list()) t.corrections.push_back(on != 0);
  t.plies = in.list();
  t.moves.resize(in.count());
  for (PortMove& m : t.moves) m.vent = in.whole(2) == 1, m.index = in.whole(1000), m.dx = in.next(), m.dy = in.next();
  t.vents.resize(in.count());
  for (Vent& v : t.vents) v.name = "added", v.radius = in.next(), v.path = in.places();
  t.added.resize(in.count());
  for (LaminateZone& z : t.added) z = added_zone(in, c);
  in.end();
  return t;
}

}  // namespace gapfront::live
