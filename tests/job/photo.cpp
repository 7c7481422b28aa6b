// The photo of the tool: what is taken for one, and what of it a report may hold.
#include <algorithm>

#include "job_text.hpp"

using namespace gapfront;
using namespace gapfront::test;
using namespace std::string_literals;
using Catch::Contains;

namespace {

std::string jpeg_segment(char marker, const std::string& inside) {
  const std::size_t size = inside.size() + 2;
  return "\xff"s + marker + static_cast<char>(size >> 8) + static_cast<char>(size & 255) + inside;
}

/// As a camera writes it (ITU-T T.81; Exif 2.32): a profile, Exif with how it was held and where, a comment, the
/// picture, and something after its end.
std::string camera_jpeg(int width, int orientation) {
  const std::string exif =
      "Exif\0\0II*\0\x08\0\0\0\2\0"
      "\x10\1\2\0\1\0\0\0X\0\0\0"
      "\x12\1\3\0\1\0\0\0"s +
      static_cast<char>(orientation) + "\0\0\0\0\0\0\0at 51 N, 7 E"s;
  const std::string frame =
      "\x08\0\x10"s + static_cast<char>(width >> 8) + static_cast<char>(width & 255) + "\1\1\x11\0"s;
  return "\xff\xd8"s + jpeg_segment('\xe0', "JFIF\0\1\1\0\0\1\0\1\0\0"s) + jpeg_segment('\xe1', exif) +
         jpeg_segment('\xe2', "ICC_PROFILE\0\1\1profile"s) + jpeg_segment('\xfe', "by N. N.") +
         jpeg_segment('\xdb', std::string(65, '\1')) + jpeg_segment('\xc0', frame) +
         jpeg_segment('\xda', "\1\1\0\0\x3f\0"s) + "\x12\xff\0\x34\xff\xd0\x56\xff\xd9 and a film"s;
}

std::string png_chunk(const std::string& name, const std::string& inside) {
  return "\0\0\0"s + static_cast<char>(inside.size()) + name + inside + "crc.";
}
std::string small_png() {
  return "\x89PNG\r\n\x1a\n"s + png_chunk("IHDR", "\0\0\0\x10\0\0\0\x10\x08\2\0\0\0"s) +
         png_chunk("tEXt", "Author\0N. N."s) + png_chunk("eXIf", "MM at 51 N") + png_chunk("IDAT", "data") +
         png_chunk("IEND", "") + "more";
}

std::string from_base64(const std::string& text) {
  static const std::string signs = "ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz0123456789+/";
  std::string out;
  unsigned bits = 0;
  int held = 0;
  for (const char c : text)
    if (const auto at = signs.find(c); at != std::string::npos) {
      bits = bits << 6 | static_cast<unsigned>(at), held += 6;
      if (held >= 8) out += static_cast<char>(bits >> (held -= 8) & 255);
    }
  return out;
}

}  // namespace

