// Ed25519 signatures (RFC 8032) through OpenSSL. Keys are PEM text, as `openssl genpkey -algorithm ed25519` and
// `openssl pkey -pubout` write them.
#pragma once
#include <string>
#include <string_view>

namespace gapfront {

/// 64 bytes. Throws Error{Fault::input} where the key is no Ed25519 private key.
std::string sign(const std::string& private_key, std::string_view bytes);
/// Whether this is the signature of these bytes by the owner of the key. Throws Error{Fault::input} where the key is no
/// Ed25519 public key.
bool is_signed(const std::string& public_key, std::string_view bytes, std::string_view signature);
/// The public key that goes with a private one.
std::string public_part(const std::string& private_key);
/// SHA-256 of a public key's DER form, in hexadecimal digits: what owners tell each other to compare.
std::string fingerprint(const std::string& public_key);

}  // namespace gapfront
