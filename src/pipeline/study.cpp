#include "gapfront/study.hpp"

#include <algorithm>
#include <cmath>

#include "core/sha256.hpp"
#include "gapfront/diagnose.hpp"
#include "gapfront/pipeline.hpp"

namespace gapfront::pipeline {
namespace {

// Times and forces nearer to each other than this are alike: the mesh alone moves a fill time by as much (own choice).
constexpr double kAlike = 0.005;

bool less(double a, double b) { return a < b * (1 - kAlike); }

// Of fillings that are drawn alike, so many more that trap air are proof where none traps air the other way round
// (McNemar 1947, two standard deviations: n > 2√n).
constexpr double kProof = 5;

/// Whether air is trapped less often. Where no fillings were drawn, the chance decides nothing.
bool rarer(const Chance& a, const Chance& b) { return (b.p - a.p) * std::min(a.draws, b.draws) > kProof - 0.5; }

/// No worse in any of the three, and better in one.
bool beats(const StudiedFill& a, const StudiedFill& b) {
  const bool worse = less(b.fill_time, a.fill_time) || rarer(b.air, a.air) || less(a.balance, b.balance);
  return !worse && (less(a.fill_time, b.fill_time) || rarer(a.air, b.air) || less(b.balance, a.balance));
}

}  // namespace

std::string study_key(const Alternative& a, const Measured& m) {
  return sha256(m.version + "\n" + m.lower_sha256 + "\n" + m.upper_sha256 + "\n" + a.job.text);
}

StudiedFill study_fill(const Measured& measured, const Alternative& a, const Progress& progress) {
  Measured copy = measured;
  copy.job.laminate = a.job.laminate, copy.job.flow = a.job.flow, copy.job.ensemble = a.job.ensemble;
  const Predicted p = predict(std::move(copy), progress);
  StudiedFill out;
  out.key = study_key(a, measured);
  out.fill_time = p.filling.fill_time;
  out.dry_area = out.expected_dry_area = flow::dry_area(p.filling);
  if (p.ensemble.runs > 0) {
    out.expected_dry_area = p.ensemble.dry_area;
    out.air =
        conformity::chance_of(static_cast<int>(std::lround(p.ensemble.pocket * p.ensemble.runs)), p.ensemble.runs);
  }
  const FlowOptions& flow = p.job.flow;
  out.gel_time = std::isfinite(p.filling.supply.gelled_at) ? p.filling.supply.gelled_at : flow.gel_time;
  out.gelled_area = diagnosis::gelled_area(p.sheet, p.filling, flow);
  out.balance = flow::least_balance(p.filling.opening);
  for (const FlowSample& s : p.filling.history) out.inlet_pressure = std::max(out.inlet_pressure, s.inlet_pressure);
  out.arrival.reserve(p.filling.arrival.size());
  for (std::size_t i = 0; i < p.filling.arrival.size(); ++i) out.arrival.push_back(flow::passing_time(p.filling, i));
  return out;
}

bool alike(const StudiedFill& a, const StudiedFill& b) {
  const auto near = [](double x, double y) { return !less(x, y) && !less(y, x); };
  return near(a.fill_time, b.fill_time) && near(a.balance, b.balance) && a.air.hits == b.air.hits &&
         a.air.draws == b.air.draws;
}

bool none_fills(const std::vector<StudiedFill>& all, double min_dry) {
  bool any = false;
  for (const StudiedFill& f : all) {
    if (f.key.empty()) continue;
    any = true;
    if (!(f.dry_area > min_dry) || (f.air.draws > 0 && f.air.p < 1)) return false;
  }
  return any;
}

bool all_gel(const std::vector<StudiedFill>& all) {
  bool any = false;
  for (const StudiedFill& f : all) {
    if (f.key.empty()) continue;
    any = true;
    if (!f.gels()) return false;
  }
  return any;
}

std::vector<bool> not_beaten(const std::vector<StudiedFill>& all) {
  enum class Standing { open, good, beaten };
  std::vector<Standing> is(all.size(), Standing::open);
  for (std::size_t k = 0; k < all.size(); ++k)
    if (all[k].key.empty() || all[k].gels()) is[k] = Standing::beaten;
  const auto beaten_by = [&](std::size_t k, auto counts) {
    for (std::size_t o = 0; o < all.size(); ++o)
      if (counts(is[o]) && beats(all[o], all[k])) return true;
    return false;
  };
  // What is alike does not follow from what is alike: some may beat each other in a ring, and all of these stay.
  for (bool more = true; more;) {
    more = false;
    for (std::size_t k = 0; k < all.size(); ++k)
      if (is[k] == Standing::open && beaten_by(k, [](Standing s) { return s == Standing::good; }))
        is[k] = Standing::beaten, more = true;
    for (std::size_t k = 0; k < all.size(); ++k)
      if (is[k] == Standing::open && !beaten_by(k, [](Standing s) { return s != Standing::beaten; }))
        is[k] = Standing::good, more = true;
  }
  std::vector<bool> out;
  for (const Standing s : is) out.push_back(s != Standing::beaten);
  return out;
}

}  // namespace gapfront::pipeline
