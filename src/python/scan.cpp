// Scans: read, made of arrays, cleaned, looked at.
#include "gapfront/scan.hpp"

#include <pybind11/eigen.h>
#include <pybind11/stl.h>
#include <pybind11/stl/filesystem.h>

#include <cmath>

#include "python/arrays.hpp"
#include "python/classes.hpp"

namespace gapfront::python {
namespace {

constexpr double kFarthest = 1e9;  // mm: a thousand kilometres, beyond which a place is an error; as the readers do

/// As a file would be read: points that are no numbers are left out and counted.
Scan scan_of(const py::object& points, const py::object& normals, double unit, const std::string& name) {
  if (!(unit > 0 && std::isfinite(unit))) throw Error(Fault::input, "unit: must be positive; give mm per unit");
  const std::vector<Vec3> at = places_of(points, "points");
  const std::vector<Vec3> out_of = normals.is_none() ? std::vector<Vec3>() : places_of(normals, "normals");
  if (!out_of.empty() && out_of.size() != at.size())
    throw Error(Fault::input, "normals: " + std::to_string(out_of.size()) + " for " + std::to_string(at.size()) +
                                  " points; give one for each, or none");
  Scan s;
  s.path = name, s.format = "array", s.unit = unit, s.unit_declared = true, s.declared_points = at.size();
  for (std::size_t i = 0; i < at.size(); ++i) {
    const bool whole = out_of.empty() || (out_of[i].allFinite() && out_of[i].norm() > 0);
    if (!((unit * at[i]).array().abs() <= kFarthest).all() || !whole) {  // NaN fails as well
      ++s.nonfinite_dropped;
      continue;
    }
    s.cloud.points.push_back(unit * at[i]);
    if (!out_of.empty()) s.cloud.normals.push_back(out_of[i].normalized().cast<float>());
  }
  if (s.cloud.points.empty())
    throw Error(Fault::input, name + ": no finite point among " + std::to_string(at.size()) + "; scan again");
  return s;
}

void bind_structs(py::module_& m) {
  py::class_<Scan> s(m, "Scan", "Points of one half in the scanner's own frame, mm.");
  s.def(py::init(&scan_of), py::arg("points"), py::arg("normals") = py::none(), py::arg("unit") = 1.0,
        py::arg("name") = "array", "From arrays of shape (N, 3); `unit`: mm per unit of the array.");
  s.def("__len__", [](const Scan& x) { return x.cloud.points.size(); });
  s.def_property_readonly(
      "points", [](py::object self) { return view(self.cast<const Scan&>().cloud.points, self); },
      "(N, 3), mm: a read-only view.");
  s.def_property_readonly(
      "normals",
      [](py::object self) -> py::object {
        const auto& n = self.cast<const Scan&>().cloud.normals;
        return n.empty() ? py::object(py::none()) : view(n, self);
      },
      "(N, 3), unit, single precision; None where there are none.");
  s.def_readonly("path", &Scan::path).def_readonly("format", &Scan::format).def_readonly("sha256", &Scan::sha256);
  s.def_readonly("unit", &Scan::unit).def_readonly("unit_declared", &Scan::unit_declared);
  s.def_readonly("declared_points", &Scan::declared_points).def_readonly("nonfinite_dropped", &Scan::nonfinite_dropped);
  s.def_readonly("tip_radius", &Scan::tip_radius);

  item<SharedNoise>(m, "SharedNoise", "Errors that neighbouring points share: exp(-d^2 / 2 length^2); mm.")
      .def_readwrite("sigma", &SharedNoise::sigma)
      .def_readwrite("length", &SharedNoise::length);
  settings<CleanOptions>(m, "CleanOptions", "What is taken off a scan.")
      .def_readwrite("outliers", &CleanOptions::outliers)
      .def_readwrite("neighbours", &CleanOptions::neighbours)
      .def_readwrite("outlier_sigma", &CleanOptions::outlier_sigma)
      .def_readwrite("clutter_distance", &CleanOptions::clutter_distance)
      .def_readwrite("clutter_fraction", &CleanOptions::clutter_fraction);
  py::class_<CleanReport>(m, "CleanReport", "What was taken off, and how dense and how sharp the rest is, mm.")
      .def_readonly("read", &CleanReport::read)
      .def_readonly("nonfinite", &CleanReport::nonfinite)
      .def_readonly("duplicates", &CleanReport::duplicates)
      .def_readonly("clutter", &CleanReport::clutter)
      .def_readonly("outliers", &CleanReport::outliers)
      .def_readonly("kept", &CleanReport::kept)
      .def_readonly("spacing", &CleanReport::spacing)
      .def_readonly("noise", &CleanReport::noise);

  py::class_<Mesh> mesh(m, "Mesh", "Triangles, counter-clockwise seen from the cavity; mm.");
  mesh.def(py::init([](const py::object& points, const py::object& triangles) {
             Mesh out{places_of(points, "points"), triangles_of(triangles, "triangles")};
             for (const auto& t : out.triangles)
               for (const int i : t)
                 if (i < 0 || i >= static_cast<int>(out.points.size()))
                   throw Error(Fault::input, "triangles: there is no point " + std::to_string(i) +
                                                 "; give indices from 0 to " +
                                                 std::to_string(static_cast<long>(out.points.size()) - 1));
             return out;
           }),
           py::arg("points"), py::arg("triangles"));
  field(mesh, "points", &Mesh::points, "(N, 3), mm.");
  field(mesh, "triangles", &Mesh::triangles, "(M, 3), indices of points.");
}

}  // namespace

void bind_scan(py::module_& m) {
  bind_structs(m);
  m.def(
      "read_scan",
      [](const std::filesystem::path& file, std::optional<double> unit, const std::string& columns,
         std::optional<char> separator, std::optional<bool> decimal_comma, double tip_radius,
         const py::object& progress) {
        const ReadOptions options{unit, columns, separator, decimal_comma, tip_radius};
        return apart([&, p = progress_of(progress)] { return scan::read_scan(file, options, p); });
      },
      py::arg("file"), py::kw_only(), py::arg("unit") = py::none(), py::arg("columns") = "",
      py::arg("separator") = py::none(), py::arg("decimal_comma") = py::none(), py::arg("tip_radius") = 0.0,
      py::arg("progress") = py::none(),
      "Reads PLY, PCD, STL, OBJ, E57 or delimited text; `unit`: mm per unit of the file.");
  m.def(
      "read_mesh", [](const std::filesystem::path& file, double unit) { return scan::read_mesh(file, unit); },
      py::arg("file"), py::arg("unit") = 1.0, "A nominal surface: STL or OBJ; `unit`: mm per unit of the file.");
  m.def(
      "clean",
      [](const Scan& s, const CleanOptions& options, const py::object& progress) {
        return apart([&, p = progress_of(progress)] {
          std::pair<Scan, CleanReport> out{s, {}};
          out.second = scan::clean(out.first, options, p);
          return out;
        });
      },
      py::arg("scan"), py::arg("options") = CleanOptions{}, py::arg("progress") = py::none(),
      "The scan without duplicates, far clutter and outliers, and what was taken off.");
  m.def("check_pair", &scan::check_pair, py::arg("lower"), py::arg("upper"),
        "Raises InputError where the two cannot be halves of one mold.");
}

}  // namespace gapfront::python
