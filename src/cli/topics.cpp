// The topics of `gapfront help TOPIC` but the job file's: units, uncertainty, messages.
#include <algorithm>

#include "cli/manual.hpp"
#include "gapfront/catalogue.hpp"
#include "units/known_units.hpp"

namespace gapfront::cli {
namespace {

bool is_sentence(const std::string& text) { return text.ends_with('.') && text.find(' ') != std::string::npos; }

/// The catalogue's texts whose identifiers begin like this, in English; of `sentences`, no headings and words.
std::vector<Item> texts_of(const std::string& prefix, bool sentences) {
  std::vector<Item> out;
  const Catalogue* english = catalogue_of("en");
  for (auto it = english->texts.lower_bound(prefix); it != english->texts.end() && it->first.starts_with(prefix); ++it)
    if (!sentences || is_sentence(it->second.one)) out.push_back({it->first, it->second.one});
  return out;
}

}  // namespace

std::string topic_name(const ManualPage& page) { return page.name.substr(page.name.find(' ') + 1); }

std::vector<ManualPage> topics() { return {topic_job(), topic_units(), topic_uncertainty(), topic_messages()}; }

ManualPage topic_units() {
  ManualPage page{
      "gapfront units", 7, "quantities in the job file and on the command line, and what a report prints in", {}};
  page.parts.push_back(
      {"How a quantity is written",
       {"nominal = \"3.05 mm\"", "pressure_limit = \"0.4 bar above atmosphere\"", "at = \"120, 45.5, 12 mm\""},
       "A quantity is text: a number, then its unit. A bare number is refused, with the line and an "
       "example; a share may be one (0.35 is 35 %). The decimal sign is the point. A place has one "
       "unit behind its three coordinates. \"mil\" is refused, because it means thou to some and "
       "millimetre to others.\n\n"
       "Pressures say what they count from: \"… above atmosphere\" or \"… absolute\" for a limit; \"50 "
       "% of atmosphere\", \"0.5 bar below atmosphere\" or \"0.5 bar absolute\" for a vacuum.\n\n"
       "On the command line a length without a unit is in the job's: mm, or in where [job] units = "
       "\"inch\".",
       {}});
  Part known{"The units that are known", {}, "", {}};
  for (const KnownUnits& k : known_units()) {
    std::string names;
    for (const auto& n : k.names) names += (names.empty() ? "" : "  ") + n;
    known.items.push_back({k.what, names + "; e.g. \"" + k.example + "\""});
  }
  page.parts.push_back(std::move(known));
  page.parts.push_back(
      {"Where the factors are from",
       {},
       "NIST Special Publication 811, appendix B. Inch, foot, pound, US gallon, litre, bar and standard "
       "atmosphere are exact by definition.",
       {}});
  page.parts.push_back({"In what is written",
                        {},
                        "Reports, work orders and templates print mm and bar, or inches, thou and psi, as [job] units "
                        "asks. In the data files the unit stands in the name: gap_mm, lead_s.",
                        {}});
  return page;
}

ManualPage topic_uncertainty() {
  ManualPage page{"gapfront uncertainty", 7, "what U is, how it is combined, and how it decides", {}};
  page.parts.push_back(
      {"What U is",
       {},
       "Each gap has a standard uncertainty u, and the expanded uncertainty U = 2 u beside it: about 95 "
       "% of gaps lie within ± U of the value printed. It is combined by JCGM 100:2008 (GUM) from what "
       "is independent at a place.",
       {}});
  page.parts.push_back(
      {"What goes in",
       {},
       "",
       {{"fit",
         "how well a local least-squares surface is known from the points around, of each half: from their "
         "scatter, and from what a surface of second order leaves out in tight radii"},
        {"instrument",
         "the scanner's own, as [cavity] u_instrument or [instrument] declares it; it does not shrink with more "
         "points; of a half in several scans, that of their joints is in it; warp and steps between passes go "
         "along the sheet by their length, and what balls or lands took along is no error of the gap"},
        {"registration",
         "the 6×6 covariance of the upper half's position, carried to the place and onto the direction "
         "of the gap; raised where targets disagree by more than their uncertainties explain"},
        {"temperature", "where temperatures and expansion are declared"}}});
  page.parts.push_back(
      {"What it decides",
       {},
       "The decision rule is that of ISO 14253-1. A place is judged by the mean gap over a disc about it, as "
       "large as [cavity] least_area (25 mm across unless the job says otherwise). It conforms where that "
       "mean is inside the limits by at least 1.65 of its standard uncertainty, so that a mold which is "
       "outside somewhere passes in 5 % of cases at most. It is nonconforming where the mean is outside by "
       "more than the largest error to be expected anywhere on the sheet (5 % as well, simulated), or where "
       "a narrow strip as long as the disc is. Between, it is undecided. Smaller places that are outside are "
       "listed and do not decide. What no scan covers is not measured, and nothing is judged there; only the flow "
       "takes a guess from around it, and the drawn fillings allow for how far off that may be.\n\n"
       "Undecided means: measure better, or accept it on purpose. With more points, a better scanner or "
       "more targets U shrinks; the report's budget says which part of it is largest.",
       {}});
  page.parts.push_back(
      {"Means and areas",
       {},
       "Neighbouring places share scan points and one registration, so the U of a mean is not U divided "
       "by the root of their number. It is computed from the points that fits share, and from the "
       "registration as a whole.",
       {}});
  page.parts.push_back({"What U does not hold",
                        {},
                        "A mold that closes otherwise than it was scanned: spot readings of the clamped mold "
                        "([[cavity.spot]]) tell. A scanner worse than declared. The front's uncertainty is another "
                        "matter: it follows from gap and scatter of the glass, by fillings drawn at random ([flow] "
                        "ensemble).",
                        {}});
  page.parts.push_back({"How to cite a result",
                        {},
                        "Give the version of the program, the SHA-256 of the job file and of both scans (all in "
                        "result.json and at the end of the report), the gap with its U (coverage factor 2), and the "
                        "decision rule.",
                        {}});
  return page;
}

ManualPage topic_messages() {
  ManualPage page{"gapfront messages", 7, "how errors, doubts and notes are reported, and what to do about them", {}};
  page.parts.push_back({"An error",
                        {"gapfront: my.toml:31: [cavity] nominal: no unit in \"3\"; write a length with its unit, …"},
                        "One line on standard error: the file and line or the key, the fault, the remedy. Nothing is "
                        "written then. Exit code 1: usage, job file or scan file. Exit code 2: the halves could not be "
                        "registered or measured.",
                        {}});
  page.parts.push_back({"A doubt",
                        {},
                        "Where registration's own tests fail, nothing is judged, because every number would rest on "
                        "halves that may lie otherwise. The report is written, with the likely reason as its headline "
                        "and without verdict, corrections and work order; the exit code is 2. Follow the headline, and "
                        "run again.",
                        {}});
  page.parts.push_back({"A note",
                        {},
                        "What you should know about a result that holds all the same. It stands under Note on the "
                        "terminal, in the report, and in result.json with its identifier.",
                        {}});
  page.parts.push_back(
      {"Identifiers",
       {},
       "What the stages say is in the JSON files as id, arguments and text. The id stays the same in "
       "every language, so let scripts go by it. In the lists below {1}, {2}… stand for the arguments.",
       {}});
  page.parts.push_back({"If a message is wrong",
                        {},
                        "If a refusal is wrong, or the program stops without one, report the line, the output of "
                        "gapfront --version, the job file and both scans (the smallest part of them that still shows "
                        "it), and result.json if there is one.",
                        {}});
  page.parts.push_back({"Verdicts", {}, "", texts_of("verdict.", false)});
  page.parts.push_back({"Doubts", {}, "", texts_of("doubt.", true)});
  page.parts.push_back({"Notes", {}, "", texts_of("warnings.", false)});
  std::vector<Item> of_corrections;
  for (const char* begin :
       {"corrections.no-glass-proposed-lies", "corrections.only-first-candidates-were",
        "corrections.shims-were-not-considered", "corrections.nothing-to-take-out", "optimiser.candidates-unsettled",
        "order.check-flange-carries-there", "order.job-gives-no-stations", "order.shims-were-not-considered"})
    for (Item& text : texts_of(begin, false)) of_corrections.push_back(std::move(text));
  page.parts.push_back({"Notes on corrections", {}, "", std::move(of_corrections)});
  page.parts.push_back({"On two scans (look, new)", {}, "", texts_of("survey.", false)});
  return page;
}

}  // namespace gapfront::cli
