#include "gapfront/pages.hpp"
#include "report/describe/reader.hpp"
#include "report/describe/recheck.hpp"
#include "report/describe/schema.hpp"
#include "report/describe/writer.hpp"
#include "report/pages.hpp"

namespace gapfront::report {

RecheckFile read_recheck(const Json& json) {
  RecheckFile file;
  Reader reader(json, nodes_of(json));
  reader.object("sheet", nullptr, [&](auto& g) { describe_mesh(g, file.recheck.sheet.mesh); });  // others need it
  describe(reader, file);
  file.recheck.sheet = cavity::make_sheet(std::move(file.recheck.sheet.mesh));
  return file;
}

std::string recheck_json(const Job& job, const Recheck& recheck, const Text& outcome) {
  Writer writer;
  const RecheckFile file{job, recheck, outcome};
  describe(writer, file);
  return writer.out.dump(1) + "\n";
}

std::string recheck_schema() {
  Json definitions = first_definitions();
  Schema schema(definitions);
  RecheckFile file;
  describe(schema, file);
  return schema_text("recheck", kRecheckVersion, schema, definitions);
}

}  // namespace gapfront::report
