// A description read from JSON that may be anything: every value is held against what the description says before it is
// taken. What is wrong first is thrown, with the way to it: "corrections.candidates.2.kind: is none of …".
#pragma once
#include <array>
#include <cstdint>
#include <limits>
#include <optional>
#include <utility>
#include <variant>

#include "report/describe/describe.hpp"

namespace gapfront::report {

/// No figure of a mold, in mm, s and Pa, comes near it, and its square is far from overflow.
inline constexpr double kLargestNumber = 1e15;
/// Places, mm: a hundred metres, beyond any mold. Drawings and templates take time and paper by their size.
inline constexpr double kFarthestPlace = 1e5;

class Reader {
 public:
  /// `nodes`: how many the sheet has.
  Reader(const Json& file, std::size_t nodes) : json_(file), nodes_(nodes) {}

  void about(const char*, const char* = nullptr) { need_object(); }
  template <class F>
  void check(const char* key, F good, const char* what) {
    if (!good()) at(key).need(false, what);  // a key that may be absent is looked up only then
  }
  /// What stands there, where it is a text with anything in it.
  const std::string* text_at(const char* key) const {
    if (!json_.is_object() || !json_.contains(key) || !json_[key].is_string()) return nullptr;
    const std::string& out = at(key).text();
    return out.empty() ? nullptr : &out;
  }
  void no_larger_than(double size) { largest_ = std::min(largest_, size); }

  template <class T>
  void operator()(const char* key, T&& x, const char* = nullptr) {
    at(key).into(x);
  }
  template <class T>
  void maybe(const char* key, bool, T&& x, const char* = nullptr) {
    if (json_.contains(key)) at(key).into(x);
  }
  template <class Get, class Set>
  void via(const char* key, Get get, Set set, const char* = nullptr) {
    auto x = blank(get);
    at(key).into(x);
    set(x);
  }
  template <class Get>
  void derived(const char* key, Get get, const char* = nullptr) {
    auto x = blank(get);
    at(key).into(x);
  }
  void constant(const char* key, const Json& value, const char* = nullptr) {
    const Reader inner = at(key);
    inner.need(inner.json_ == value, "must be " + value.dump());
  }
  template <class F>
  void object(const char* key, const char*, F f) {
    Reader inner = at(key);
    inner.need_object();
    f(inner);
  }
  template <class F>
  void object_if(bool, const char* key, const char* meaning, F f) {
    if (!at(key).json_.is_null()) object(key, meaning, f);
  }
  template <class T, class F>
  void optional(const char* key, std::optional<T>& x, const char* meaning, F f) {
    x.reset();
    object_if(true, key, meaning, [&](Reader& g) { f(g, x.emplace()); });
  }
  template <class L, class F>
  void list(const char* key, L& items, const char*, F f) {
    const Reader inner = at(key);
    inner.size(0);
    items.clear(), items.resize(inner.json_.size());
    for (std::size_t i = 0; i < items.size(); ++i) {
      Reader item(inner, nullptr, i);
      item.need_object();
      f(item, items[i]);
    }
  }
  template <class F>
  void when(const char* key, bool& flag, F f) {
    at(key).into(flag);
    if (flag) f(*this);
  }
  /// What get() gives, with what its wrapper knows but without a value.
  template <class Get>
  static auto blank(Get& get) {
    using X = std::decay_t<std::invoke_result_t<Get>>;
    if constexpr (wraps<Word, X> || wraps<Maybe, X>)
      return get();
    else
      return X{};
  }
  [[noreturn]] void fail(const std::string& what) const;

 private:
  Reader(const Reader& up, const char* key, std::size_t index);
  Reader at(const char* key) const;
  std::string way() const;
  void need(bool good, const std::string& what) const {
    if (!good) fail(what);
  }
  void need_object() const { need(json_.is_object(), "must be of type \"object\""); }
  double number() const;
  double whole(double low) const;
  void size(std::size_t exactly) const;  ///< a list of that many; 0: of any number
  const std::string& text() const;
  std::size_t place_in(const std::vector<std::string>& names) const;
  void bounds(double low, double high, bool above) const;