TEST_CASE("Of a photo its picture is kept, and how it was held: no place, no name, nothing after its end") {
  const Folder folder;
  const std::string uri = job::read_photo(folder.write("tool.jpg", camera_jpeg(1600, 6)));
  CHECK(job::is_photo(uri));
  REQUIRE(uri.starts_with("data:image/jpeg;base64,"));
  const std::string kept = from_base64(uri.substr(23));
  for (const char* gone : {"51 N", "N. N.", "film"}) CHECK(kept.find(gone) == std::string::npos);
  for (const char* there : {"JFIF", "ICC_PROFILE", "profile"}) CHECK(kept.find(there) != std::string::npos);
  // Exif 2.32: big-endian, one entry, tag 0x0112, type 3, count 1, value 6.
  CHECK(kept.find("Exif\0\0MM\0*\0\0\0\x08\0\1\1\x12\0\3\0\0\0\1\0\6\0\0\0\0\0\0"s) == 6);
  CHECK(kept.ends_with("\x12\xff\0\x34\xff\xd0\x56\xff\xd9"s));
  // Two segments of Exif, of which the first counts, become one.
  const std::string other = camera_jpeg(1600, 8);
  const std::size_t from = other.find("\xff\xe1"), to = other.find("\xff\xe2");
  const std::string twice = other.substr(0, from) + camera_jpeg(1600, 6).substr(from, to - from) + other.substr(from);
  const std::string once = from_base64(job::read_photo(folder.write("twice.jpg", twice)).substr(23));
  CHECK(once.size() == kept.size());
  CHECK(once.find("\1\x12\0\3\0\0\0\1\0\6"s) != std::string::npos);
  CHECK(from_base64(job::read_photo(folder.write("flat.jpg", camera_jpeg(1600, 1))).substr(23)).find("Exif") ==
        std::string::npos);

  const std::string png = job::read_photo(folder.write("tool.png", small_png()));
  REQUIRE(png.starts_with("data:image/png;base64,"));
  const std::string drawn = from_base64(png.substr(22));
  for (const char* gone : {"N. N.", "51 N", "more"}) CHECK(drawn.find(gone) == std::string::npos);
  CHECK(drawn.find("data") != std::string::npos);
}

TEST_CASE("What is no JPEG or PNG photo, too large or cut short is refused, whatever its name") {
  const Folder folder;
  const auto refused = [&](const std::string& bytes, const char* why) {
    CHECK_THROWS_WITH(job::read_photo(folder.write("tool.jpg", bytes)), Contains(why) && Contains("tool.jpg"));
  };
  refused("<svg xmlns=\"http://www.w3.org/2000/svg\" onload=\"alert(1)\"/>", "neither JPEG nor PNG");
  refused("", "is empty");
  refused(std::string(2'000'001, 'x'), "over 2 MB");
  refused(camera_jpeg(0, 1), "no pixels");
  std::string wide = small_png();
  wide[17] = wide[21] = '\1';  // 65,552 by 65,552
  refused(wide, "40 megapixels");
  // However short it is cut, nothing beyond its end is read. Within the last 13 bytes lies what may follow the end.
  const std::string whole = camera_jpeg(1600, 6), png = small_png();
  for (std::size_t n = 3; n + 11 < whole.size(); ++n)
    CHECK_THROWS_AS(job::read_photo(folder.write("cut.jpg", whole.substr(0, n))), Error);
  for (std::size_t n = 8; n + 4 < png.size(); ++n)
    CHECK_THROWS_AS(job::read_photo(folder.write("cut.png", png.substr(0, n))), Error);
  CHECK_THROWS_WITH(job::read_photo(folder.write("x", "").parent_path() / "none.jpg"), Contains("none.jpg"));
}

TEST_CASE("A page takes no link and nothing that runs for a photo") {
  CHECK(job::is_photo("data:image/png;base64,AAAA"));
  for (const char* no : {"", "https://example.org/a.jpg", "data:image/svg+xml;base64,AAAA", "data:image/png;base64,",
                         "data:image/png;base64,AA\" onerror=\"x", "javascript:alert(1)", "data:text/html;base64,AAAA"})
    CHECK_FALSE(job::is_photo(no));
}

TEST_CASE("The photo is beside the job, and a job that names none has none") {
  const Folder folder;
  CHECK(job::read_job(folder.write("job.toml", minimum)).photo.empty());
  const auto with = [&](const std::string& line) {
    std::string text = minimum;
    const auto at = text.find("[job]\n");
    text = at == std::string::npos ? "[job]\n" + line + text : text.insert(at + 6, line);
    return job::read_job(folder.write("job.toml", text));
  };
  CHECK(with("photo = \"tool.jpg\"\n").photo.filename() == "tool.jpg");
  CHECK_THROWS_WITH(with("photo = \"\"\n"), Contains("photo") && Contains("must name"));
}
