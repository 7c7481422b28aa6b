// [instrument]: what the scanner's certificate, or a check measurement, says.
#include "job/sections.hpp"

namespace gapfront::job {
namespace {

/// Keys that are not there stay as they are in `m`.
void read_model(Table& t, InstrumentModel& m) {
  const auto length = [&](const char* key, double& value) {
    value = t.quantity(key, Dimension::length, Sign::not_negative).value_or(value);
  };
  length("constant", m.constant), length("per_metre", m.per_metre), length("probing", m.probing);
  length("step", m.step), length("pass_width", m.width);
  length("correlated", m.sigma), length("correlation_length", m.length);
  if (m.width > 0 && m.step == 0) t.fail("pass_width", "is of steps, and none are declared; add step = \"0.025 mm\"");
  if (m.length > 0 && m.sigma == 0 && m.probing == 0)
    t.fail("correlation_length", "is of errors that are not declared; add correlated or probing, \"0.01 mm\"");
  if (m.sigma > 0 && m.length == 0)
    t.fail("correlated", "needs the length over which points err alike; add correlation_length = \"6 mm\"");
}

}  // namespace

void read_instrument(Table t, bool u_given, Job& job) {
  InstrumentModel both;
  read_model(t, both);
  job.instrument = {both, both};
  if (auto lower = t.table("lower")) read_model(*lower, job.instrument.lower), lower->done();
  if (auto upper = t.table("upper")) read_model(*upper, job.instrument.upper), upper->done();
  t.done();  // first: a mistyped key declares nothing, and that is not what is wrong with it
  if (!job.instrument.declared())
    t.fail("declares nothing; add constant = \"0.015 mm\" and what else the certificate says, or leave it out");
  const bool constant = job.instrument.lower.constant > 0 || job.instrument.upper.constant > 0;
  if (constant && u_given)
    t.fail("constant", "and [cavity] u_instrument say the same of the scanner; leave one of them out");
  if (constant) job.gap.u_instrument = 0;  // it takes the place of what stands there without a word
}

}  // namespace gapfront::job
