// Registration: both halves into the closed position.
#include "gapfront/align.hpp"

#include <pybind11/eigen.h>
#include <pybind11/stl.h>

#include "python/arrays.hpp"
#include "python/classes.hpp"

namespace gapfront::python {
namespace {

/// A place in a scanner's frame is three numbers in Python.
template <class Class>
void scan_place(Class& c, const char* name, std::optional<ScanPlace> Target::*place, const char* doc) {
  c.def_property(
      name, [place](const Target& t) { return t.*place ? std::optional<Vec3>((t.*place)->at) : std::nullopt; },
      [place](Target& t, const std::optional<Vec3>& at) {
        t.*place = at ? std::optional<ScanPlace>(ScanPlace{*at}) : std::nullopt;
      },
      doc);
}

/// A mesh goes in and out as a copy.
template <class Class>
void nominal(Class& c, const char* name, std::optional<Mesh> AlignOptions::*mesh) {
  c.def_property(
      name, [mesh](const AlignOptions& o) { return std::optional<Mesh>(o.*mesh); },
      [mesh](AlignOptions& o, const std::optional<Mesh>& m) { o.*mesh = m; });
}

void bind_align_options(py::module_& m) {
  py::enum_<AlignMethod>(m, "AlignMethod", "How the halves are closed.")
      .value("given", AlignMethod::given, "the scans lie closed in the tool frame")
      .value("targets", AlignMethod::targets, "balls or marks seen in both scans")
      .value("flange", AlignMethod::flange, "lands set down on each other")
      .value("nominal", AlignMethod::nominal, "each half on its nominal surface")
      .value("datum", AlignMethod::datum, "a plane, a line and a point touched on each half");
  auto target = item<Target>(m, "Target", "A mark or ball that is at one place in both closed halves; mm.");
  target.def_readwrite("name", &Target::name)
      .def_readwrite("ball", &Target::ball)
      .def_readwrite("dowel", &Target::dowel);
  scan_place(target, "lower", &Target::lower, "roughly where, in the lower scan");
  scan_place(target, "upper", &Target::upper, "roughly where, in the upper scan");
  target.def_readwrite("tool", &Target::tool).def_readwrite("u", &Target::u).def_readwrite("mask", &Target::mask);
  auto region =
      item<Region>(m, "Region", "A part of the tool: polygon (X, Y), box (two corners) or tube about a path.");
  places(region, "polygon", &Region::polygon, "(N, 2) or (N, 3), mm", true);
  places(region, "box", &Region::box, "two opposite corners, mm");
  places(region, "path", &Region::path, "(N, 3), mm");
  region.def_readwrite("radius", &Region::radius);
  region.def("contains", &Region::contains, py::arg("place"));
  auto options = settings<AlignOptions>(m, "AlignOptions", "How the halves are brought together; mm.");
  items(options, "targets", &AlignOptions::targets);
  items(options, "flange", &AlignOptions::flange);
  items(options, "datum", &AlignOptions::datum);
  nominal(options, "nominal_lower", &AlignOptions::nominal_lower);
  nominal(options, "nominal_upper", &AlignOptions::nominal_upper);
  options.def_readwrite("methods", &AlignOptions::methods)
      .def_readwrite("find_ball", &AlignOptions::find_ball)
      .def_readwrite("given_u", &AlignOptions::given_u)
      .def_readwrite("stand_off", &AlignOptions::stand_off)
      .def_readwrite("flange_within", &AlignOptions::flange_within)
      .def_readwrite("in_plane_u", &AlignOptions::in_plane_u)
      .def_readwrite("fit_on_cavity", &AlignOptions::fit_on_cavity)
      .def_readwrite("residual_limit", &AlignOptions::residual_limit)
      .def_readwrite("seat_play", &AlignOptions::seat_play)
      .def_readwrite("tool_play", &AlignOptions::tool_play);
}

}  // namespace

void bind_align(py::module_& m) {
  bind_align_options(m);
  py::class_<TargetResidual>(m, "TargetResidual", "How a target fits after the registration; mm.")
      .def_readonly("name", &TargetResidual::name)
      .def_readonly("residual", &TargetResidual::residual)
      .def_readonly("place", &TargetResidual::place)
      .def_readonly("leave_one_out", &TargetResidual::leave_one_out)
      .def_readonly("lower_points", &TargetResidual::lower_points)
      .def_readonly("upper_points", &TargetResidual::upper_points);
  py::class_<Alignment>(m, "Alignment", "The closed position, and how well it is known.")
      .def(py::init([](const py::object& covariance, const Vec3& pivot) {
             Alignment a;
             if (!covariance.is_none()) a.covariance = covariance.cast<Matrix6>();
             a.pivot = pivot;
             return a;
           }),
           py::arg("covariance") = py::none(), py::arg("pivot") = Vec3(Vec3::Zero()),
           "A registration of one's own: covariance of the upper half's motion (t in mm, r in rad) about `pivot`.")
      .def_property_readonly("lower_to_tool",
                             [](const Alignment& a) { return Eigen::Matrix4d(a.lower_to_tool.motion.matrix()); })
      .def_property_readonly("upper_to_tool",
                             [](const Alignment& a) { return Eigen::Matrix4d(a.upper_to_tool.motion.matrix()); })
      .def_property_readonly("covariance", [](const Alignment& a) { return a.covariance; })
      .def_property_readonly("pivot", [](const Alignment& a) { return a.pivot; })
      .def_readonly("fit_rms", &Alignment::fit_rms)
      .def_property_readonly("shared_noise", [](const Alignment& a) { return SharedNoise(a.shared_noise); })
      .def_readonly("residuals", &Alignment::residuals)
      .def_readonly("left_out", &Alignment::left_out)
      .def_readonly("chi2", &Alignment::chi2)
      .def_readonly("dof", &Alignment::dof)
      .def_property_readonly("method", [](const Alignment& a) { return in_words(a.method, "; "); })
      .def_property_readonly("warnings", [](const Alignment& a) { return in_words(a.warnings, "\n"); })
      .def("u_at", &Alignment::u_at, py::arg("place"), py::arg("direction"),
           "Standard uncertainty of the upper half's position there, mm.");
  m.def(
      "register_halves",
      [](const Scan& lower, const Scan& upper, const AlignOptions& options, double lower_noise, double upper_noise,
         const py::object& progress) {
        return apart([&, p = progress_of(progress)] {
          return align::register_halves(lower, upper, options, {lower_noise, upper_noise}, p);
        });
      },
      py::arg("lower"), py::arg("upper"), py::arg("options"), py::kw_only(), py::arg("lower_noise"),
      py::arg("upper_noise"), py::arg("progress") = py::none(),
      "The closed position of both halves in the tool frame; noise: of a point along the normal, mm (CleanReport).");
}

}  // namespace gapfront::python
