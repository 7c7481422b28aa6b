// What the reader must know to be unsettled before trusting the verdict: guesses, and where the seal line is from.
#include "report/html.hpp"

namespace gapfront::report {
namespace {

Text seal_says(const Inspection& r) {
  if (r.seal.source != SealOrigin::Source::proposed) return {};
  // One that this inspection found has a confidence; one that the job holds has not.
  if (r.seal.confidence <= 0) return {Message("setup.seal-line-proposal-from")};
  return {Message("setup.job-has-no-seal"),
          Message(r.seal.found == SealFound::land ? "setup.one-proposed-where-gap" : "setup.one-proposed-along-rim")};
}

}  // namespace

std::string open_points(const Inspection& r) {
  const Voice v = voice_of(r.job);
  std::string out;
  if (const auto seal = seal_says(r); !seal.empty()) out += para(told(v, seal));
  if (!r.job.unconfirmed.empty()) {
    out += para(told(v, "setup.guessed-confirmed-nobody-so")) + "<ul class=\"unconfirmed\">";
    for (const auto& u : r.job.unconfirmed)
      out += "<li translate=\"no\"><code>" + escape(u.key) + "</code>" +
             (u.value.empty() ? "" : " " + escape(u.value)) + "</li>";
    out += "</ul>\n";
  }
  if (job::provisional(r.job)) out += para(told(v, "setup.verdict-provisional-nominal-thickness"));
  return out;
}

}  // namespace gapfront::report
