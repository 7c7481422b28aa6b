// What the glass does in the gap.
#include "gapfront/laminate.hpp"

#include <pybind11/eigen.h>
#include <pybind11/stl.h>

#include "python/arrays.hpp"
#include "python/classes.hpp"

namespace gapfront::python {
namespace {

/// A property of three numbers, copied both ways.
template <class Class, class Owner>
void vector_of(Class& c, const char* name, Vec3 Owner::*value) {
  c.def_property(
      name, [value](const Owner& x) { return x.*value; }, [value](Owner& x, const Vec3& v) { x.*value = v; });
}

void bind_glass(py::module_& m) {
  auto law = item<PermeabilityLaw>(m, "PermeabilityLaw", "K over the fibre fraction; mm2.");
  py::enum_<PermeabilityLaw::Kind>(law, "Kind")
      .value("power", PermeabilityLaw::Kind::power, "K = a Vf^-b")
      .value("exponential", PermeabilityLaw::Kind::exponential, "K = a e^(-b Vf)")
      .value("kozeny_carman", PermeabilityLaw::Kind::kozeny_carman)
      .value("table", PermeabilityLaw::Kind::table);
  law.def_readwrite("kind", &PermeabilityLaw::kind).def_readwrite("a", &PermeabilityLaw::a);
  law.def_readwrite("b", &PermeabilityLaw::b).def_readwrite("table", &PermeabilityLaw::table);
  law.def_readwrite("ratio", &PermeabilityLaw::ratio).def_readwrite("spread", &PermeabilityLaw::spread);
  law.def("at", &PermeabilityLaw::at, py::arg("vf"));
  auto spring = item<CompactionLaw>(m, "CompactionLaw", "Fibre fraction under pressure: Vf = a P^b, or a table; Pa.");
  py::enum_<CompactionLaw::Kind>(spring, "Kind")
      .value("power", CompactionLaw::Kind::power)
      .value("table", CompactionLaw::Kind::table);
  spring.def_readwrite("kind", &CompactionLaw::kind).def_readwrite("a", &CompactionLaw::a);
  spring.def_readwrite("b", &CompactionLaw::b).def_readwrite("table", &CompactionLaw::table);
  spring.def("pressure", &CompactionLaw::pressure, py::arg("vf"));
  item<Reinforcement>(m, "Reinforcement", "One ply's numbers: g/mm2, mm, g/mm3.")
      .def_readwrite("name", &Reinforcement::name)
      .def_readwrite("areal_weight", &Reinforcement::areal_weight)
      .def_readwrite("loft", &Reinforcement::loft)
      .def_readwrite("density", &Reinforcement::density)
      .def_readwrite("permeability", &Reinforcement::permeability)
      .def_readwrite("compaction", &Reinforcement::compaction)
      .def_property_readonly("source", [](const Reinforcement& x) { return in_words(x.source, "; "); });
  m.def("reinforcements", &laminate::reinforcements, "The built-in ones, with the source of their numbers.");
  m.def("find_reinforcement", &laminate::find_reinforcement, py::arg("name"));
  item<Ply>(m, "Ply", "So many plies of one reinforcement.")
      .def_readwrite("reinforcement", &Ply::reinforcement)
      .def_readwrite("count", &Ply::count)
      .def_readwrite("direction_deg", &Ply::direction_deg);
  auto zone = item<LaminateZone>(m, "LaminateZone", "Glass that is not the same everywhere.");
  zone.def_readwrite("name", &LaminateZone::name).def_readwrite("where", &LaminateZone::where);
  zone.def_readwrite("adds", &LaminateZone::adds);
  items(zone, "plies", &LaminateZone::plies);
  zone.def_readwrite("drape", &LaminateZone::drape);
  vector_of(zone, "axis", &LaminateZone::axis);
  auto options = settings<LaminateOptions>(m, "LaminateOptions", "The glass, and what presses on it; Pa, g/mm3.");
  items(options, "plies", &LaminateOptions::plies);
  items(options, "zones", &LaminateOptions::zones);
  options.def_readwrite("resin_density", &LaminateOptions::resin_density);
  options.def_readwrite("clamping_pressure", &LaminateOptions::clamping_pressure);
  options.def_readwrite("weight_fraction_low", &LaminateOptions::weight_fraction_low);
  options.def_readwrite("weight_fraction_high", &LaminateOptions::weight_fraction_high);
  vector_of(options, "axis", &LaminateOptions::axis);
}

}  // namespace

void bind_laminate(py::module_& m) {
  bind_glass(m);
  py::class_<LaminateMap> l(m, "LaminateMap", "What the glass does at every node. Arrays are read-only views.");
  l.def("__len__", [](const LaminateMap& x) { return x.nodes.size(); });
  const auto node = [&l](const char* name, auto member, const char* doc) {
    node_field(l, name, &LaminateMap::nodes, member, doc);
  };
  node("vf", &NodeLaminate::vf, "(N,), fibre volume fraction.");
  node("weight_fraction", &NodeLaminate::weight_fraction, "(N,)");
  node("porosity", &NodeLaminate::porosity, "(N,), resin volume over cavity volume.");
  node("loft", &NodeLaminate::loft, "(N,), mm, of the free stack.");
  node("channel", &NodeLaminate::channel, "(N,), mm: what the glass leaves open.");
  node("compaction", &NodeLaminate::compaction, "(N,), Pa.");
  node("conductance", &NodeLaminate::conductance, "(N,), mm3, along the first direction.");
  node("conductance2", &NodeLaminate::conductance2, "(N,), mm3, across it.");
  node("fluid_thickness", &NodeLaminate::fluid_thickness, "(N,), mm: resin volume per sheet area.");
  node("under_filled", &NodeLaminate::under_filled, "(N,)");
  node("over_packed", &NodeLaminate::over_packed, "(N,)");
  l.def_readonly("under_filled_area", &LaminateMap::under_filled_area);
  l.def_readonly("over_packed_area", &LaminateMap::over_packed_area);
  l.def_readonly("compaction_load", &LaminateMap::compaction_load);
  m.def(
      "evaluate_laminate",
      [](const Sheet& sheet, const py::object& gap, const LaminateOptions& options) {
        const std::vector<double> g = numbers_of(gap, "gap");
        return apart([&] { return laminate::evaluate_laminate(sheet, g, options); });
      },
      py::arg("sheet"), py::arg("gap"), py::arg("options"),
      "What the glass does in this gap, (N,), mm, a number each.");
}

}  // namespace gapfront::python
