// Structs as Python classes, made by keywords: Vent(name="centre", path=[[0, 0, -45]]).
#pragma once
#include <pybind11/pybind11.h>
#include <pybind11/stl.h>

#include <string>
#include <utility>
#include <vector>

#include "gapfront/message.hpp"
#include "gapfront/progress.hpp"

namespace gapfront::python {
namespace py = pybind11;

/// Sets members by name, past __setattr__, so that fixed ones are made so as well.
template <class T>
T with_values(T t, const py::kwargs& values) {
  py::object o = py::cast(&t, py::return_value_policy::reference);
  for (const auto& [key, value] : values)
    if (!py::hasattr(o, key) || PyObject_GenericSetAttr(o.ptr(), key.ptr(), value.ptr()) != 0) {
      if (PyErr_Occurred() && !PyErr_ExceptionMatches(PyExc_AttributeError)) throw py::error_already_set();
      PyErr_Clear();
      throw py::type_error(py::str(o.get_type().attr("__name__")).cast<std::string>() + ": has no value named " +
                           py::str(key).cast<std::string>());
    }
  return t;
}

/// A struct of settings: what stands in it can be changed in place, job.flow.viscosity = 0.3.
template <class T>
py::class_<T> settings(py::module_& m, const char* name, const char* doc) {
  py::class_<T> c(m, name, doc);
  c.def(py::init([](const py::kwargs& values) { return with_values(T{}, values); }));
  return c;
}
/// A struct that stands in a list. Lists go to Python and back as copies, so that a change in place would be lost
/// without a word: it is refused, and replace() makes another one.
template <class T>
py::class_<T> item(py::module_& m, const char* name, const char* doc) {
  py::class_<T> c = settings<T>(m, name, doc);
  c.def(
      "replace", [](const T& self, const py::kwargs& values) { return with_values(T(self), values); },
      "The same with other values; assign the whole list to put it into effect.");
  c.def("__setattr__", [](py::object self, const std::string& key, const py::object&) {
    throw py::attribute_error(py::str(self.get_type().attr("__name__")).cast<std::string>() + "." + key +
                              ": cannot be changed in place; use replace(), and assign the whole list");
  });
  return c;
}

/// A list of such structs in settings: a tuple of copies, so that nothing in Python points into a list that is
/// replaced.
template <class Class, class Owner, class T>
void items(Class& c, const char* name, std::vector<T> Owner::*list) {
  c.def_property(
      name, [list](const Owner& self) { return py::tuple(py::cast(std::vector<T>(self.*list))); },
      [list](Owner& self, std::vector<T> values) { self.*list = std::move(values); });
}

/// Hands on to a Python callable, or to none; looks for Ctrl-C too. False (and nothing else) cancels. The callable must
/// outlive it.
Progress progress_of(const py::object& callable);

/// Runs it while other Python threads go on.
template <class F>
auto apart(F f) {
  py::gil_scoped_release release;
  return f();
}

/// Texts in English and mm, as the data files have them.
std::string in_words(const Message&);
std::string in_words(const Text&, const char* between);

void bind_scan(py::module_&);
void bind_align(py::module_&);
void bind_cavity(py::module_&);
void bind_conformity(py::module_&);
void bind_laminate(py::module_&);
void bind_flow(py::module_&);
void bind_pipeline(py::module_&);

}  // namespace gapfront::python
