// What corrections and diagnosis need to know of an inspection.
#pragma once
#include "gapfront/inspection.hpp"

namespace gapfront::pipeline {

/// Refers to the inspection, which must outlive it. Without scans, nominal faces and drawn fillings.
inline CorrectInput facts_of(const Predicted& p) {
  return {.sheet = p.sheet,
          .gap = p.gap,
          .tolerance = p.job.tolerance,
          .verdict = p.verdict,
          .laminate = p.job.laminate,
          .flow = p.job.flow,
          .nominal = p.nominal_filling,
          .measured = p.filling,
          .lead = p.lead,
          .breathing = &p.breathing,
          .nominal_breathing = &p.nominal_breathing,
          .moves = p.moves.since.empty() ? nullptr : &p.moves};
}

}  // namespace gapfront::pipeline
