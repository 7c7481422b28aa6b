// result.json read back, for the report to be made again without computing anything anew.
#include <algorithm>

#include "gapfront/error.hpp"
#include "gapfront/report.hpp"
#include "report/describe/reader.hpp"
#include "report/describe/result.hpp"
#include "report/pages.hpp"

namespace gapfront::report {
namespace {

using report::Json;

/// What follows from the fields.
void complete(Inspection& r) {
  r.gap.registration = r.alignment.covariance, r.gap.pivot = r.alignment.pivot;
  for (std::size_t i = 0; i < r.gap.nodes.size(); ++i)
    if (r.gap.nodes[i].measured) r.gap.nodes[i].direction = r.sheet.normals[i];
  if (r.doubt) {
    r.verdict.node.assign(r.sheet.size(), Conformity::not_judged);
  } else if (r.flow_gap.empty()) {  // of a rigid half it is no field
    r.flow_gap = r.verdict.nominal;
    if (r.flow_gap.size() == r.sheet.size() && r.gap.nodes.size() == r.sheet.size())
      r.gap.assumed = cavity::assume_gap(r.sheet, r.gap, r.flow_gap), r.flow_gap = r.gap.assumed.gap;
  }
}

Inspection read(const Json& json) {
  Inspection r;
  report::Reader reader(json, report::nodes_of(json));
  describe(reader, r);
  Sheet sheet = cavity::make_sheet(r.sheet.mesh);
  // Of the sheet itself, not of its rounded nodes.
  sheet.edge_p05 = r.sheet.edge_p05, sheet.edge_p50 = r.sheet.edge_p50, sheet.edge_p95 = r.sheet.edge_p95;
  sheet.min_angle_deg = r.sheet.min_angle_deg, sheet.uncovered_area = r.sheet.uncovered_area;
  sheet.masked_area = r.sheet.masked_area;
  r.sheet = std::move(sheet);
  complete(r);
  return r;
}

}  // namespace

Inspection read_result(const std::string& text) {
  Json j;
  try {
    j = Json::parse(text);
  } catch (const Json::exception&) {
    throw Error(Fault::input, "it is cut short or no JSON; inspect again");
  }
  return result_in(j);
}

Inspection result_in(const Json& j) {
  if (!j.is_object() || !j.contains("format") || j["format"] != "gapfront result")
    throw Error(Fault::input, "it is some other JSON file; give the folder that gapfront inspect wrote");
  if (!j.contains("format_version") || j["format_version"] != report::kResultVersion)
    throw Error(Fault::input, "its format version is " + j.value("format_version", Json()).dump() +
                                  ", this program reads " + std::to_string(report::kResultVersion) +
                                  " only; inspect its scans again with this program, or use the program that wrote it");
  try {
    return read(j);
  } catch (const Error& e) {
    throw Error(Fault::input, std::string("it is incomplete or was edited (") + e.what() + "); inspect again");
  }
}

}  // namespace gapfront::report
