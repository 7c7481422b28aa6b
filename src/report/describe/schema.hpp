// A description as JSON Schema (2020-12).
#pragma once
#include <array>
#include <optional>
#include <utility>
#include <variant>

#include "report/describe/describe.hpp"

namespace gapfront::report {

class Schema {
 public:
  /// Objects that have a name go into `definitions`, and are referred to.
  explicit Schema(Json& definitions) : definitions_(definitions) {}

  void about(const char* name, const char* meaning = nullptr) { name_ = name, meaning_ = meaning; }
  void no_larger_than(double) {}
  template <class F>
  void check(const char*, F, const char*) {}

  template <class T>
  void operator()(const char* key, T&& x, const char* meaning = nullptr) {
    add(key, of(x), meaning, true);
  }
  template <class T>
  void maybe(const char* key, bool, T&& x, const char* meaning = nullptr) {
    add(key, of(x), meaning, false);
  }
  template <class Get, class Set>
  void via(const char* key, Get get, Set, const char* meaning = nullptr) {
    add(key, of(get()), meaning, true);
  }
  template <class Get>
  void derived(const char* key, Get get, const char* meaning = nullptr) {
    add(key, of(get()), meaning, true);
  }
  void constant(const char* key, const Json& value, const char* meaning = nullptr) {
    add(key, {{"const", value}}, meaning, true);
  }
  template <class F>
  void object(const char* key, const char* meaning, F f) {
    add(key, described(f), meaning, true);
  }
  template <class F>
  void object_if(bool, const char* key, const char* meaning, F f) {
    add(key, or_null(described(f)), meaning, true);
  }
  template <class T, class F>
  void optional(const char* key, std::optional<T>&, const char* meaning, F f) {
    T value{};
    add(key, or_null(described([&](auto& g) { f(g, value); })), meaning, true);
  }
  template <class L, class F>
  void list(const char* key, const L&, const char* meaning, F f) {
    typename L::value_type item{};
    add(key, list_of(described([&](auto& g) { f(g, item); })), meaning, true);
  }
  template <class F>
  void when(const char* key, bool&, F f) {
    add(key, {{"type", "boolean"}}, nullptr, true);
    Json always = std::exchange(required_, Json::array());
    f(*this);
    if_[key] = {{"const", true}};
    then_ = std::exchange(required_, std::move(always));
  }
  /// The whole object, or a reference to it.
  Json object() const;
  static Json list_of(Json item, std::size_t n);

 private:
  void add(const char* key, Json fragment, const char* meaning, bool required);
  static Json list_of(Json item) { return {{"type", "array"}, {"items", std::move(item)}}; }
  static Json or_null(Json fragment);
  static Json named(const char* name) { return {{"$ref", std::string("#/$defs/") + name}}; }
  static Json bounded(Json type, double low, double high, bool above);
  template <class F>
  Json described(F f) {
    Schema inner(definitions_);
    inner.outer_ = this;
    f(inner);
    return inner.object();
  }

