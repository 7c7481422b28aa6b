// The whole inspection, in its steps, from a job file.
#include "gapfront/pipeline.hpp"

#include <pybind11/eigen.h>
#include <pybind11/stl.h>
#include <pybind11/stl/filesystem.h>

#include "gapfront/characteristics.hpp"
#include "gapfront/report.hpp"
#include "gapfront/text.hpp"
#include "python/arrays.hpp"
#include "python/classes.hpp"

namespace gapfront::python {
namespace {

void bind_job(py::module_& m) {
  settings<EnsembleOptions>(m, "EnsembleOptions", "Fillings drawn at random.")
      .def_readwrite("runs", &EnsembleOptions::runs)
      .def_readwrite("seed", &EnsembleOptions::seed)
      .def_readwrite("spread", &EnsembleOptions::spread)
      .def_readwrite("min_dry", &EnsembleOptions::min_dry);
  py::class_<Job>(m, "Job", "All that one inspection needs; read_job() makes it.")
      .def_readonly("file", &Job::file)
      .def_readonly("text", &Job::text)
      .def_readwrite("name", &Job::name)
      .def_readwrite("tool", &Job::tool)
      .def_readwrite("date", &Job::date)
      .def_readwrite("note", &Job::note)
      .def_readwrite("photo", &Job::photo)
      .def_readwrite("cycles", &Job::cycles)
      .def_readwrite("language", &Job::language)
      .def_readwrite("output", &Job::output)
      .def_property_readonly("lower_file", [](const Job& j) { return j.lower.file; })
      .def_property_readonly("upper_file", [](const Job& j) { return j.upper.file; })
      .def_readwrite("clean", &Job::clean)
      .def_readwrite("align", &Job::align)
      .def_readwrite("sheet", &Job::sheet)
      .def_readwrite("gap", &Job::gap)
      .def_readwrite("tolerance", &Job::tolerance)
      .def_readwrite("laminate", &Job::laminate)
      .def_readwrite("flow", &Job::flow)
      .def_readwrite("ensemble", &Job::ensemble);
  m.def("read_job", &job::read_job, py::arg("file"), "A job file (TOML).");
  m.def(
      "draft_job",
      [](const std::filesystem::path& lower, const std::filesystem::path& upper, const std::filesystem::path& folder) {
        return apart([&] { return pipeline::draft_job(lower, upper, folder); });
      },
      py::arg("lower"), py::arg("upper"), py::arg("relative_to"),
      "The text of a job file for two scans, to be filled in.");
}

std::vector<Correction> chosen(const Inspection& i) {
  std::vector<Correction> out;
  for (const int k : i.plan.chosen) out.push_back(i.plan.candidates[k]);
  return out;
}

void bind_correction(py::module_& m) {
  py::class_<Correction> c(m, "Correction", "Something to change, with its effect re-computed; mm, mm2, mm3, g, h.");
  c.def_property_readonly("kind", [](const Correction& x) { return to_string(x.kind); });
  c.def_readonly("name", &Correction::name).def_readonly("face", &Correction::face);
  c.def_readonly("region", &Correction::region).def_readonly("area", &Correction::area);
  c.def_property_readonly("centre", [](const Correction& x) { return x.centre; });
  c.def_readonly("mean", &Correction::mean).def_readonly("peak", &Correction::peak);
  c.def_readonly("volume", &Correction::volume).def_readonly("mass", &Correction::mass);
  c.def_readonly("effort", &Correction::effort).def_readonly("benefit", &Correction::benefit);
  c.def_property_readonly("instruction", [](const Correction& x) { return in_words(x.instruction, " "); });
  field(c, "outline", &Correction::outline, "(K, 3), mm, closed.");
  field(c, "gap_change", &Correction::gap_change, "(N,), mm; empty where it was not chosen.");
}

void bind_steps(py::module_& m) {
  const auto own = py::return_value_policy::reference_internal;
  py::class_<Measured> a(m, "Measured", "What measure() finds.");
  a.def_readwrite("job", &Measured::job, "As measured with: seal line, masks and search bounds filled in.");
  a.def_property_readonly(
      "sheet", [](const Measured& x) { return &x.sheet; }, own);
  a.def_property_readonly(
      "gap", [](const Measured& x) { return &x.gap; }, own);
  a.def_property_readonly(
      "verdict", [](const Measured& x) { return &x.verdict; }, own);
  a.def_property_readonly(
      "alignment", [](const Measured& x) { return &x.alignment; }, own);
  a.def_readonly("lower_clean", &Measured::lower_clean).def_readonly("upper_clean", &Measured::upper_clean);
  a.def_readonly("lower_sha256", &Measured::lower_sha256).def_readonly("upper_sha256", &Measured::upper_sha256);
  a.def_readonly("job_sha256", &Measured::job_sha256).def_readonly("version", &Measured::version);
  a.def_property_readonly(
      "doubt",
      [](const Measured& x) -> py::object {
        return x.doubt ? py::object(py::str(in_words(x.doubt->text))) : py::object(py::none());
      },
      "Why nothing is said of the gap; None: nothing stands in the way.");
  a.def_property_readonly("warnings", [](const Measured& x) {
    std::vector<std::string> out;
    for (const Message& w : x.warnings) out.push_back(in_words(w));
    return out;
  });
  py::class_<Predicted, Measured> b(m, "Predicted", "What predict() adds; s, Pa.");
  field(b, "flow_gap", &Predicted::flow_gap, "(N,), mm: measured, or assumed where not measured.");
  b.def_property_readonly(
      "laminate", [](const Predicted& x) { return &x.laminate; }, own);
  b.def_property_readonly(
      "filling", [](const Predicted& x) { return &x.filling; }, own);
  b.def_property_readonly(
      "nominal_filling", [](const Predicted& x) { return &x.nominal_filling; }, own);
  b.def_property_readonly(
      "lead", [](const Predicted& x) { return &x.lead; }, own);
  py::class_<Inspection, Predicted> c(m, "Inspection", "What correct() adds, and with it the whole.");
  c.def_property_readonly("corrections", &chosen, "Those chosen.");
  c.def_property_readonly(
      "filling_after", [](const Inspection& x) { return &x.filling_after; }, own);
  c.def_property_readonly(
      "outcome", [](const Inspection& x) { return report::outcome_line(x); }, "In one line.");

  m.def("validate", &pipeline::validate, py::arg("job"), "Raises what is wrong with the job before a scan is read.");
  m.def(
      "measure",
      [](const Job& j, const py::object& f) {
        return apart([&, p = progress_of(f)] { return pipeline::measure(j, p); });
      },
      py::arg("job"), py::arg("progress") = py::none(), "Scans, registration, sheet, gap, verdict.");
  m.def(
      "predict",
      [](const Measured& x, const py::object& f) {
        return apart([&, p = progress_of(f)] { return pipeline::predict(x, p); });
      },
      py::arg("measured"), py::arg("progress") = py::none(), "How the mold closes and fills.");
  m.def(
      "correct",
      [](const Predicted& x, const py::object& f) {
        return apart([&, p = progress_of(f)] { return pipeline::correct(x, p); });
      },
      py::arg("predicted"), py::arg("progress") = py::none(), "What to change, re-computed.");
  m.def(
      "inspect",
      [](const Job& j, const py::object& f) {
        return apart([&, p = progress_of(f)] { return pipeline::inspect(j, p); });
      },
      py::arg("job"), py::arg("progress") = py::none(), "All of them.");
}

void bind_report(py::module_& m) {
  py::class_<Characteristic>(m, "Characteristic", "One value that was judged; mm.")
      .def_readonly("id", &Characteristic::id)
      .def_readonly("what", &Characteristic::what)
      .def_property_readonly("at", [](const Characteristic& x) { return x.at; })
      .def_readonly("nominal", &Characteristic::nominal)
      .def_readonly("low", &Characteristic::low)
      .def_readonly("high", &Characteristic::high)
      .def_readonly("measured", &Characteristic::measured)
      .def_readonly("U", &Characteristic::U)
      .def_readonly("decision", &Characteristic::decision)
      .def_readonly("area", &Characteristic::area);
  m.def("characteristics", &report::characteristics, py::arg("inspection"), "What was judged, for other programs.");
  m.def(
      "result_json", [](const Inspection& i, bool with_times) { return report::result_json(i, with_times); },
      py::arg("inspection"), py::arg("with_times") = true, "The text of result.json.");
  m.def("read_result", &report::read_result, py::arg("json"), "What result.json holds.");
  m.def("report_html", &report::report_html, py::arg("inspection"), "The report's page.");
  m.def(
      "write_report",
      [](const Inspection& i, const std::filesystem::path& folder) {
        apart([&] {
          report::write_report(report::report_files(i), folder);
          return 0;
        });
      },
      py::arg("inspection"), py::arg("folder"), "All files of a report, as `gapfront inspect` writes them.");
}

}  // namespace

void bind_pipeline(py::module_& m) {
  bind_job(m);
  bind_correction(m);
  bind_steps(m);
  bind_report(m);
}

}  // namespace gapfront::python
