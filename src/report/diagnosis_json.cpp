#include "gapfront/pages.hpp"
#include "gapfront/report.hpp"
#include "report/describe/diagnosis.hpp"
#include "report/describe/reader.hpp"
#include "report/describe/schema.hpp"
#include "report/describe/writer.hpp"
#include "report/fields.hpp"
#include "report/pages.hpp"

namespace gapfront::report {
namespace {

SpotFile spot_file(const SpotDiagnosis& d, const CorrectionPlan& plan) {
  SpotFile out{d, {}, {}};
  if (d.plan_works) out.planned = CureEffect{{}, 0, d.plan_trouble, d.plan_chance, d.plan_fill_time, {}, {}};
  if (d.cure_by == CureBy::none) return out;
  CureEffect& cure = out.cure.emplace();
  cure.trouble = d.cure_trouble, cure.chance = d.cure_chance, cure.fill_time = d.cure_fill_time;
  const auto add = [&](int k) {
    const Correction& c = plan.candidates.at(k);
    cure.parts.push_back({c.name, c.kind});
    cure.effort += c.effort;
  };
  for (const int k : plan.chosen) add(k);
  if (d.cure_by == CureBy::one) add(d.cure);
  cure.before = plan.now;
  if (d.cure_by == CureBy::plan) cure.after = plan.after;
  if (d.cure_by == CureBy::one && plan.chosen.empty()) cure.after = plan.candidates.at(d.cure).after;
  return out;
}

}  // namespace

DiagnosisFile read_diagnosis(const Json& json) {
  DiagnosisFile file;
  Reader reader(json, nodes_of(json));
  describe(reader, file);
  return file;
}

}  // namespace gapfront::report

namespace gapfront::report {

std::string diagnosis_json(const Inspection& r, const Diagnosis& d) {
  report::DiagnosisFile file;
  file.job = r.job, file.version = r.version, file.job_sha256 = r.job_sha256;
  file.lower_sha256 = r.lower_sha256, file.upper_sha256 = r.upper_sha256, file.outcome = outcome_says(r);
  for (const auto& s : d.spots) file.spots.push_back(report::spot_file(s, r.plan));
  file.fillings = d.fillings, file.unsettled = d.unsettled, file.cured_below = d.cured_below;
  file.air_now = r.outcome.now.air, file.air_after = r.outcome.after.air;
  file.fill_time = r.filling.fill_time, file.nominal_fill_time = r.nominal_filling.fill_time;
  file.pockets = r.filling.pockets, file.nominal_pockets = r.nominal_filling.pockets;
  file.regions = r.verdict.regions, file.mesh = r.sheet.mesh;
  const auto all = report::fields(r);
  file.deviation = find_field(all, "deviation_mm").values, file.lead = find_field(all, "lead_s").values;
  file.arrival = find_field(all, "arrival_s").values;
  file.nominal_arrival = find_field(all, "arrival_nominal_s").values;
  report::Writer writer;
  describe(writer, std::as_const(file));
  return writer.out.dump(1) + "\n";
}

std::string diagnosis_schema() {
  report::Json definitions = report::first_definitions();
  report::Schema schema(definitions);
  report::DiagnosisFile file;
  describe(schema, file);
  return schema_text("diagnosis", kDiagnosisVersion, schema, definitions);
}

}  // namespace gapfront::report
