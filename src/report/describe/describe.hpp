// One description per result struct: its keys, in their order. Writer, Reader and Schema visit it, so that what is
// written, what is read back and what the schema says cannot differ.
//
//   void describe(auto& v, Is<PackedRegion> auto& r) {
//     v.about("packed_region", "Where the glass is squeezed harder than the clamping.");
//     v("centre_mm", r.centre);
//     v("load_N", newton(r.load), "Of the glass, along the opening axis.");
//   }
//
// A visitor has
// clang-format off
//   v(key, value, meaning)               a bool, a number, a text, a place, a list of such, or a described struct
//   v.maybe(key, write, value, meaning)  a key that may be absent; written if `write`
//   v.via(key, get, set, meaning)        get() is written; what is read goes to set(it)
//   v.derived(key, get, meaning)         get() is written; what is read is only checked
//   v.constant(key, value, meaning)
//   v.object(key, meaning, [&](auto& g) {…})            an object that is no struct of its own
//   v.object_if(there, key, meaning, [&](auto& g) {…})  the same, or null
//   v.optional(key, optional, meaning, [](auto& g, auto& value) {…})
//   v.list(key, list, meaning, [](auto& g, auto& item) {…})  objects that show only a part of a struct, or another one
//   v.when(key, flag, [&](auto& g) {…})  the keys that follow are there if the flag is set
//   v.about(name, meaning)               of the whole object; it is named so in the schema
//   v.check(key, good, what)             what is read is refused with `what` unless good(); only reading asks
//   v.no_larger_than(size)               from here on, of every number that is read
// clang-format on
// and each value may stand in one of the wrappers below. A new type of value needs a description, or a branch in each
// of the three visitors.
//
// A number is written with six decimals (a nanometre, in mm). null is "no number": not measured, not computed. It is
// NaN in the struct; only where the struct itself says "never" or "no bound" by infinity, `never()` says so here.
#pragma once
#include <cmath>
#include <concepts>
#include <nlohmann/json.hpp>
#include <string>
#include <tuple>
#include <type_traits>
#include <vector>

#include "gapfront/geometry.hpp"

namespace gapfront::report {

using Json = nlohmann::ordered_json;

template <class T, class S>
concept Is = std::same_as<std::remove_cv_t<T>, S>;

/// `wraps<Newton, T>`: T is a Newton of something.
template <template <class...> class W, class T>
inline constexpr bool wraps = false;
template <template <class...> class W, class... A>
inline constexpr bool wraps<W, W<A...>> = true;

// Each wrapper holds a reference to a member, or another wrapper.

enum class As { length, newton, never, node, corners, per_node, hash, not_empty, by_name };
template <As way, class T>
struct Shown {
  static constexpr As as = way;
  T value;
};
template <As way, class T>
concept is_shown = requires {
  requires T::as == way;
};
template <class T>
Shown<As::length, T> length(T&& x) {  // mm, written in mm and in inches
  return {std::forward<T>(x)};
}
template <class T>
Shown<As::newton, T> newton(T&& x) {  // Pa·mm², written in N
  return {std::forward<T>(x)};
}
template <class T>
Shown<As::never, T> never(T&& x) {  // null is infinity
  return {std::forward<T>(x)};
}
template <class T>
Shown<As::node, T> node(T&& x) {  // index of a node of the sheet, or −1; or a list of such
  return {std::forward<T>(x)};
}
template <class T>
Shown<As::corners, T> corners(T&& x) {  // the same, never −1
  return {std::forward<T>(x)};
}
template <class T>
Shown<As::per_node, T> per_node(T&& x) {  // one value per node of the sheet
  return {std::forward<T>(x)};
}
template <class T>
Shown<As::hash, T> hash(T&& x) {  // SHA-256, or empty
  return {std::forward<T>(x)};
}
template <class T>
Shown<As::not_empty, T> not_empty(T&& x) {  // a text or list of at least one
  return {std::forward<T>(x)};
}

template <class T>
Shown<As::by_name, T> by_name(T&& x) {  // a list of names with a number each, as an object
  return {std::forward<T>(x)};
}

/// Another precision: 1e4 is four decimals. 0: as it is.
template <class T>
struct Rounded {
  T value;
  double per_unit;
};
template <class T>
Rounded<T> rounded(double per_unit, T&& x) {
  return {std::forward<T>(x), per_unit};
}
// What hands work by: a micrometre is a thousandth, and finer than paper, tape and hand.
template <class T>
Rounded<T> coarse(T&& x) {
  return {std::forward<T>(x), 1e4};
}
// Chances and rates (some 1e-5 mm per cycle) may be tiny.
template <class T>
Rounded<T> fine(T&& x) {
  return {std::forward<T>(x), 1e12};
}
template <class T>
Rounded<T> exact(T&& x) {
  return {std::forward<T>(x), 0};
}

/// A number that is always known, and within bounds.
template <class T>
struct Known {
  T value;
  double low, high;
  bool above;  ///< than `low`, which itself is not allowed
};
template <class T>
Known<T> known(T&& x, double low = -HUGE_VAL, double high = HUGE_VAL) {
  return {std::forward<T>(x), low, high, false};
}
template <class T>
Known<T> positive(T&& x) {
  return {std::forward<T>(x), 0, HUGE_VAL, true};
}
template <class T>
Known<T> share(T&& x) {
  return {std::forward<T>(x), 0, 1, false};
}

/// An enumerator, or a bool, by its name.
template <class T>
struct Word {
  T value;
  std::vector<std::string> names;
};
template <class T>
Word<T> word(T&& x, std::vector<std::string> names) {
  return {std::forward<T>(x), std::move(names)};
}
/// The names are those of to_string(), up to that of `last`.
template <class T>
Word<T> word(T&& x, std::remove_cvref_t<T> last) {
  std::vector<std::string> names;
  for (int k = 0; k <= static_cast<int>(last); ++k) names.push_back(to_string(static_cast<std::remove_cvref_t<T>>(k)));
  return {std::forward<T>(x), std::move(names)};
}

/// One of a few texts or numbers.
template <class T>
struct OneOf {
  T value;
  Json allowed;
};
template <class T>
OneOf<T> one_of(T&& x, Json allowed) {
  return {std::forward<T>(x), std::move(allowed)};
}

/// A std::variant, as an object with one key: the name of what it holds.
template <class T>
struct Choice {
  T value;
  std::vector<std::string> names;
};
template <class T>
Choice<T> choice(T&& x, std::vector<std::string> names) {
  return {std::forward<T>(x), std::move(names)};
}

/// null unless `there`; then nothing is read.
template <class T>
struct Maybe {
  T value;
  bool there;
};
template <class T>
Maybe<T> only_if(bool there, T&& x) {
  return {std::forward<T>(x), there};
}

/// Values as a list of so many.
template <class... T>
struct Row {
  std::tuple<T...> items;
};
template <class... T>
Row<T...> row(T&&... x) {
  return {std::tuple<T...>(std::forward<T>(x)...)};
}

/// A list whose items are written as what `item` makes of each: a wrapper, a row.
template <class L, class F>
struct Each {
  L list;
  F item;
};
template <class L, class F>
Each<L, F> each(L&& list, F item) {
  return {std::forward<L>(list), std::move(item)};
}

}  // namespace gapfront::report
