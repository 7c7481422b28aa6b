// Templates to be cut out and laid on the face: SVG and PDF, at 1:1.
#pragma once
#include <string>

#include "gapfront/inspection.hpp"
#include "gapfront/report.hpp"

namespace gapfront::report {

/// What kind of work it is and, on a face, on which: "build-up, lower face".
Message work_words(const Correction&);
/// "C1", or "C1 part 2" of a template that was split.
Message template_name(const Correction&, const Template&);
/// "template-C1-part-2.svg"
std::string template_file(const Correction&, const Template&, const char* extension);
/// Every template of the chosen corrections as an SVG of its own: file name and text. Its units are millimetres.
FileSet template_svgs(const Inspection&);
/// All of them tiled to A4 or Letter, with marks to join the sheets by and a bar to check the scale on every sheet.
/// Empty when there is no template.
std::string templates_pdf(const Inspection&);

}  // namespace gapfront::report
