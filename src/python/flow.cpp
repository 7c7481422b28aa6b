// The filling, and where it leads.
#include "gapfront/flow.hpp"

#include <pybind11/eigen.h>
#include <pybind11/stl.h>

#include "python/arrays.hpp"
#include "python/classes.hpp"

namespace gapfront::python {
namespace {

void bind_ports(py::module_& m) {
  auto inlet = item<Inlet>(m, "Inlet", "Where resin enters: the whole rim, or all within `radius` of a path; mm.");
  inlet.def_readwrite("name", &Inlet::name).def_readwrite("perimeter", &Inlet::perimeter);
  places(inlet, "path", &Inlet::path, "(K, 3), mm");
  inlet.def_readwrite("radius", &Inlet::radius);
  inlet.def_readwrite("runner_width", &Inlet::runner_width).def_readwrite("runner_depth", &Inlet::runner_depth);
  auto vent = item<Vent>(m, "Vent", "Where air leaves; mm, s.");
  vent.def_readwrite("name", &Vent::name);
  places(vent, "path", &Vent::path, "(K, 3), mm");
  vent.def_readwrite("radius", &Vent::radius).def_readwrite("bleed", &Vent::bleed);
  vent.def_readwrite("blocked_from", &Vent::blocked_from);
  item<RateStep>(m, "RateStep", "From this injected volume (mm3) on, this rate (mm3/s).")
      .def_readwrite("from_volume", &RateStep::from)
      .def_readwrite("rate", &RateStep::rate);
  settings<ClosingOptions>(m, "ClosingOptions", "What holds the mold shut besides the vacuum; Pa, Pa mm2, mm.")
      .def_readwrite("pressure", &ClosingOptions::pressure)
      .def_readwrite("force", &ClosingOptions::force)
      .def_readwrite("perimeter_vacuum", &ClosingOptions::perimeter_vacuum)
      .def_readwrite("perimeter_width", &ClosingOptions::perimeter_width)
      .def_readwrite("safety", &ClosingOptions::safety);
  auto options = settings<FlowOptions>(m, "FlowOptions", "Resin, ports and pump; Pa s, Pa, mm3/s.");
  items(options, "inlets", &FlowOptions::inlets);
  items(options, "vents", &FlowOptions::vents);
  items(options, "schedule", &FlowOptions::schedule);
  options.def_readwrite("viscosity", &FlowOptions::viscosity)
      .def_readwrite("pressure_limit", &FlowOptions::pressure_limit)
      .def_readwrite("cavity_pressure", &FlowOptions::cavity_pressure)
      .def_readwrite("closing", &FlowOptions::closing)
      .def_readwrite("gel_time", &FlowOptions::gel_time)
      .def_readwrite("min_rate", &FlowOptions::min_rate)
      .def_readwrite("rate_setting", &FlowOptions::rate_setting);
}

void bind_filling(py::module_& m) {
  py::class_<Pocket> p(m, "Pocket", "Air the front has closed around; mm, mm2, mm3, s, Pa.");
  p.def_property_readonly("centre", [](const Pocket& x) { return x.centre; });
  p.def_readonly("closed_at", &Pocket::closed_at).def_readonly("initial_volume", &Pocket::initial_volume);
  p.def_readonly("final_volume", &Pocket::final_volume).def_readonly("final_pressure", &Pocket::final_pressure);
  p.def_readonly("area", &Pocket::area);
  field(p, "nodes", &Pocket::nodes, "nodes inside when it closed.");
  py::class_<Filling> f(m, "Filling", "How the sheet fills; s, Pa, mm3. Arrays are read-only views.");
  field(f, "arrival", &Filling::arrival, "(N,), s; infinity where resin never comes.");
  field(f, "peak_pressure", &Filling::peak_pressure, "(N,), Pa, absolute.");
  field(f, "vent_closed_at", &Filling::vent_closed_at, "per vent, s; infinity if never reached.");
  node_field(f, "time", &Filling::history, &FlowSample::time, "(T,), s, of the three below.");
  node_field(f, "inlet_pressure", &Filling::history, &FlowSample::inlet_pressure, "(T,), Pa above atmosphere.");
  node_field(f, "rate", &Filling::history, &FlowSample::rate, "(T,), mm3/s.");
  node_field(f, "filled", &Filling::history, &FlowSample::filled, "(T,), share.");
  f.def_readonly("fill_time", &Filling::fill_time).def_readonly("last_node", &Filling::last_node);
  f.def_readonly("last_to_vent", &Filling::last_to_vent).def_readonly("pockets", &Filling::pockets);
  f.def_readonly("injected", &Filling::injected).def_readonly("resin", &Filling::resin);
  f.def_property_readonly("dry_area", &flow::dry_area, "What the pockets leave dry, mm2.");
  f.def_property_readonly("warnings", [](const Filling& x) { return in_words(x.warnings, "\n"); });
  py::class_<LeadRegion> r(m, "LeadRegion", "A part where the front leads; s, mm, mm2.");
  r.def_property_readonly("centre", [](const LeadRegion& x) { return x.centre; });
  r.def_readonly("area", &LeadRegion::area).def_readonly("peak_s", &LeadRegion::peak_s);
  r.def_readonly("mean_s", &LeadRegion::mean_s).def_readonly("fed_by", &LeadRegion::fed_by);
  field(r, "nodes", &LeadRegion::nodes, "indices of nodes.");
  py::class_<Lead> l(m, "Lead", "How far a front is ahead of the nominal one. Arrays are read-only views.");
  field(l, "seconds", &Lead::seconds, "(N,), s; positive: early.");
  field(l, "mm", &Lead::mm, "(N,), mm.");
  field(l, "percent", &Lead::percent, "(N,), of the nominal fill time.");
  l.def_readonly("max_s", &Lead::max_s).def_readonly("rms_s", &Lead::rms_s).def_readonly("max_node", &Lead::max_node);
  l.def_readonly("fill_time", &Lead::fill_time);
  l.def_readonly("regions", &Lead::regions);
}

}  // namespace

void bind_flow(py::module_& m) {
  bind_ports(m);
  bind_filling(m);
  m.def(
      "fill",
      [](const Sheet& sheet, const LaminateMap& laminate, const FlowOptions& options, const py::object& progress) {
        return apart([&, p = progress_of(progress)] { return flow::fill(sheet, laminate, options, p); });
      },
      py::arg("sheet"), py::arg("laminate"), py::arg("options"), py::arg("progress") = py::none(),
      "Fills the sheet until every node is reached, or what is left is shut-in air.");
  m.def("compare_fillings", &flow::compare_fillings, py::arg("sheet"), py::arg("nominal"), py::arg("measured"),
        "Where and by how much the second front is ahead of the first.");
}

}  // namespace gapfront::python
