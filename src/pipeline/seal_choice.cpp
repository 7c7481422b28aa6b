#include "pipeline/seal_choice.hpp"

#include <algorithm>

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

}  // namespace

void choose_seal(Measured& r, const Surface& lower, const Surface& upper, bool sheet_given) {
  using Source = SealOrigin::Source;
  const auto& open = r.job.unconfirmed;
  const auto guessed = [](const Unconfirmed& u) { return u.key == "cavity.seal" || u.key == "cavity"; };
  if (sheet_given || !r.job.sheet.seal.empty()) {
    r.seal.source =
        !r.job.sheet.seal.empty() && std::any_of(open.begin(), open.end(), guessed) ? Source::proposed : Source::given;
    return;
  }
  SealProposal p = cavity::propose_seal_in_frame(lower, upper, balls_of(r));
  r.seal = {p.ok() ? Source::proposed : Source::none, p.found, p.ok() ? p.confidence : 0, p.ok() ? p.u : 0};
  r.job.sheet.seal = std::move(p.line);
}

void qualify_headline(Measured& r) {
  Text& h = r.verdict.headline;
  if (job::provisional(r.job) && !h.empty()) h.front() = conformity::verdict_word(r.verdict.overall, true);
  if (r.seal.source != SealOrigin::Source::none) return;
  h.push_back(Message("setup.whole-lower-face-judged"));
}

}  // namespace gapfront::pipeline
