// The sheet for the bench: how to weigh, press and fill the glass of a job in half an hour.
#pragma once
#include <string>
#include "gapfront/text.hpp"

namespace gapfront {

namespace report {
/// A page to print: what to do in which order, rows to write in, and how the job file takes the numbers. HTML, of one
/// file, without a script. `language`: of the page.
std::string bench_sheet_html(const std::string& language, UnitSystem units);
}  // namespace report

}  // namespace gapfront
