#pragma once
#include <string>

namespace gapfront {

/// RFC 4648, section 4, with padding (OpenSSL).
std::string base64(const void* data, std::size_t bytes);

}  // namespace gapfront
