#include "report/trial.hpp"

#include <openssl/evp.h>
#include <zlib.h>

#include "core/base64.hpp"
#include "gapfront/error.hpp"
#include "gapfront/live.hpp"
#include "report/packer.hpp"
#include "report/picture.hpp"

namespace gapfront::report {
namespace {

// A packed case has about 150 bytes a node and 40 more for each correction, of which a plan has some dozens at the
// most; what claims to be larger was made to fill the memory.
constexpr std::size_t kMostPerNode = 4000, kMostElse = 1 << 20;

std::string from_base64(const std::string& text) {
  if (text.size() % 4 != 0 || text.size() > (1u << 30)) return "";
  std::string out(text.size() / 4 * 3, '\0');
  const int n = EVP_DecodeBlock(reinterpret_cast<unsigned char*>(out.data()),
                                reinterpret_cast<const unsigned char*>(text.data()), static_cast<int>(text.size()));
  if (n < 0) return "";
  // It counts the padding's zero bytes as well; the stream does not mind them.
  out.resize(static_cast<std::size_t>(n));
  return out;
}

/// Empty for what is no stream, or is longer than `most`.
std::string inflated(const std::string& packed, std::size_t most) {
  z_stream z{};
  if (inflateInit(&z) != Z_OK) return "";
  std::string out;
  z.next_in = reinterpret_cast<Bytef*>(const_cast<char*>(packed.data()));
  z.avail_in = static_cast<uInt>(packed.size());
  int state = Z_OK;
  while (state == Z_OK && out.size() <= most) {
    const std::size_t before = out.size();
    out.resize(before + (1 << 16));
    z.next_out = reinterpret_cast<Bytef*>(out.data() + before);
    z.avail_out = 1 << 16;
    state = inflate(&z, Z_NO_FLUSH);
    out.resize(out.size() - z.avail_out);
  }
  inflateEnd(&z);
  return state == Z_STREAM_END && out.size() <= most ? out : "";
}

}  // namespace

std::string trial_text(const std::string& bytes) {
  if (bytes.empty()) return "";
  const std::string out = deflated(
      bytes, "the data of the page's trials could not be compressed: not enough memory; free some and inspect again");
  return base64(out.data(), out.size());
}

bool put_trials(const std::string& text, Inspection& r) {
  const std::size_t nodes = r.sheet.mesh.points.size();
  std::string bytes = inflated(from_base64(text), kMostPerNode * nodes + kMostElse);
  try {
    if (live::unpack(bytes).mesh.points.size() != nodes) return false;
  } catch (const Error&) {
    return false;
  }
  r.live = std::move(bytes);
  return true;
}

}  // namespace gapfront::report
