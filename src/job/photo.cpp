// A photo of the tool as a page may hold it: a JPEG or PNG file, its picture alone.
#include <algorithm>
#include <cstdint>
#include <fstream>
#include <iterator>
#include <string_view>

#include "core/base64.hpp"
#include "gapfront/check.hpp"
#include "gapfront/error.hpp"
#include "gapfront/job.hpp"

namespace gapfront::job {
namespace {

using namespace std::string_view_literals;

// Base64 makes a third more of it, and result.json, report and work order hold it: mails still take them. The setup
// page makes photos of some 0.3 MB.
constexpr std::uintmax_t kLargestPhoto = 2'000'000;
// Unpacked, 160 MB in a browser; twice what cameras of phones take as a rule.
constexpr std::uint64_t kMostPixels = 40'000'000;

constexpr std::string_view kJpegUri = "data:image/jpeg;base64,", kPngUri = "data:image/png;base64,";
constexpr std::string_view kPngBegin = "\x89PNG\r\n\x1a\n"sv;

/// What is read byte by byte; nothing beyond the end.
struct PhotoBytes {
  std::string_view all;
  const std::filesystem::path& file;

  [[noreturn]] void fail(const std::string& fault) const {
    throw Error(Fault::input, file.string() + ": " + fault + "; save the photo again as JPEG, some 1600 pixels wide");
  }
  std::string_view part(std::size_t at, std::size_t size) const {
    if (at > all.size() || size > all.size() - at) fail("the photo is cut short");
    return all.substr(at, size);
  }
  /// Most significant byte first.
  std::uint32_t number(std::size_t at, int bytes) const {
    std::uint32_t n = 0;
    for (const char c : part(at, bytes)) n = n << 8 | static_cast<std::uint8_t>(c);
    return n;
  }
  void limit_pixels(std::uint32_t width, std::uint32_t height) const {
    if (width == 0 || height == 0) fail("the photo has no pixels");
    if (std::uint64_t{width} * height > kMostPixels) fail("the photo has more than 40 megapixels");
  }
};

/// Exif 2.32, 4.6.4: tag 0x0112 of the first directory, 1 to 8; 1 where it says nothing that can be read.
int held(std::string_view exif) {
  if (!exif.starts_with("Exif\0\0"sv)) return 1;
  const std::string_view tiff = exif.substr(6);
  const bool little = tiff.starts_with("II");
  const auto number = [&](std::size_t at, std::size_t bytes) -> std::uint32_t {
    std::uint32_t n = 0;
    if (at > tiff.size() || bytes > tiff.size() - at) return 0;
    for (std::size_t i = 0; i < bytes; ++i)
      n = n << 8 | static_cast<std::uint8_t>(tiff[at + (little ? bytes - 1 - i : i)]);
    return n;
  };
  const std::size_t directory = number(4, 4), entries = number(directory, 2);
  for (std::size_t i = 0; i < entries; ++i)
    if (const std::size_t at = directory + 2 + 12 * i; number(at, 2) == 0x0112) {
      const std::uint32_t value = number(at + 8, 2);
      return value >= 1 && value <= 8 ? static_cast<int>(value) : 1;
    }
  return 1;
}

/// A segment of Exif that says how the camera was held and nothing else.
std::string exif_of(int orientation) {
  std::string out(
      "\xff\xe1\0\x22"
      "Exif\0\0"
      "MM\0*\0\0\0\x08"
      "\0\1"
      "\1\x12\0\3\0\0\0\1\0\0\0\0"
      "\0\0\0\0",
      36);
  out[29] = static_cast<char>(orientation);
  return out;
}

/// Segments without which the picture would look otherwise (ITU-T T.81, B.1; T.872): no comment, and of the
/// applications' own only JFIF, the colour profile and the colour transform.
bool of_the_picture(int marker, std::string_view inside) {
  if (marker == 0xe0) return inside.starts_with("JFIF\0"sv);
  if (marker == 0xe2) return inside.starts_with("ICC_PROFILE\0"sv);
  if (marker == 0xee) return inside.starts_with("Adobe");
  return marker < 0xe0;
}

std::string jpeg_alone(const PhotoBytes& in) {
  std::string out;
  bool sized = false;
  int orientation = 1;
  for (std::size_t at = 2;;) {
    if (in.number(at, 1) != 0xff) in.fail("the photo is damaged");
    const int marker = static_cast<int>(in.number(at + 1, 1));
    if (marker == 0xff) {  // a byte that fills
      ++at;
      continue;
    }
    if (marker == 0xd9) break;  // what follows the end, a film or another picture, stays away
    const std::size_t size = in.number(at + 2, 2);
    if (size < 2) in.fail("the photo is damaged");
    const std::string_view inside = in.part(at + 4, size - 2);
    if (marker >= 0xc0 && marker <= 0xcf && marker != 0xc4 && marker != 0xc8 && marker != 0xcc)
      in.limit_pixels(in.number(at + 7, 2), in.number(at + 5, 2)), sized = true;
    if (marker == 0xe1 && orientation == 1) orientation = held(inside);
    std::size_t end = at + 2 + size;
    if (marker == 0xda)  // the coded picture runs to the next marker that is none of its own
      for (;; ++end)
        if (in.number(end, 1) == 0xff)
          if (const auto next = in.number(end + 1, 1); next != 0 && !(next >= 0xd0 && next <= 0xd7)) break;
    if (of_the_picture(marker, inside)) out += in.part(at, end - at);
    at = end;
  }
  if (!sized) in.fail("the photo is damaged");
  return std::string(in.part(0, 2)) + (orientation > 1 ? exif_of(orientation) : "") + out + "\xff\xd9";
}

/// Chunks that draw (PNG, third edition, 11.2 and 11.3): no texts, times or Exif.
std::string png_alone(const PhotoBytes& in) {
  constexpr std::string_view drawing[] = {"IHDR", "PLTE", "IDAT", "IEND", "tRNS", "gAMA",
                                          "cHRM", "sRGB", "iCCP", "bKGD", "pHYs", "sBIT"};
  std::string out(kPngBegin);
  if (in.part(12, 4) != "IHDR" || in.number(8, 4) != 13) in.fail("the photo is damaged");
  in.limit_pixels(in.number(16, 4), in.number(20, 4));
  for (std::size_t at = kPngBegin.size();;) {
    const std::size_t size = std::size_t{in.number(at, 4)} + 12;
    const std::string_view chunk = in.part(at, size), name = chunk.substr(4, 4);
    if (std::find(std::begin(drawing), std::end(drawing), name) != std::end(drawing)) out += chunk;
    if (name == "IEND") return out;
    at += size;
  }
}

}  // namespace

std::string read_photo(const std::filesystem::path& file) {
  check_input_file(file);
  std::error_code unknown;
  const PhotoBytes nothing{{}, file};
  if (std::filesystem::file_size(file, unknown) > kLargestPhoto && !unknown) nothing.fail("the photo is over 2 MB");
  std::ifstream in(file, std::ios::binary);
  const std::string bytes{std::istreambuf_iterator<char>(in), {}};
  const PhotoBytes photo{bytes, file};
  std::string alone;
  std::string_view uri = kPngUri;
  if (photo.all.starts_with("\xff\xd8\xff"))
    alone = jpeg_alone(photo), uri = kJpegUri;
  else if (photo.all.starts_with(kPngBegin))
    alone = png_alone(photo);
  else
    photo.fail("is no photo that a report can hold, by its content neither JPEG nor PNG");
  return std::string(uri) + base64(alone.data(), alone.size());
}

bool is_photo(const std::string& data_uri) {
  for (const std::string_view begin : {kJpegUri, kPngUri})
    if (data_uri.starts_with(begin) && data_uri.size() > begin.size() && data_uri.size() < 4 * (kLargestPhoto / 3 + 32))
      return data_uri.find_first_not_of("ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz0123456789+/=",
                                        begin.size()) == std::string::npos;
  return false;
}

}  // namespace gapfront::job
