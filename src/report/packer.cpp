#include "report/packer.hpp"

#include <zlib.h>

#include <cstdint>

#include "core/base64.hpp"
#include "gapfront/error.hpp"

namespace gapfront::report {

void Packer::add(const std::vector<long long>& values, const std::vector<bool>& none, std::size_t stride) {
  std::vector<long long> last(stride, 0);
  std::vector<std::uint32_t> codes(values.size());
  for (std::size_t i = 0; i < values.size(); ++i) {
    if (!none.empty() && none[i]) continue;
    const long long d = values[i] - last[i % stride];
    codes[i] = static_cast<std::uint32_t>((d < 0 ? -2 * d - 1 : 2 * d) + 1);
    last[i % stride] = values[i];
  }
  for (int shift = 0; shift < 32; shift += 8)
    for (auto c : codes) bytes_ += static_cast<char>(c >> shift & 255);
}

std::string Packer::base64() const {
  const std::string out = deflated(bytes_, "the page's points could not be compressed: not enough memory");
  return gapfront::base64(out.data(), out.size());
}

std::string deflated(const std::string& bytes, const std::string& fault) {
  uLongf size = ::compressBound(static_cast<uLong>(bytes.size()));
  std::string out(size, '\0');
  if (::compress2(reinterpret_cast<Bytef*>(out.data()), &size, reinterpret_cast<const Bytef*>(bytes.data()),
                  static_cast<uLong>(bytes.size()), Z_DEFAULT_COMPRESSION) != Z_OK)
    throw Error(Fault::measurement, fault);
  out.resize(size);
  return out;
}

}  // namespace gapfront::report
