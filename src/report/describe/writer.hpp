// A description as JSON.
#pragma once
#include <array>
#include <cmath>
#include <optional>
#include <variant>

#include "report/describe/describe.hpp"
#include "units/inch.hpp"

namespace gapfront::report {

/// JSON has no infinity; "never" and "not measured" are null.
inline Json number(double v, double per_unit = 1e6) {
  if (!std::isfinite(v)) return nullptr;
  return per_unit == 0 ? v : std::round(v * per_unit) / per_unit + 0.0;  // + 0.0: no negative zero
}

class Writer {
 public:
  Json out = Json::object();

  explicit Writer(double per_unit = 1e6) : per_unit_(per_unit) {}
  void about(const char*, const char* = nullptr) {}
  void no_larger_than(double) {}
  template <class F>
  void check(const char*, F, const char*) {}

  template <class T>
  void operator()(const char* key, const T& x, const char* = nullptr) {
    out[key] = of(x, per_unit_);
  }
  template <class T>
  void maybe(const char* key, bool write, const T& x, const char* = nullptr) {
    if (write) out[key] = of(x, per_unit_);
  }
  template <class Get, class Set>
  void via(const char* key, Get get, Set, const char* = nullptr) {
    out[key] = of(get(), per_unit_);
  }
  template <class Get>
  void derived(const char* key, Get get, const char* = nullptr) {
    out[key] = of(get(), per_unit_);
  }
  void constant(const char* key, const Json& value, const char* = nullptr) { out[key] = value; }
  template <class F>
  void object(const char* key, const char*, F f) {
    Writer g(per_unit_);
    f(g);
    out[key] = std::move(g.out);
  }
  template <class F>
  void object_if(bool there, const char* key, const char* meaning, F f) {
    if (there)
      object(key, meaning, f);
    else
      out[key] = nullptr;
  }
  template <class T, class F>
  void optional(const char* key, const std::optional<T>& x, const char* meaning, F f) {
    object_if(x.has_value(), key, meaning, [&](Writer& g) { f(g, *x); });
  }
  template <class L, class F>
  void list(const char* key, const L& items, const char*, F f) {
    Json& all = out[key] = Json::array();
    for (const auto& item : items) {
      Writer g(per_unit_);
      f(g, item);
      all.push_back(std::move(g.out));
    }
  }
  template <class F>
  void when(const char* key, bool flag, F f) {
    out[key] = flag;
    if (flag) f(*this);
  }

 private:
  template <class T>
  static Json of(const T& x, double per_unit) {
    const auto list = [](const auto& items, auto&& item) {
      Json all = Json::array();
      for (const auto& one : items) all.push_back(item(one));
      return all;
    };
    if constexpr (std::is_floating_point_v<T>) {
      return number(x, per_unit);
    } else if constexpr (std::is_integral_v<T> || std::is_same_v<T, std::string>) {
      return x;
    } else if constexpr (requires { T::RowsAtCompileTime; }) {  // a vector, or a matrix by rows
      Json all = Json::array();
      for (int i = 0; i < x.rows(); ++i) {
        Json line = Json::array();
        for (int k = 0; k < x.cols(); ++k) line.push_back(number(x(i, k), per_unit));
        all.push_back(T::ColsAtCompileTime == 1 ? line[0] : std::move(line));
      }
      return all;
    } else if constexpr (is_shown<As::length,
                                  T>) {  // the inches of what is written, so that it is written alike when read back
      const Json mm = of(x.value, per_unit);
      return {{"mm", mm}, {"in", mm.is_null() ? mm : number(mm.template get<double>() / inch)}};
    } else if constexpr (is_shown<As::newton, T>) {
      return number(x.value / 1e6, per_unit);
    } else if constexpr (is_shown<As::by_name, T>) {
      Json all = Json::object();
      for (const auto& [name, value] : x.value) all[name] = number(value, per_unit);
      return all;
    } else if constexpr (wraps<Rounded, T>) {
      return of(x.value, x.per_unit);
    } else if constexpr (wraps<Word, T>) {
      return x.names.at(static_cast<std::size_t>(x.value));
    } else if constexpr (wraps<Choice, T>) {
      const auto held = [&](const auto& one) { return of(one, per_unit); };
      return {{x.names.at(x.value.index()), std::visit(held, x.value)}};
    } else if constexpr (wraps<Maybe, T>) {
      return x.there ? of(x.value, per_unit) : Json();
    } else if constexpr (wraps<std::optional, T>) {
      return x ? of(*x, per_unit) : Json();
    } else if constexpr (wraps<Row, T>) {
      Json all = Json::array();
      std::apply([&](const auto&... item) { (all.push_back(of(item, per_unit)), ...); }, x.items);
      return all;
    } else if constexpr (wraps<Each, T>) {
      return list(x.list, [&](const auto& one) { return of(x.item(one), per_unit); });
    } else if constexpr (wraps<Known, T> || wraps<OneOf, T> || requires { T::as; }) {  // which say nothing to a writer
      return of(x.value, per_unit);
    } else if constexpr (requires { x.begin(); }) {
      return list(x, [&](const auto& one) { return of(one, per_unit); });
    } else {
      Writer g(per_unit);
      describe(g, x);
      return std::move(g.out);
    }
  }

  double per_unit_;
};

}  // namespace gapfront::report
