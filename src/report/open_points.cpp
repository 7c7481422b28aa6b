// What the reader must know to be unsettled before trusting the verdict: guesses, and where the seal line is from.
#include "report/html.hpp"

namespace gapfront::report {
namespace {

std::string seal_sentence(const Inspection& r) {
  if (r.seal.source != SealOrigin::Source::proposed) return "";
  // One that this inspection found has a confidence; one that the job holds has not.
  if (r.seal.confidence <= 0)
    return "The seal line is a proposal from the scans that nobody has confirmed; the maps show it as proposed.";
  return r.seal.found == SealFound::land
             ? "The job has no seal line. One is proposed where the gap leaves the land; the maps show it as proposed."
             : "The job has no seal line. One is proposed along the rim of the dish, where the lower face leaves the "
               "flange; the maps show it as proposed.";
}

}  // namespace

std::string open_points(const Inspection& r) {
  std::string out;
  if (const auto seal = seal_sentence(r); !seal.empty()) out += para(seal);
  if (!r.job.unconfirmed.empty()) {
    out += para(
               "Guessed, and confirmed by nobody so far; each comes off the list “unconfirmed” in the job once it is "
               "checked:") +
           "<ul class=\"unconfirmed\">";
    for (const auto& u : r.job.unconfirmed)
      out += "<li translate=\"no\"><code>" + escape(u.key) + "</code>" +
             (u.value.empty() ? "" : " " + escape(u.value)) + "</li>";
    out += "</ul>\n";
  }
  if (provisional(r.job)) out += para("The verdict is provisional: nominal thickness or tolerance is such a guess.");
  return out;
}

}  // namespace gapfront::report
