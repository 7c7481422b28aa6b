// The diagnosis of an inspection.
#include "gapfront/pipeline.hpp"
#include "pipeline/facts.hpp"

namespace gapfront::pipeline {

Diagnosis diagnose(const Inspection& r, const std::vector<DrySpot>& spots, DiagnoseOptions options,
                   const Progress& progress) {
  options.obstacle = r.outcome.obstacle;
  return diagnosis::diagnose(facts_of(r), r.plan, spots, options, progress);
}

}  // namespace gapfront::pipeline
