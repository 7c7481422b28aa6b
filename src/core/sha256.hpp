// SHA-256 (FIPS 180-4, via OpenSSL EVP).
#pragma once
#include <cstddef>
#include <memory>
#include <string>
#include <string_view>

namespace gapfront {

/// Of bytes that come piece by piece.
class Sha256 {
 public:
  Sha256();
  void add(const void* data, std::size_t size);
  /// Of all that came, in hexadecimal digits; nothing can be added afterwards.
  std::string hex();

 private:
  std::unique_ptr<void, void (*)(void*)> context_;
};

std::string sha256(std::string_view bytes);

}  // namespace gapfront