  template <class T>
  Json of(T&& x) {
    using D = std::remove_cvref_t<T>;
    if constexpr (std::is_same_v<D, double>) {
      return named("number");
    } else if constexpr (std::is_same_v<D, bool>) {
      return {{"type", "boolean"}};
    } else if constexpr (std::is_integral_v<D>) {
      return {{"type", "integer"}, {"minimum", 0}};
    } else if constexpr (std::is_same_v<D, std::string>) {
      return {{"type", "string"}};
    } else if constexpr (requires { D::RowsAtCompileTime; }) {
      if constexpr (D::ColsAtCompileTime == 1)
        return D::RowsAtCompileTime == 3 ? named("point") : list_of(named("number"), D::RowsAtCompileTime);
      else
        return list_of(list_of({{"type", "number"}}, D::ColsAtCompileTime), D::RowsAtCompileTime);
    } else if constexpr (requires { D::as; }) {
      return shown(x);
    } else if constexpr (wraps<Rounded, D>) {
      return of(x.value);
    } else if constexpr (wraps<Known, D>) {
      Json out = of(x.value);
      if constexpr (!std::is_integral_v<std::remove_cvref_t<decltype(x.value)>>) out = {{"type", "number"}};
      return bounded(std::move(out), x.low, x.high, x.above);
    } else if constexpr (wraps<Word, D>) {
      return {{"enum", x.names}};
    } else if constexpr (wraps<OneOf, D>) {
      return {{"enum", x.allowed}};
    } else if constexpr (wraps<Choice, D>) {
      return choices(x.value, x.names);
    } else if constexpr (wraps<Maybe, D>) {
      return or_null(of(x.value));
    } else if constexpr (wraps<std::optional, D>) {
      return or_null(of(x.emplace()));
    } else if constexpr (wraps<Row, D>) {
      Json each = Json::array();
      std::apply([&](auto&&... item) { (each.push_back(of(item)), ...); }, x.items);
      const std::size_t n = each.size();
      return {{"type", "array"}, {"prefixItems", std::move(each)}, {"minItems", n}, {"maxItems", n}};
    } else if constexpr (wraps<Each, D>) {
      typename std::remove_cvref_t<decltype(x.list)>::value_type one{};
      return list_of(of(x.item(one)));
    } else if constexpr (requires { x.begin(); }) {
      typename D::value_type one{};
      if constexpr (requires { x.resize(1); })
        return list_of(of(one));
      else
        return list_of(of(one), x.size());
    } else {
      static constexpr char tag = 0;  // its address stands for the type
      for (const Schema* s = this; s; s = s->outer_)
        if (s->type_ == &tag && s->name_) return named(s->name_);  // a type that holds its like
      Schema inner(definitions_);
      inner.outer_ = this, inner.type_ = &tag;
      describe(inner, x);
      return inner.object();
    }
  }
  template <class... T>
  Json choices(std::variant<T...>&, const std::vector<std::string>& names) {
    Json out = {{"type", "object"}, {"additionalProperties", false}, {"minProperties", 1}, {"maxProperties", 1}};
    std::size_t k = 0;
    ((out["properties"][names.at(k++)] = of(T())), ...);
    return out;
  }
  template <class T>
  Json shown(T& x) {
    constexpr As as = std::remove_cvref_t<T>::as;
    if constexpr (as == As::length) {
      return named("length");
    } else if constexpr (as == As::never) {
      return named("number_or_never");
    } else if constexpr (as == As::hash) {
      return named("sha256");
    } else if constexpr (as == As::node || as == As::corners) {
      return nodes(x.value, as == As::node ? "node" : "corner");
    } else if constexpr (as == As::by_name) {
      return {{"type", "object"}, {"additionalProperties", {{"type", "number"}}}};
    } else {
      Json out = of(x.value);
      if constexpr (as == As::not_empty) out[out["type"] == "string" ? "minLength" : "minItems"] = 1;
      return out;
    }
  }
  template <class T>
  Json nodes(T& x, const char* name) {
    if constexpr (std::is_integral_v<T>) {
      return named(name);
    } else {
      typename T::value_type one{};
      if constexpr (requires { x.resize(1); })
        return list_of(nodes(one, name));
      else
        return list_of(nodes(one, name), x.size());
    }
  }

  Json& definitions_;
  const Schema* outer_ = nullptr;
  const char* type_ = nullptr;
  const char* name_ = nullptr;
  const char* meaning_ = nullptr;
  Json properties_ = Json::object(), required_ = Json::array(), if_ = Json::object(), then_ = Json::array();
};

/// Of a whole file: the schema of what `file` was visited by, with the definitions.
std::string schema_text(const std::string& name, int version, const Schema& file, const Json& definitions);
Json first_definitions();

}  // namespace gapfront::report
