// The film as animated PNG, read again: its chunks by the PNG specification (third edition), its first frame by libpng.
#include <png.h>
#include <zlib.h>

#include <catch2/catch.hpp>

#include "gapfront/error.hpp"
#include "gapfront/report.hpp"
#include "small.hpp"

namespace {

struct FilmChunk {
  std::string kind, data;
};

std::uint32_t number_at(const std::string& s, std::size_t at) {
  std::uint32_t v = 0;
  for (int k = 0; k < 4; ++k) v = v << 8 | static_cast<unsigned char>(s.at(at + k));
  return v;
}

/// Every chunk, with its checksum verified.
std::vector<FilmChunk> film_chunks(const std::string& png) {
  std::vector<FilmChunk> out;
  for (std::size_t at = 8; at < png.size();) {
    const std::uint32_t bytes = number_at(png, at);
    out.push_back({png.substr(at + 4, 4), png.substr(at + 8, bytes)});
    const std::string body = png.substr(at + 4, bytes + 4);
    REQUIRE(number_at(png, at + 8 + bytes) ==
            ::crc32(0, reinterpret_cast<const Bytef*>(body.data()), static_cast<uInt>(body.size())));
    at += 12 + bytes;
  }
  return out;
}

}  // namespace

TEST_CASE("The film's frames are as many as it says, in order, each whole and within the picture") {
  const std::string png = report::film_png(small_inspection(), false);
  const auto all = film_chunks(png);
  REQUIRE(all.front().kind == "IHDR");
  REQUIRE(all.back().kind == "IEND");
  const std::uint32_t wide = number_at(all.front().data, 0), high = number_at(all.front().data, 4);
  std::uint32_t said = 0, frames = 0, next = 0;
  std::uint32_t w = 0, h = 0;
  for (const FilmChunk& c : all) {
    if (c.kind == "acTL") said = number_at(c.data, 0);
    if (c.kind == "fcTL" || c.kind == "fdAT") CHECK(number_at(c.data, 0) == next++);
    if (c.kind == "fcTL") {
      ++frames, w = number_at(c.data, 4), h = number_at(c.data, 8);
      CHECK(number_at(c.data, 12) + w <= wide);
      CHECK(number_at(c.data, 16) + h <= high);
    }
    if (c.kind != "IDAT" && c.kind != "fdAT") continue;
    const std::string packed = c.data.substr(c.kind == "fdAT" ? 4 : 0);
    std::string rows(h * (w + 1), '\0');
    uLongf bytes = rows.size();
    REQUIRE(::uncompress(reinterpret_cast<Bytef*>(rows.data()), &bytes, reinterpret_cast<const Bytef*>(packed.data()),
                         packed.size()) == Z_OK);
    CHECK(bytes == rows.size());
  }
  CHECK(frames == said);
  CHECK(frames > 60);

  png_image image{};
  image.version = PNG_IMAGE_VERSION;
  REQUIRE(png_image_begin_read_from_memory(&image, png.data(), png.size()));
  image.format = PNG_FORMAT_GRAY;
  std::vector<png_byte> grey(PNG_IMAGE_SIZE(image));
  REQUIRE(png_image_finish_read(&image, nullptr, grey.data(), 0, nullptr));
  CHECK(image.width == wide);
  CHECK(std::count(grey.begin(), grey.end(), 255) > 0.5 * grey.size());                // paper
  CHECK(std::count_if(grey.begin(), grey.end(), [](int g) { return g < 60; }) > 500);  // letters
}

TEST_CASE("A result without fronts makes no film, and says so") {
  Inspection r = small_inspection();
  r.filling.arrival.clear();
  CHECK_THROWS_WITH(report::film_png(r, false), Catch::Contains("holds no fronts"));
}
