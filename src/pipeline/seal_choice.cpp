#include "pipeline/seal_choice.hpp"

#include <algorithm>
#include <limits>

#include "core/segment.hpp"

namespace gapfront::pipeline {
namespace {

/// Balls with the seats they stand in, and dowels: looked past, as they are no land.
std::vector<Mask> balls_of(const Measured& r) {
  std::vector<Mask> out;
  for (const TargetResidual& t : r.alignment.residuals)
    for (const Target& wanted : r.job.align.targets)
      if (const auto size = wanted.ball ? wanted.ball : wanted.dowel; wanted.name == t.name && size)
        out.push_back({t.name, t.place, 1.5 * *size});
  if (r.job.align.find_ball)
    for (const TargetResidual& t : r.alignment.residuals)
      out.push_back({t.name, t.place, 1.5 * *r.job.align.find_ball});
  return out;
}

/// In plan, mm.
double from_line(const std::vector<Vec3>& line, const Vec3& p) {
  const auto flat = [](const Vec3& q) { return Vec3(q.x(), q.y(), 0); };
  double least = std::numeric_limits<double>::infinity();
  for (std::size_t k = 0; k < line.size(); ++k)
    least = std::min(least,
                     (nearest_on_segment(flat(p), flat(line[k]), flat(line[(k + 1) % line.size()])) - flat(p)).norm());
  return least;
}

/// The place that is provably outside and farthest beyond its limit, of those at least `inside` from the line; −1:
/// none.
int deciding_node(const Measured& r, double inside) {
  int worst = -1;
  double most = -std::numeric_limits<double>::infinity();
  for (std::size_t i = 0; i < r.verdict.node.size(); ++i) {
    if (r.verdict.node[i] != Conformity::nonconforming) continue;
    const double y = r.gap.nodes[i].gap;
    const double over = std::max(y - r.verdict.limits[i].high, r.verdict.limits[i].low - y);
    if (over > most && (inside <= 0 || from_line(r.job.sheet.seal, r.sheet.mesh.points[i]) >= inside))
      most = over, worst = static_cast<int>(i);
  }
  return worst;
}

/// Where the place that the headline names may lie on the land, as far as a proposed line is known: which is then to be
/// confirmed before anything else, and what decides if the line is right.
Text line_first(const Measured& r) {
  const double band = 2 * r.seal.u;  // expanded
  if (r.seal.source != SealOrigin::Source::proposed || !(band > 0) || r.job.sheet.seal.size() < 3 ||
      r.verdict.overall != Conformity::nonconforming)
    return {};
  const int named = deciding_node(r, 0);
  if (named < 0 || from_line(r.job.sheet.seal, r.sheet.mesh.points[std::size_t(named)]) >= band) return {};
  Text out{Message("setup.line-first", {arg::length(band, 1)})};
  if (const int next = deciding_node(r, band); next >= 0)
    out.push_back(Message("setup.line-first-inside", {arg::length(r.verdict.deviation[std::size_t(next)], 2, true),
                                                      arg::place(r.sheet.mesh.points[std::size_t(next)], 2)}));
  else
    out.push_back(Message("setup.line-first-alone"));
  return out;
}

}  // namespace

void choose_seal(Measured& r, const Surface& lower, const Surface& upper, bool sheet_given) {
  using Source = SealOrigin::Source;
  const auto& open = r.job.unconfirmed;
  const auto guessed = [](const Unconfirmed& u) { return u.key == "cavity.seal" || u.key == "cavity"; };
  if (sheet_given || !r.job.sheet.seal.empty()) {
    r.seal.source =
        !r.job.sheet.seal.empty() && std::any_of(open.begin(), open.end(), guessed) ? Source::proposed : Source::given;
    // A proposal that was taken into the job and not confirmed is known as well as it was.
    if (r.seal.source == Source::proposed) r.seal.u = cavity::propose_seal_in_frame(lower, upper, balls_of(r)).u;
    return;
  }
  SealProposal p = cavity::propose_seal_in_frame(lower, upper, balls_of(r));
  r.seal = {p.ok() ? Source::proposed : Source::none, p.found, p.ok() ? p.confidence : 0, p.ok() ? p.u : 0};
  r.job.sheet.seal = std::move(p.line);
}

void qualify_headline(Measured& r) {
  Text& h = r.verdict.headline;
  if (job::provisional(r.job) && !h.empty()) h.front() = conformity::verdict_word(r.verdict.overall, true);
  if (const Text first = line_first(r); !first.empty() && !h.empty())
    h.insert(h.begin() + 1, first.begin(), first.end());
  if (r.seal.source != SealOrigin::Source::none) return;
  h.push_back(Message("setup.whole-lower-face-judged"));
}

}  // namespace gapfront::pipeline
