// The paper that a job's pages are printed on.
#pragma once
#include <string>

#include "gapfront/inspection.hpp"

namespace gapfront::report {

/// mm.
struct Paper {
  double width, height;
  Paper turned() const { return {height, width}; }
};
/// A4 (ISO 216), or Letter (ANSI A), as the job says.
Paper paper_of(const Inspection&);
/// Rules for printing: size, margins, and on each sheet the tool, the date, and its number of how many.
std::string paper_css(const Inspection&);

}  // namespace gapfront::report
