#include "core/signature.hpp"

#include <openssl/bio.h>
#include <openssl/evp.h>
#include <openssl/pem.h>
#include <openssl/x509.h>

#include <algorithm>
#include <memory>

#include "core/sha256.hpp"
#include "gapfront/error.hpp"

namespace gapfront {
namespace {

using EvpKey = std::unique_ptr<EVP_PKEY, void (*)(EVP_PKEY*)>;
using Buffer = std::unique_ptr<BIO, int (*)(BIO*)>;
using DigestContext = std::unique_ptr<EVP_MD_CTX, void (*)(EVP_MD_CTX*)>;

constexpr std::size_t kSignature = 64;  // bytes, RFC 8032, section 5.1.6

const unsigned char* raw(std::string_view bytes) { return reinterpret_cast<const unsigned char*>(bytes.data()); }

Buffer reading(const std::string& text) {
  return {BIO_new_mem_buf(text.data(), static_cast<int>(text.size())), BIO_free};
}

/// An encrypted key asks for its pass phrase on the terminal.
EvpKey private_from(const std::string& pem) {
  EvpKey key{PEM_read_bio_PrivateKey(reading(pem).get(), nullptr, nullptr, nullptr), EVP_PKEY_free};
  if (!key || EVP_PKEY_id(key.get()) != EVP_PKEY_ED25519)
    throw Error(Fault::input, "no Ed25519 private key; make one with: openssl genpkey -algorithm ed25519 -out my.key");
  return key;
}

EvpKey public_from(const std::string& pem) {
  EvpKey key{PEM_read_bio_PUBKEY(reading(pem).get(), nullptr, nullptr, nullptr), EVP_PKEY_free};
  if (!key || EVP_PKEY_id(key.get()) != EVP_PKEY_ED25519)
    throw Error(Fault::input,
                "no Ed25519 public key; take it from the private one with: openssl pkey -in my.key -pubout");
  return key;
}

}  // namespace

std::string sign(const std::string& private_key, std::string_view bytes) {
  const EvpKey key = private_from(private_key);
  const DigestContext context{EVP_MD_CTX_new(), EVP_MD_CTX_free};
  unsigned char out[kSignature];
  std::size_t size = sizeof out;
  // No digest is named: Ed25519 hashes by itself.
  if (EVP_DigestSignInit(context.get(), nullptr, nullptr, nullptr, key.get()) != 1 ||
      EVP_DigestSign(context.get(), out, &size, raw(bytes), bytes.size()) != 1)
    throw Error(Fault::input, "the key does not sign; make one with openssl genpkey -algorithm ed25519");
  return {reinterpret_cast<const char*>(out), size};
}

bool is_signed(const std::string& public_key, std::string_view bytes, std::string_view signature) {
  const EvpKey key = public_from(public_key);
  const DigestContext context{EVP_MD_CTX_new(), EVP_MD_CTX_free};
  return EVP_DigestVerifyInit(context.get(), nullptr, nullptr, nullptr, key.get()) == 1 &&
         EVP_DigestVerify(context.get(), raw(signature), signature.size(), raw(bytes), bytes.size()) == 1;
}

std::string public_part(const std::string& private_key) {
  const EvpKey key = private_from(private_key);
  const Buffer out{BIO_new(BIO_s_mem()), BIO_free};
  PEM_write_bio_PUBKEY(out.get(), key.get());
  char* text = nullptr;
  const long size = BIO_get_mem_data(out.get(), &text);
  return {text, static_cast<std::size_t>(size)};
}

std::string fingerprint(const std::string& public_key) {
  const EvpKey key = public_from(public_key);
  std::string der(static_cast<std::size_t>(std::max(0, i2d_PUBKEY(key.get(), nullptr))), '\0');
  auto* end = reinterpret_cast<unsigned char*>(der.data());
  i2d_PUBKEY(key.get(), &end);
  return sha256(der);
}

}  // namespace gapfront
