// What is tried in the page: its data as text.
#pragma once
#include <string>

#include "gapfront/inspection.hpp"

namespace gapfront::report {

/// Bytes deflated, in base64; none for none.
std::string trial_text(const std::string& bytes);
/// Puts them back; false for what is no packed case of the inspection's mesh.
bool put_trials(const std::string& text, Inspection&);

}  // namespace gapfront::report
