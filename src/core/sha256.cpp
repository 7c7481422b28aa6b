#include "core/sha256.hpp"

#include <openssl/evp.h>

namespace gapfront {
namespace {

EVP_MD_CTX* evp(void* context) { return static_cast<EVP_MD_CTX*>(context); }

}  // namespace

Sha256::Sha256() : context_(EVP_MD_CTX_new(), [](void* c) { EVP_MD_CTX_free(evp(c)); }) {
  EVP_DigestInit_ex(evp(context_.get()), EVP_sha256(), nullptr);
}

void Sha256::add(const void* data, std::size_t size) { EVP_DigestUpdate(evp(context_.get()), data, size); }

std::string Sha256::hex() {
  unsigned char bytes[EVP_MAX_MD_SIZE];
  unsigned int n = 0;
  EVP_DigestFinal_ex(evp(context_.get()), bytes, &n);
  std::string out;
  for (unsigned i = 0; i < n; ++i) {
    out += "0123456789abcdef"[bytes[i] >> 4];
    out += "0123456789abcdef"[bytes[i] & 15];
  }
  return out;
}

std::string sha256(std::string_view bytes) {
  Sha256 digest;
  digest.add(bytes.data(), bytes.size());
  return digest.hex();
}

}  // namespace gapfront
