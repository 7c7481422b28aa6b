#include "flow/even_normals.hpp"

#include <boost/random/sobol.hpp>
#include <cmath>
#include <cstdint>

#include "core/distributions.hpp"

namespace gapfront::flow {
namespace {

// Bits of a coordinate.
constexpr int kBits = 32;

/// A number that tells nothing of those that it is made from (splitmix64: Steele, Lea & Flood 2014).
std::uint64_t mixed(std::uint64_t x) {
  x += 0x9e3779b97f4a7c15U;
  x = (x ^ (x >> 30)) * 0xbf58476d1ce4e5b9U;
  x = (x ^ (x >> 27)) * 0x94d049bb133111ebU;
  return x ^ (x >> 31);
}

/// Each bit is turned or left by chance, for each sequence of bits before it anew.
std::uint32_t scrambled(std::uint32_t x, std::uint64_t key) {
  std::uint32_t out = 0;
  for (int bit = 0; bit < kBits; ++bit) {
    const std::uint64_t before = bit == 0 ? 0 : x >> (kBits - bit);
    const std::uint32_t turned = mixed(key ^ ((before << 6) + static_cast<std::uint64_t>(bit))) & 1U;
    out = (out << 1) | (((x >> (kBits - 1 - bit)) & 1U) ^ turned);
  }
  return out;
}

}  // namespace

std::vector<unsigned> sobol_point(unsigned number, int dimensions) {
  std::vector<unsigned> out(static_cast<std::size_t>(dimensions), 0);
  if (number == 0) return out;  // Boost leaves out the first point, which belongs to the first 2ᵐ
  boost::random::sobol_engine<std::uint32_t, kBits> points(static_cast<std::size_t>(dimensions));
  points.seed(number - 1);
  for (unsigned& x : out) x = points();
  return out;
}

std::vector<double> even_normals(unsigned seed, unsigned number, int dimensions) {
  std::vector<double> out;
  const std::uint64_t of_seed = mixed(seed);
  std::uint64_t axis = 0;
  for (const unsigned x : sobol_point(number, dimensions)) {
    // The middle of its part: neither 0 nor 1, whose normal numbers are endless.
    const double u = (double(scrambled(x, mixed(of_seed + ++axis))) + 0.5) / std::pow(2.0, kBits);
    out.push_back(normal_limit(u));
  }
  return out;
}

}  // namespace gapfront::flow
