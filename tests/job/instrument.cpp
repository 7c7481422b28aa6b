// [instrument]: what the scanner's certificate says.
#include "job_text.hpp"

using namespace gapfront;
using namespace gapfront::test;

namespace {
std::string declaring(const std::string& lines) {
  return with(minimum, "[cavity]\n", "[instrument]\n" + lines + "[cavity]\n");
}
}  // namespace

TEST_CASE("A certificate is read for both halves, and for one where it differs") {
  const Job job =
      read(declaring("constant = \"15 um\"\nper_metre = \"0.02 mm\"\nstep = \"0.03 mm\"\n"
                     "pass_width = \"120 mm\"\nprobing = \"0.012 mm\"\ncorrelated = \"0.01 mm\"\n"
                     "correlation_length = \"4 mm\"\n[instrument.upper]\nstep = \"0.05 mm\"\n"));
  CHECK(job.instrument.lower.constant == Approx(0.015));
  CHECK(job.instrument.lower.per_metre == Approx(0.02));
  CHECK(job.instrument.lower.step == Approx(0.03));
  CHECK(job.instrument.lower.width == Approx(120));
  CHECK(job.instrument.lower.probing == Approx(0.012));
  CHECK(job.instrument.lower.sigma == Approx(0.01));
  CHECK(job.instrument.lower.length == Approx(4));
  CHECK(job.instrument.upper.step == Approx(0.05));
  CHECK(job.instrument.upper.constant == Approx(0.015));
  CHECK(job.gap.u_instrument == 0);
}

TEST_CASE("Without a certificate nothing is declared, and a certificate without A leaves u_instrument as it is") {
  CHECK_FALSE(read(minimum).instrument.declared());
  CHECK(read(declaring("step = \"0.03 mm\"\n")).gap.u_instrument == Approx(GapOptions{}.u_instrument));
}

TEST_CASE("A certificate that says nothing, or the same as another key, is refused") {
  const auto refused_with = [](const std::string& lines, const std::string& part) {
    CAPTURE(lines);
    CHECK_THROWS_WITH(read(declaring(lines)), Catch::Contains(part));
  };
  refused_with("", "declares nothing");
  refused_with("pass_width = \"120 mm\"\n", "add step");
  refused_with("correlation_length = \"6 mm\"\n", "add correlated or probing");
  refused_with("correlated = \"6 um\"\n", "add correlation_length");
  refused_with("step = 0.03\n", "e.g.");
  refused_with("stepp = \"0.03 mm\"\n", "did you mean \"step\"?");
  CHECK_THROWS_WITH(
      read(with(declaring("constant = \"15 um\"\n"), "nominal = ", "u_instrument = \"5 um\"\nnominal = ")),
      Catch::Contains("u_instrument say the same"));
}
