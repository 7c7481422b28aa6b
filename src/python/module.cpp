// import gapfront: the stages as functions, arrays in and out. src/python/gapfront has the package around it.
#include <pybind11/pybind11.h>

#include <exception>

#include "gapfront/error.hpp"
#include "gapfront/text.hpp"
#include "python/classes.hpp"

namespace gapfront::python {

Progress progress_of(const py::object& callable) {
  return [f = py::handle(callable)](std::string_view stage, double fraction) {
    py::gil_scoped_acquire hold;
    if (PyErr_CheckSignals() != 0) throw py::error_already_set();
    return f.is_none() || !f(py::str(stage.data(), stage.size()), fraction).is(py::bool_(false));
  };
}

std::string in_words(const Message& m) { return say(m); }
std::string in_words(const Text& t, const char* between) {
  std::string out;
  for (const Message& m : t) out += (out.empty() ? "" : between) + say(m);
  return out;
}

namespace {

const char* class_of(Fault f) {
  switch (f) {
    case Fault::input:
      return "InputError";
    case Fault::measurement:
      return "MeasurementError";
    case Fault::cancelled:
      return "Cancelled";
  }
  return "Error";
}

void bind_errors(py::module_& m) {
  const py::object base = py::exception<Error>(m, "Error", PyExc_RuntimeError);
  for (const Fault f : {Fault::input, Fault::measurement, Fault::cancelled}) py::exception<Error>(m, class_of(f), base);
  py::register_local_exception_translator([](std::exception_ptr p) {
    try {
      if (p) std::rethrow_exception(p);
    } catch (const Error& e) {
      const py::object type = py::module_::import("gapfront._gapfront").attr(class_of(e.fault));
      PyErr_SetString(type.ptr(), e.what());
    }
  });
}

}  // namespace

PYBIND11_MODULE(_gapfront, m) {
  m.doc() = "Mold-gap metrology: two scans in, one verdict out. Lengths mm, times s, pressures Pa, masses g.";
  m.attr("__version__") = GAPFRONT_VERSION;
  bind_errors(m);
  bind_scan(m);
  bind_align(m);
  bind_cavity(m);
  bind_conformity(m);
  bind_laminate(m);
  bind_flow(m);
  bind_pipeline(m);
}

}  // namespace gapfront::python
