// Surfaces, the sheet, and the gap on it.
#include "gapfront/cavity.hpp"

#include <pybind11/eigen.h>
#include <pybind11/stl.h>

#include <limits>

#include "python/arrays.hpp"
#include "python/classes.hpp"

namespace gapfront::python {
namespace {

void bind_surface(py::module_& m) {
  py::class_<Surface> s(m, "Surface", "A half in the tool frame, searchable.");
  s.def(py::init([](const py::object& points, double spacing, double noise, const py::object& pose,
                    const SharedNoise& shared) {
          std::vector<Vec3> at = places_of(points, "points");
          if (!pose.is_none()) {
            const ScanToTool to_tool{motion_of(pose, "pose")};
            for (Vec3& p : at) p = to_tool * ScanPlace{p};
          }
          return apart([&] { return Surface(std::move(at), {.spacing = spacing, .noise = noise, .shared = shared}); });
        }),
        py::arg("points"), py::kw_only(), py::arg("spacing"), py::arg("noise"), py::arg("pose") = py::none(),
        py::arg("shared") = SharedNoise{},
        "(N, 3), mm, carried by the rigid motion `pose` (4, 4) if one is given, such as Alignment.lower_to_tool; "
        "`shared`: such as Alignment.shared_noise.");
  s.def("__len__", [](const Surface& x) { return x.points().size(); });
  s.def_property_readonly(
      "points", [](py::object self) { return view(self.cast<const Surface&>().points(), self); },
      "(N, 3), mm: a view.");
  s.def_property_readonly("spacing", &Surface::spacing).def_property_readonly("noise", &Surface::noise);
  s.def_property_readonly("shared", [](const Surface& x) { return SharedNoise(x.shared()); });
  m.def("surface_of", &cavity::surface_of, py::arg("mesh"), py::arg("spacing"),
        "A nominal mesh as if it had been scanned without noise.");
}

void bind_sheet(py::module_& m) {
  item<Mask>(m, "Mask", "What is no moulding face: all within `radius` of `centre`; mm.")
      .def_readwrite("name", &Mask::name)
      .def_property(
          "centre", [](const Mask& x) { return x.centre; }, [](Mask& x, const Vec3& v) { x.centre = v; })
      .def_readwrite("radius", &Mask::radius);
  auto o = settings<SheetOptions>(m, "SheetOptions", "How the sheet is made; mm.");
  o.def_readwrite("edge", &SheetOptions::edge).def_readwrite("min_edge", &SheetOptions::min_edge);
  places(o, "seal", &SheetOptions::seal, "(N, 2) or (N, 3): the seal line in the tool frame", true);
  o.def_readwrite("islands", &SheetOptions::islands);
  items(o, "masks", &SheetOptions::masks);

  py::class_<Sheet> s(m, "Sheet",
                      "The moulding face as a mesh: a node per place of the cavity. Arrays are read-only views.");
  s.def("__len__", &Sheet::size);
  s.def_property_readonly(
      "points", [](py::object self) { return view(self.cast<const Sheet&>().mesh.points, self); }, "(N, 3), mm.");
  s.def_property_readonly(
      "triangles", [](py::object self) { return view(self.cast<const Sheet&>().mesh.triangles, self); },
      "(M, 3), indices of nodes.");
  field(s, "normals", &Sheet::normals, "(N, 3), unit, from the lower face into the cavity.");
  field(s, "area", &Sheet::area, "(N,), mm2.");
  field(s, "rim", &Sheet::rim, "(N,), on the seal line.");
  field(s, "covered", &Sheet::covered, "(N,), covered by the lower scan; empty: all are.");
  s.def_readonly("edge_p05", &Sheet::edge_p05).def_readonly("edge_p50", &Sheet::edge_p50);
  s.def_readonly("edge_p95", &Sheet::edge_p95).def_readonly("min_angle_deg", &Sheet::min_angle_deg);
  s.def_readonly("uncovered_area", &Sheet::uncovered_area).def_readonly("masked_area", &Sheet::masked_area);
  m.def(
      "build_sheet",
      [](const Surface& lower, const Surface& upper, const SheetOptions& options, const py::object& progress) {
        return apart([&, p = progress_of(progress)] { return cavity::build_sheet(lower, upper, options, p); });
      },
      py::arg("lower"), py::arg("upper"), py::arg("options") = SheetOptions{}, py::arg("progress") = py::none(),
      "The moulding face of the lower half inside the seal line.");
  m.def(
      "make_sheet", [](const Mesh& mesh) { return cavity::make_sheet(mesh); }, py::arg("mesh"),
      "A sheet on a mesh that is already given, counter-clockwise seen from the cavity.");
  m.def("masks_of", &cavity::masks_of, py::arg("alignment"), "What stands on the halves for the registration's sake.");
}

/// One value per node, NaN where nothing was measured: a zero there would be taken for a gap.
py::array_t<double> where_measured(const GapMap& g, double NodeGap::*value) {
  py::array_t<double> out(static_cast<py::ssize_t>(g.nodes.size()));
  double* v = out.mutable_data();
  for (const NodeGap& n : g.nodes) *v++ = n.measured ? n.*value : std::numeric_limits<double>::quiet_NaN();
  return out;
}

void bind_gap(py::module_& m) {
  settings<GapOptions>(m, "GapOptions", "How the gap is measured; mm.")
      .def_readwrite("nominal", &GapOptions::nominal)
      .def_readwrite("max_gap", &GapOptions::max_gap)
      .def_readwrite("fit_radius", &GapOptions::fit_radius)
      .def_readwrite("u_instrument", &GapOptions::u_instrument)
      .def_readwrite("u_temperature", &GapOptions::u_temperature)
      .def_readwrite("coverage", &GapOptions::coverage);
  py::class_<GapMap> g(m, "GapMap", "The gap at every node of a sheet.");
  g.def("__len__", [](const GapMap& x) { return x.nodes.size(); });
  g.def_property_readonly(
      "gap", [](const GapMap& x) { return where_measured(x, &NodeGap::gap); }, "(N,), mm; NaN where not measured.");
  g.def_property_readonly(
      "U", [](const GapMap& x) { return where_measured(x, &NodeGap::U); },
      "(N,), mm, expanded; NaN where not measured.");
  node_field(g, "measured", &GapMap::nodes, &NodeGap::measured, "(N,)");
  node_field(g, "mid", &GapMap::nodes, &NodeGap::mid, "(N, 3), mm: middle of the cavity, where measured.");
  node_field(g, "direction", &GapMap::nodes, &NodeGap::direction, "(N, 3), unit, lower to upper.");
  node_field(g, "u_lower", &GapMap::nodes, &NodeGap::u_lower, "(N,), mm, standard uncertainty: fit of the lower face.");
  node_field(g, "u_upper", &GapMap::nodes, &NodeGap::u_upper, "(N,), mm: fit of the upper face.");
  node_field(g, "u_instrument", &GapMap::nodes, &NodeGap::u_instrument, "(N,), mm.");
  node_field(g, "u_registration", &GapMap::nodes, &NodeGap::u_registration, "(N,), mm.");
  node_field(g, "u_temperature", &GapMap::nodes, &NodeGap::u_temperature, "(N,), mm.");
  node_field(g, "fit_area", &GapMap::nodes, &NodeGap::fit_area, "(N,), mm2: what the noise is averaged over.");
  g.def_readonly("coverage", &GapMap::coverage).def_readonly("unmeasured_area", &GapMap::unmeasured_area);
  m.def(
      "measure_gap",
      [](const Sheet& sheet, const Surface& lower, const Surface& upper, const Alignment& closed,
         const GapOptions& options, const py::object& progress) {
        return apart(
            [&, p = progress_of(progress)] { return cavity::measure_gap(sheet, lower, upper, closed, options, p); });
      },
      py::arg("sheet"), py::arg("lower"), py::arg("upper"), py::arg("alignment"), py::arg("options") = GapOptions{},
      py::arg("progress") = py::none(), "The gap at every node with its uncertainty.");
}

}  // namespace

void bind_cavity(py::module_& m) {
  bind_surface(m);
  bind_sheet(m);
  bind_gap(m);
}

}  // namespace gapfront::python
