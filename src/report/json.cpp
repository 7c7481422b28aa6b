#include "gapfront/error.hpp"
#include "gapfront/report.hpp"
#include "report/describe/result.hpp"
#include "report/describe/writer.hpp"

namespace gapfront::report {

std::string result_json(const Inspection& r, bool with_times) {
  Writer writer;
  describe(writer, r);
  if (!with_times) writer.out.erase("times_s");
  return writer.out.dump(1) + "\n";
}

}  // namespace gapfront::report
