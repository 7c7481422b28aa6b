// Pages without a script: a re-check, a diagnosis, a shot, a study. The first three are made from their JSON file and
// nothing else.
#pragma once
#include <string>
#include <vector>

#include "report/figures.hpp"
#include "report/html.hpp"

namespace gapfront::report {

/// What the maps need of an inspection: the job's units and vents, and the sheet.
Inspection stage_of(const Job&, Mesh);

using Rows = std::vector<std::vector<std::string>>;
/// The finished page; `facts` and `body` are HTML.
std::string plain_page(const Job& job, const Message& title, const std::string& facts, const std::string& body);
std::string section(const std::string& id, const std::string& title, const std::string& body);
/// Says that report and work order lie in the same folder, with a link to the report.
std::string beside(const Voice&);
/// What a reader opens who wants to know more.
std::string folded(const std::string& summary, const std::string& body);
/// The outcome's line, where the file has one.
std::string outcome_of(const Voice&, const Text& outcome);
/// A box with the verdict; `style` is "ok", "maybe" or "bad".
std::string verdict_box(const std::string& style, const std::string& word, const std::string& headline,
                        const std::string& more);

}  // namespace gapfront::report
