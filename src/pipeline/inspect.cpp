// All steps in a row.
#include <limits>

#include "gapfront/pipeline.hpp"

namespace gapfront::pipeline {
namespace {

/// Numbers that nothing was computed for are no zeros: they are written as null.
void withhold(Inspection& r) {
  const double none = std::numeric_limits<double>::quiet_NaN();
  for (Filling* f : {&r.nominal_filling, &r.filling, &r.filling_after})
    f->fill_time = f->last_to_vent = f->injected = f->resin = none;
  for (Effect* e : {&r.plan.now, &r.plan.after}) *e = {none, none, none, none, none, none, none};
  for (double* v : {&r.laminate.under_filled_area, &r.laminate.over_packed_area, &r.laminate.weight_out_area,
                    &r.lead.max_s, &r.lead.rms_s})
    *v = none;
  for (StateOutcome* s : {&r.outcome.now, &r.outcome.after, &r.outcome.nominal})
    s->out_area = s->out_low = s->out_high = s->expected_dry = s->balance = s->local_margin = s->fill_time = none;
}

}  // namespace

Inspection inspect(const Job& job, const Progress& progress, const Sheet* given, const Record* before) {
  Measured measured = measure(job, progress, given);
  if (before) measured.moves = history::moves_since(measured.sheet, measured.gap, *before);
  Inspection out;
  if (measured.doubt) {
    static_cast<Measured&>(out) = std::move(measured);
    withhold(out);
  } else {
    out = correct(predict(std::move(measured), progress), progress);
  }
  out.halves.reset();
  report_progress(progress, "done", 1);
  return out;
}

}  // namespace gapfront::pipeline
