// The verdict on the gap.
#include "gapfront/conformity.hpp"

#include <pybind11/eigen.h>
#include <pybind11/stl.h>

#include "python/arrays.hpp"
#include "python/classes.hpp"

namespace gapfront::python {
namespace {

void bind_limits(py::module_& m) {
  // In the order of the C++ one.
  m.attr("Conformity") = py::module_::import("enum").attr("IntEnum")(
      "Conformity", "conforming undecided nonconforming not_measured not_judged", py::arg("module") = "gapfront",
      py::arg("start") = 0);
  item<ToleranceZone>(m, "ToleranceZone", "A part of the sheet with limits of its own; mm.")
      .def_readwrite("name", &ToleranceZone::name)
      .def_readwrite("where", &ToleranceZone::where)
      .def_readwrite("nominal", &ToleranceZone::nominal)
      .def_readwrite("minus", &ToleranceZone::minus)
      .def_readwrite("plus", &ToleranceZone::plus);
  auto options =
      settings<ToleranceOptions>(m, "ToleranceOptions", "The limits: nominal - minus to nominal + plus; mm, mm2.");
  items(options, "zones", &ToleranceOptions::zones);
  options.def_readwrite("nominal", &ToleranceOptions::nominal)
      .def_readwrite("minus", &ToleranceOptions::minus)
      .def_readwrite("plus", &ToleranceOptions::plus)
      .def_property(
          "nominal_field",
          [](py::object self) { return view(self.cast<const ToleranceOptions&>().nominal_field, self).attr("copy")(); },
          [](ToleranceOptions& t, const py::object& v) { t.nominal_field = numbers_of(v, "nominal_field"); })
      .def_readwrite("min_region_area", &ToleranceOptions::min_region_area)
      .def_readwrite("allowed_nonconforming_fraction", &ToleranceOptions::allowed_nonconforming_fraction)
      .def_readwrite("min_area", &ToleranceOptions::min_area)
      .def_readwrite("unmeasured_fraction", &ToleranceOptions::unmeasured_fraction);
}

void bind_verdict(py::module_& m) {
  py::class_<DeviationRegion> r(m, "DeviationRegion", "A connected part that is provably outside; mm, mm2, mm3.");
  r.def_readonly("name", &DeviationRegion::name).def_readonly("high", &DeviationRegion::high);
  r.def_property_readonly("centre", [](const DeviationRegion& x) { return x.centre; });
  r.def_readonly("area", &DeviationRegion::area).def_readonly("volume", &DeviationRegion::volume);
  r.def_readonly("mean", &DeviationRegion::mean).def_readonly("peak", &DeviationRegion::peak);
  r.def_readonly("mean_U", &DeviationRegion::mean_U).def_readonly("decision", &DeviationRegion::decision);
  field(r, "nodes", &DeviationRegion::nodes, "indices of nodes.");
  field(r, "outline", &DeviationRegion::outline, "(K, 3), mm, closed.");

  py::class_<Verdict> v(m, "Verdict", "Is the gap within tolerance, provably? Arrays are read-only views.");
  v.def_readonly("overall", &Verdict::overall).def_readonly("covered", &Verdict::covered);
  v.def_property_readonly("headline", [](const Verdict& x) { return in_words(x.headline, " "); });
  v.def_property_readonly("would_change", [](const Verdict& x) { return in_words(x.would_change, " "); });
  field(v, "decision", &Verdict::node, "(N,), values of Conformity.");
  field(v, "nominal", &Verdict::nominal, "(N,), mm.");
  field(v, "deviation", &Verdict::deviation, "(N,), mm; NaN where not measured.");
  field(v, "remainder", &Verdict::remainder, "(N,), mm: the deviation left after the best-fit rigid motion.");
  node_field(v, "low", &Verdict::limits, &NodeLimits::low, "(N,), mm: lower limit.");
  node_field(v, "high", &Verdict::limits, &NodeLimits::high, "(N,), mm: upper limit.");
  v.def_property_readonly(
      "fraction",
      [](const Verdict& x) {
        py::dict out;
        for (std::size_t i = 0; i < x.fraction.size(); ++i) out[py::cast(static_cast<Conformity>(i))] = x.fraction[i];
        return out;
      },
      "Share of the area by decision.");
  v.def_readonly("regions", &Verdict::regions);
  v.def_readonly("mean", &Verdict::mean).def_readonly("sigma", &Verdict::sigma);
  v.def_readonly("p05", &Verdict::p05).def_readonly("p50", &Verdict::p50).def_readonly("p95", &Verdict::p95);
  v.def_readonly("minimum", &Verdict::minimum).def_readonly("maximum", &Verdict::maximum);
  v.def_property_readonly(
      "mean_U", [](const Verdict& x) { return x.mean_budget.U; }, "Expanded uncertainty of the mean deviation, mm.");
  v.def_readonly("offset", &Verdict::offset).def_readonly("offset_U", &Verdict::offset_U);
  v.def_property_readonly("tilt", [](const Verdict& x) { return x.tilt; });
  v.def_property_readonly("tilt_U", [](const Verdict& x) { return x.tilt_U; });
}

}  // namespace

void bind_conformity(py::module_& m) {
  bind_limits(m);
  bind_verdict(m);
  m.def(
      "decide",
      [](double y, double low, double high, double U) {
        return conformity::decide(y, {low, high}, U);
      },
      py::arg("y"), py::arg("low"), py::arg("high"), py::arg("U"), "The decision on one value; mm.");
  m.def(
      "judge",
      [](const Sheet& sheet, const GapMap& gap, const ToleranceOptions& options) {
        return apart([&] { return conformity::judge(sheet, gap, options); });
      },
      py::arg("sheet"), py::arg("gap"), py::arg("options") = ToleranceOptions{},
      "The decision at every node and of the whole, and the deviating regions.");
}

}  // namespace gapfront::python
