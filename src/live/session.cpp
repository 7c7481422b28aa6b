#include "live/session.hpp"

#include <memory>
#include <string>
#include <vector>

#include "gapfront/cavity.hpp"
#include "gapfront/error.hpp"
#include "gapfront/live.hpp"

struct LiveSession {
  gapfront::LiveCase mold;
  gapfront::Sheet sheet;
  gapfront::LiveOutcome outcome;
  std::vector<double> arrival, summary;
  std::string error;
};

namespace gapfront::live {
namespace {

void add_path(std::vector<double>& out, const std::vector<Vec3>& path) {
  out.push_back(static_cast<double>(path.size()));
  for (const Vec3& p : path) out.insert(out.end(), {p.x(), p.y(), p.z()});
}

/// Fill time, last node, its distance from a vent, greatest pressure at the inlet, balance, least local margin and its
/// node, areas out of limits, over-packed, not filled, dry; then lists: pockets (place, area), inlets and vents
/// (radius, path), added glass (the same), pressure and rate and share over time.
std::vector<double> summary_of(const LiveOutcome& o) {
  const Filling& f = o.filling;
  std::vector<double> out{f.fill_time,
                          static_cast<double>(f.last_node),
                          f.last_to_vent,
                          o.peak_pressure,
                          o.balance,
                          f.opening.place.minimum,
                          static_cast<double>(f.opening.place.node),
                          o.out_area,
                          o.over_packed_area,
                          o.under_filled_area,
                          flow::dry_area(f)};
  const auto count = [&](std::size_t n) { out.push_back(static_cast<double>(n)); };
  count(f.pockets.size());
  for (const Pocket& p : f.pockets) out.insert(out.end(), {p.centre.x(), p.centre.y(), p.centre.z(), p.area});
  count(o.inlets.size());
  for (const Inlet& i : o.inlets) out.push_back(i.radius), add_path(out, i.path);
  count(o.vents.size());
  for (const Vent& v : o.vents) out.push_back(v.radius), add_path(out, v.path);
  count(o.added.size());
  for (const LaminateZone& z : o.added) out.push_back(z.where.radius), add_path(out, z.where.path);
  count(f.history.size());
  for (const FlowSample& s : f.history) out.insert(out.end(), {s.time, s.inlet_pressure, s.rate, s.filled});
  return out;
}

/// Nothing may be thrown across plain C.
template <class F>
bool guarded(LiveSession& s, const F& f) {
  s.error.clear();
  try {
    f();
    return true;
  } catch (const std::exception& e) {
    s.error = e.what();
  }
  return false;
}

}  // namespace
}  // namespace gapfront::live

using namespace gapfront;

char* live_room(std::size_t bytes) { return static_cast<char*>(::operator new(bytes)); }
void live_release(char* room) { ::operator delete(room); }

LiveSession* live_open(const char* bytes, std::size_t size) {
  auto s = std::make_unique<LiveSession>();
  live::guarded(*s, [&] {
    s->mold = live::unpack({bytes, size});
    s->sheet = cavity::make_sheet(s->mold.mesh);
  });
  return s.release();
}

int live_try(LiveSession* s, const double* numbers, std::size_t count) {
  const bool done = live::guarded(*s, [&] {
    const LiveTrial trial = live::read_trial({numbers, numbers + count}, s->mold);
    s->outcome = live::attempt(s->mold, s->sheet, trial);
    s->summary = live::summary_of(s->outcome);
    s->arrival.resize(s->sheet.size());
    for (std::size_t i = 0; i < s->arrival.size(); ++i) s->arrival[i] = flow::passing_time(s->outcome.filling, i);
  });
  return done ? static_cast<int>(s->sheet.size()) : -1;
}

const char* live_error(const LiveSession* s) { return s->error.c_str(); }

const double* live_field(const LiveSession* s, int which) {
  const Filling& f = s->outcome.filling;
  return which == 0   ? s->arrival.data()
         : which == 1 ? f.peak_pressure.data()
         : which == 2 ? f.opening.minimum.data()
                      : s->outcome.gap.data();
}

std::size_t live_summary_size(const LiveSession* s) { return s->summary.size(); }
const double* live_summary(const LiveSession* s) { return s->summary.data(); }
