// Bytes of a live case: how numbers, texts and lists stand in them.
#pragma once
#include <cstdint>
#include <cstring>
#include <string>
#include <string_view>
#include <type_traits>
#include <utility>
#include <vector>

#include "gapfront/error.hpp"
#include "gapfront/geometry.hpp"

namespace gapfront::live {

/// Little-endian, as every machine is that this runs on. Lists of numbers go byte by byte of their numbers, all first
/// bytes, then all second ones…: those that are alike then stand together, and deflate to nothing.
class Pack {
 public:
  std::string out;

  template <class... T>
  void operator()(const T&... x) {
    (put(x), ...);
  }
  template <class T>
  void planes(const std::vector<T>& list) {
    put_count(list.size());
    for (std::size_t k = 0; k < sizeof(T); ++k)
      for (const T& x : list) {
        char bytes[sizeof(T)];
        std::memcpy(bytes, &x, sizeof(T));
        out += bytes[k];
      }
  }

 private:
  void put_count(std::size_t n) { put(static_cast<std::uint32_t>(n)); }
  template <class T>
  void put(const T& x) {
    if constexpr (std::is_arithmetic_v<T> || std::is_enum_v<T>)
      out.append(reinterpret_cast<const char*>(&x), sizeof(T));
    else
      fields(*this, x);
  }
  void put(const std::string& text) { put_count(text.size()), out += text; }
  void put(const Vec3& p) { (*this)(p.x(), p.y(), p.z()); }
  template <class A, class B>
  void put(const std::pair<A, B>& x) {
    (*this)(x.first, x.second);
  }
  void put(const std::vector<double>& list) { planes(list); }
  template <class T>
  void put(const std::vector<T>& list) {
    put_count(list.size());
    for (const T& x : list) put(x);
  }
};

/// The same read; it never reads, and never makes room, beyond the bytes that are there.
class Unpack {
 public:
  explicit Unpack(std::string_view bytes) : left_(bytes) {}

  template <class... T>
  void operator()(T&... x) {
    (get(x), ...);
  }
  template <class T>
  void planes(std::vector<T>& list) {
    const std::size_t n = count(sizeof(T));
    const std::string_view bytes = take(n * sizeof(T));
    list.resize(n);
    for (std::size_t i = 0; i < n; ++i) {
      char x[sizeof(T)];
      for (std::size_t k = 0; k < sizeof(T); ++k) x[k] = bytes[k * n + i];
      std::memcpy(&list[i], x, sizeof(T));
    }
  }
  bool done() const { return left_.empty(); }

 private:
  [[noreturn]] static void fail() { throw Error(Fault::input, "trial data: cut short; inspect again"); }
  std::string_view take(std::size_t n) {
    if (n > left_.size()) fail();
    const std::string_view out = left_.substr(0, n);
    left_.remove_prefix(n);
    return out;
  }
  std::size_t count(std::size_t least_bytes) {
    std::uint32_t n = 0;
    get(n);
    if (n > left_.size() / least_bytes) fail();
    return n;
  }
  template <class T>
  void get(T& x) {
    if constexpr (std::is_same_v<T, bool>)  // any other byte would be no bool
      x = take(1)[0] != 0;
    else if constexpr (std::is_arithmetic_v<T> || std::is_enum_v<T>)
      std::memcpy(&x, take(sizeof(T)).data(), sizeof(T));
    else
      fields(*this, x);
  }
  void get(std::string& text) { text = take(count(1)); }
  void get(Vec3& p) { (*this)(p.x(), p.y(), p.z()); }
  template <class A, class B>
  void get(std::pair<A, B>& x) {
    (*this)(x.first, x.second);
  }
  void get(std::vector<double>& list) { planes(list); }
  template <class T>
  void get(std::vector<T>& list) {
    list.resize(count(1));
    for (T& x : list) get(x);
  }

  std::string_view left_;
};

}  // namespace gapfront::live
