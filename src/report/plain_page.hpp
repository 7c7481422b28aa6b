// Pages without a script: a re-check and a diagnosis. They are made from their JSON file and nothing else.
#pragma once
#include <string>
#include <vector>

#include "report/figures.hpp"
#include "report/html.hpp"
#include "report/json_parts.hpp"

namespace gapfront::report {

/// Facts of the job for the head of a page and for its maps.
Json job_json(const Job&);
/// What the maps need: the sheet, the units, the vents, and as regions the file's list of that key.
Inspection stage_of(const Json& file, const char* regions);

using Rows = std::vector<std::vector<std::string>>;
/// A text of the file as HTML; a number, NaN for null.
std::string text_of(const Json&, const char* key);
double real_of(const Json&, const char* key);

/// The language that the job asked for.
std::string language_of(const Json& job);
/// The finished page, in English; `facts` and `body` are HTML.
std::string plain_page(const Json& job, const std::string& title, const std::string& facts, const std::string& body);
std::string section(const std::string& id, const std::string& title, const std::string& body);
/// The outcome's line, where the file has one.
std::string outcome_of(const Json& file);
/// A box with the verdict; `style` is "ok", "maybe" or "bad".
std::string verdict_box(const std::string& style, const std::string& word, const std::string& headline,
                        const std::string& more);
std::string bullets(const std::vector<std::string>& texts);

}  // namespace gapfront::report