  template <class T>
  void into(T&& x) const {
    using D = std::remove_cvref_t<T>;
    if constexpr (std::is_same_v<D, double>) {
      x = json_.is_null() ? std::numeric_limits<double>::quiet_NaN() : number();
    } else if constexpr (std::is_same_v<D, bool>) {
      need(json_.is_boolean(), "must be of type \"boolean\"");
      x = json_.get<bool>();
    } else if constexpr (std::is_integral_v<D>) {
      need(whole(0) <= static_cast<double>(std::numeric_limits<D>::max()), "is larger than anything a mold has");
      x = static_cast<D>(whole(0));
    } else if constexpr (std::is_same_v<D, std::string>) {
      x = text();
    } else if constexpr (requires { D::RowsAtCompileTime; }) {
      read_matrix(x);
    } else if constexpr (wraps<Rounded, D> || is_shown<As::length, D>) {
      if constexpr (wraps<Rounded, D>)
        into(x.value);
      else
        need_object(), at("mm").into(x.value), at("in").into(double());
    } else if constexpr (requires { D::as; }) {
      read_shown(x);
    } else if constexpr (wraps<Known, D>) {
      bounds(x.low, x.high, x.above);
      if constexpr (std::is_same_v<std::remove_cvref_t<decltype(x.value)>, int>)
        x.value = static_cast<int>(whole(x.low));
      else
        into(x.value);
    } else if constexpr (wraps<Word, D>) {
      x.value = static_cast<std::remove_cvref_t<decltype(x.value)>>(place_in(x.names));
    } else if constexpr (wraps<OneOf, D>) {
      for (const Json& one : x.allowed)
        if (json_ == one) return into(x.value);
      fail("is none of " + x.allowed.dump());
    } else if constexpr (wraps<Choice, D>) {
      need_object(), need(json_.size() == 1, "must have one key");
      choose(x.value, x.names, std::make_index_sequence<std::variant_size_v<std::remove_cvref_t<decltype(x.value)>>>());
    } else if constexpr (wraps<Maybe, D>) {
      if (!json_.is_null()) into(x.value);
    } else if constexpr (wraps<std::optional, D>) {
      x.reset();
      if (json_.is_null()) return;
      typename D::value_type value{};
      into(value);
      x = std::move(value);
    } else if constexpr (wraps<Row, D>) {
      size(std::tuple_size_v<decltype(x.items)>);
      std::size_t k = 0;
      std::apply([&](auto&&... item) { (Reader(*this, nullptr, k++).into(item), ...); }, x.items);
    } else if constexpr (wraps<Each, D>) {
      read_list(x.list, [&](const Reader& r, auto& one) { r.into(x.item(one)); });
    } else if constexpr (requires { x.begin(); }) {
      read_list(x, [](const Reader& r, auto& one) { r.into(one); });
    } else {
      Reader inner = *this;
      inner.need_object();
      describe(inner, x);
    }
  }

  template <class T, class F>
  void read_list(T& list, F item) const {
    if constexpr (requires { list.resize(1); }) {
      size(0);
      list.clear(), list.resize(json_.size());
    } else {
      size(list.size());
    }
    for (std::size_t i = 0; i < list.size(); ++i) item(Reader(*this, nullptr, i), list[i]);
  }
  template <class V, std::size_t... k>
  void choose(V& x, const std::vector<std::string>& names, std::index_sequence<k...>) const {
    const auto take = [&](const std::string& name, auto& one) { return at(name.c_str()).into(one), true; };
    if (!((json_.contains(names.at(k)) && take(names[k], x.template emplace<k>())) || ...))
      fail("has none of the keys " + Json(names).dump());
  }
  template <class M>
  void read_matrix(M& m) const {
    size(m.rows());
    for (int i = 0; i < m.rows(); ++i) {
      const Reader line(*this, nullptr, i);
      if constexpr (M::ColsAtCompileTime == 1) {
        line.into(m(i));
      } else {
        line.size(m.cols());
        for (int k = 0; k < m.cols(); ++k) m(i, k) = Reader(line, nullptr, k).number();
      }
    }
  }
  template <class T>
  void read_shown(T& x) const {
    constexpr As as = std::remove_cvref_t<T>::as;
    if constexpr (as == As::newton) {
      into(x.value), x.value *= 1e6;
    } else if constexpr (as == As::never) {
      into(x.value);
      if (json_.is_null()) x.value = std::numeric_limits<double>::infinity();
    } else if constexpr (as == As::node || as == As::corners) {
      read_nodes(x.value, as == As::node ? -1 : 0);
    } else if constexpr (as == As::per_node) {
      size(0);
      need(json_.size() == nodes_, "is not one value per node");
      into(x.value);
    } else if constexpr (as == As::by_name) {
      need_object(), x.value.clear();
      for (const auto& [name, value] : json_.items())
        x.value.push_back({name, Reader(*this, name.c_str(), 0).number()});
    } else {
      into(x.value);
      if constexpr (as == As::not_empty) need(!x.value.empty(), "must not be empty");
    }
  }
  template <class T>
  void read_nodes(T& x, double low) const {
    if constexpr (std::is_integral_v<T>) {
      need(whole(low) < static_cast<double>(nodes_), "names a node that the sheet does not have");
      x = static_cast<T>(whole(low));
    } else {
      read_list(x, [&](const Reader& r, auto& one) { r.read_nodes(one, low); });
    }
  }

  const Json& json_;
  std::size_t nodes_;
  const Reader* up_ = nullptr;
  const char* key_ = nullptr;  ///< of `up_`, or
  std::size_t index_ = 0;
  double largest_ = kLargestNumber;
  int depth_ = 0;
};

/// The number of nodes of a file's sheet; 0 where it is no such file.
std::size_t nodes_of(const Json& file);

}  // namespace gapfront::report
