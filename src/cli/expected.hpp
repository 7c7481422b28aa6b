// --expects: an earlier result.json, and how its predictions came out.
#pragma once
#include <filesystem>
#include <iosfwd>

#include "gapfront/pipeline.hpp"

namespace gapfront::cli {

/// Throws Error{Fault::input} for a file that is no result, is of another tool, or predicts nothing.
Prediction read_prediction(const std::filesystem::path& result, const Job&);
void print_expected(const Inspection&, std::ostream&);

}  // namespace gapfront::cli
