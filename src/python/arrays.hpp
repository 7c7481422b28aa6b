// numpy arrays in and out. Out: read-only views of what the library holds, without a copy, which keep their owner
// alive. In: one copy into the library's own lists, with the shape checked.
#pragma once
#include <pybind11/numpy.h>
#include <pybind11/pybind11.h>

#include <array>
#include <string>
#include <vector>

#include "gapfront/conformity.hpp"
#include "gapfront/error.hpp"
#include "gapfront/geometry.hpp"

/// A Conformity is an enum.IntEnum in Python, so that whole arrays are compared with it.
template <>
struct pybind11::detail::type_caster<gapfront::Conformity> {
  PYBIND11_TYPE_CASTER(gapfront::Conformity, const_name("Conformity"));
  bool load(handle source, bool) {
    if (!PyLong_Check(source.ptr())) return false;
    value = static_cast<gapfront::Conformity>(source.cast<int>());
    return value >= gapfront::Conformity::conforming && value <= gapfront::Conformity::not_judged;
  }
  static handle cast(gapfront::Conformity c, return_value_policy, handle) {
    return module_::import("gapfront._gapfront").attr("Conformity")(static_cast<int>(c)).release();
  }
};

namespace gapfront::python {
namespace py = pybind11;

/// What numpy takes an element for: numbers of one type, `width` of them side by side (0: one, without an axis).
template <class T>
struct Element {
  using Scalar = T;
  static constexpr py::ssize_t width = 0;
};
template <class T>
struct Element<Eigen::Matrix<T, 3, 1>> {
  using Scalar = T;
  static constexpr py::ssize_t width = 3;
};
template <>
struct Element<std::array<int, 3>> {
  using Scalar = int;
  static constexpr py::ssize_t width = 3;
};
template <>
struct Element<char> {  // a mark per node, 0 or 1
  using Scalar = bool;
  static constexpr py::ssize_t width = 0;
};
template <>
struct Element<Conformity> {
  using Scalar = int;
  static constexpr py::ssize_t width = 0;
};
static_assert(sizeof(char) == sizeof(bool) && sizeof(Conformity) == sizeof(int));

/// `count` elements, `stride` bytes from one to the next.
template <class T>
py::array strided_view(const T* first, std::size_t count, std::size_t stride, py::handle owner) {
  using Scalar = typename Element<T>::Scalar;
  std::vector<py::ssize_t> shape{static_cast<py::ssize_t>(count)}, steps{static_cast<py::ssize_t>(stride)};
  if (Element<T>::width > 0) shape.push_back(Element<T>::width), steps.push_back(sizeof(Scalar));
  py::array out(py::dtype::of<Scalar>(), shape, steps, first, owner);
  out.attr("setflags")(py::arg("write") = false);
  return out;
}
template <class T>
py::array view(const std::vector<T>& values, py::handle owner) {
  return strided_view(values.data(), values.size(), sizeof(T), owner);
}
/// One member of every struct of a list.
template <class Node, class T>
py::array member_view(const std::vector<Node>& nodes, T Node::*member, py::handle owner) {
  return strided_view(nodes.empty() ? nullptr : &(nodes.front().*member), nodes.size(), sizeof(Node), owner);
}

/// A property that is a view of a list in the struct.
template <class Class, class Owner, class T>
void field(Class& c, const char* name, std::vector<T> Owner::*list, const char* doc) {
  c.def_property_readonly(
      name, [list](py::object self) { return view(self.cast<const typename Class::type&>().*list, self); }, doc);
}
/// A property that is a view of one member of the structs in a list.
template <class Class, class Owner, class Node, class T>
void node_field(Class& c, const char* name, std::vector<Node> Owner::*list, T Node::*member, const char* doc) {
  c.def_property_readonly(
      name,
      [list, member](py::object self) {
        return member_view(self.cast<const typename Class::type&>().*list, member, self);
      },
      doc);
}

/// Places from anything that numpy takes for an array of shape (N, 3); `flat`: (N, 2) as well, at height 0; one place
/// may stand for itself. Throws Error{Fault::input} that says what is needed.
std::vector<Vec3> places_of(const py::object&, const std::string& name, bool flat = false);
/// One number per place.
std::vector<double> numbers_of(const py::object&, const std::string& name);
std::vector<std::array<int, 3>> triangles_of(const py::object&, const std::string& name);
/// A rigid motion from a 4 × 4 array. Throws Error{Fault::input} for one that stretches or turns inside out.
Rigid motion_of(const py::object&, const std::string& name);

/// A property that is a list of places, copied both ways.
template <class Class, class Owner>
void places(Class& c, const char* name, std::vector<Vec3> Owner::*list, const char* doc, bool flat = false) {
  c.def_property(
      name,
      [list](py::object self) {
        const auto& v = self.cast<const typename Class::type&>().*list;
        return view(v, self).attr("copy")();
      },
      [list, name, flat](typename Class::type& self, const py::object& v) { self.*list = places_of(v, name, flat); },
      doc);
}

}  // namespace gapfront::python
