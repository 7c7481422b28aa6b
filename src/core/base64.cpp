#include "core/base64.hpp"

#include <openssl/evp.h>

namespace gapfront {

std::string base64(const void* data, std::size_t bytes) {
  std::string out(4 * ((bytes + 2) / 3) + 1, '\0');
  const int n = EVP_EncodeBlock(reinterpret_cast<unsigned char*>(out.data()), static_cast<const unsigned char*>(data),
                                static_cast<int>(bytes));
  out.resize(n);
  return out;
}

}  // namespace gapfront
