// What an earlier inspection predicted, from its result.json.
#pragma once
#include <filesystem>
#include <iosfwd>

#include "gapfront/inspection.hpp"

namespace gapfront::cli {

/// Throws Error{Fault::input} for a file that is no result, is of another tool, or predicts nothing.
Prediction read_prediction(const std::filesystem::path& result, const Job&);
/// The earlier inspection's name and date.
std::string prediction_words(const Prediction&);
/// Tests it, and keeps the outcome in the inspection.
void test_prediction(const Prediction&, Inspection&);
void print_expected(const Inspection&, std::ostream&);

}  // namespace gapfront::cli
