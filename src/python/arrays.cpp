#include "python/arrays.hpp"

#include <pybind11/eigen.h>

namespace gapfront::python {
namespace {

template <class T>
using Packed = py::array_t<T, py::array::c_style | py::array::forcecast>;

std::string shape_of(const py::array& a) {
  std::string out = "(";
  for (py::ssize_t i = 0; i < a.ndim(); ++i) out += (i ? ", " : "") + std::to_string(a.shape(i));
  return out + (a.ndim() == 1 ? ",)" : ")");
}

/// An array of numbers; what numpy makes no numbers of is refused in our own words.
template <class T>
Packed<T> packed(const py::object& values, const std::string& name) {
  Packed<T> a = Packed<T>::ensure(values);
  if (!a) {
    PyErr_Clear();
    throw Error(Fault::input, name + ": is no array of numbers; give rows of equal length");
  }
  return a;
}

}  // namespace

std::vector<Vec3> places_of(const py::object& values, const std::string& name, bool flat) {
  const auto a = packed<double>(values, name);
  if (a.size() == 0) return {};
  const py::ssize_t width = a.shape(a.ndim() - 1);
  if (a.ndim() > 2 || a.ndim() == 0 || !(width == 3 || (flat && width == 2)))
    throw Error(Fault::input, name + ": an array of shape (N, 3) is needed, not " + shape_of(a) +
                                  "; give a row of x, y, z (mm) for each place");
  std::vector<Vec3> out(a.size() / width, Vec3::Zero());
  const double* v = a.data();
  for (Vec3& p : out)
    for (py::ssize_t k = 0; k < width; ++k) p[k] = *v++;
  return out;
}

std::vector<double> numbers_of(const py::object& values, const std::string& name) {
  const auto a = packed<double>(values, name);
  if (a.ndim() != 1)
    throw Error(Fault::input,
                name + ": an array of shape (N,) is needed, not " + shape_of(a) + "; give one number each");
  return {a.data(), a.data() + a.size()};
}

std::vector<std::array<int, 3>> triangles_of(const py::object& values, const std::string& name) {
  const auto a = packed<int>(values, name);
  if (a.ndim() != 2 || a.shape(1) != 3)
    throw Error(Fault::input, name + ": an array of shape (N, 3) is needed, not " + shape_of(a) +
                                  "; give a row of three indices into the points for each triangle");
  std::vector<std::array<int, 3>> out(a.shape(0));
  for (std::size_t i = 0; i < out.size(); ++i)
    for (int k = 0; k < 3; ++k) out[i][k] = a.at(i, k);
  return out;
}

Rigid motion_of(const py::object& values, const std::string& name) {
  const auto a = packed<double>(values, name);
  if (a.ndim() != 2 || a.shape(0) != 4 || a.shape(1) != 4)
    throw Error(Fault::input, name + ": an array of shape (4, 4) is needed, not " + shape_of(a) +
                                  "; give a rigid motion, rows of the homogeneous matrix");
  Rigid out = Rigid::Identity();
  for (int i = 0; i < 3; ++i)
    for (int k = 0; k < 4; ++k) out.matrix()(i, k) = a.at(i, k);
  const Eigen::Matrix3d turn = out.linear();
  // Ten times what single precision leaves of a rotation, a millionth.
  if (!((turn * turn.transpose() - Eigen::Matrix3d::Identity()).norm() < 1e-5 && turn.determinant() > 0) ||
      !out.translation().allFinite())
    throw Error(Fault::input,
                name + ": is no rigid motion (it stretches, or turns inside out); give a rotation and a shift in mm");
  return out;
}

}  // namespace gapfront::python
