#include "scan/input.hpp"
#include <algorithm>
#include <cctype>
#include <cerrno>
#include <cstring>
#include "core/parallel.hpp"
#include "gapfront/scan.hpp"

namespace gapfront::reading {
namespace {
// Large enough that system calls and their latency vanish beside parsing, small enough to stay in the L2/L3 cache.
constexpr std::size_t kBuffer = 1 << 20;
}  // namespace

Input::Input(const std::filesystem::path& file) : name_(file.string()) {
  std::error_code error;
  const auto status = std::filesystem::status(file, error);
  if (!std::filesystem::exists(status))
    fail_file("no such file; check the path (in a job file it is taken relative to that file)");
  if (std::filesystem::is_directory(status)) fail_file("is a folder; name the scan file inside it");
  if (!std::filesystem::is_regular_file(status)) fail_file("is not an ordinary file; name a scan file");
  size_ = std::filesystem::file_size(file, error);
  if (error) fail_file("its size cannot be read: " + error.message());
  if (size_ == 0) fail_file("the file is empty; export the scan again");
  file_.reset(std::fopen(name_.c_str(), "rb"));
  if (!file_) fail_file(std::string("cannot be opened: ") + std::strerror(errno) + "; check its permissions");
  std::setvbuf(file_.get(), nullptr, _IONBF, 0);  // buffered here already
  buffer_.resize(kBuffer);
}

bool Input::fill(std::size_t wanted) {
  if (end_ - at_ >= wanted) return true;
  const std::size_t left = end_ - at_;
  free_.resize(std::max(wanted, kBuffer));
  std::memcpy(free_.data(), buffer_.data() + at_, left);
  start_ += at_;
  std::size_t end = left;
  while (end < wanted) {
    const std::size_t got = std::fread(free_.data() + end, 1, free_.size() - end, file_.get());
    if (got == 0) break;
    end += got;
  }
  if (hashing_.valid()) hashing_.get();
  buffer_.swap(free_);
  at_ = 0;
  end_ = end;
  if (std::ferror(file_.get())) fail_byte(start_ + end_, "reading failed; check the disk or copy the file again");
  // Beside the parsing of this block where there are more; the digest alone takes a third of the time.
  const bool beside = start_ + end_ < size_ && thread_count() > 1;
  hashing_ = std::async(beside ? std::launch::async | std::launch::deferred : std::launch::deferred,
                        [this, from = buffer_.data() + left, n = end - left] { digest_.add(from, n); });
  return end_ >= wanted;
}

std::string_view Input::peek(std::size_t n) {
  fill(n);
  return {buffer_.data() + at_, std::min(n, end_ - at_)};
}

const char* Input::take(std::size_t n) {
  if (!fill(n)) return nullptr;
  const char* p = buffer_.data() + at_;
  at_ += n;
  return p;
}

std::string_view Input::take_some(std::size_t n, std::uint64_t most) {
  if (!fill(n)) return {buffer_.data() + at_, end_ - at_};
  const std::size_t bytes = n * std::size_t(std::min<std::uint64_t>(most, (end_ - at_) / n));
  const std::string_view out{buffer_.data() + at_, bytes};
  at_ += bytes;
  return out;
}

bool Input::skip(std::uint64_t n) {
  while (n > 0) {
    const std::size_t part = std::min<std::uint64_t>(n, kBuffer);
    if (!take(part)) return false;
    n -= part;
  }
  return true;
}

bool Input::line(std::string_view& text) {
  std::size_t searched = 0;
  for (;;) {
    const char* from = buffer_.data() + at_;
    const void* hit = std::memchr(from + searched, '\n', end_ - at_ - searched);
    if (hit) {
      const std::size_t n = static_cast<const char*>(hit) - from;
      text = {from, n};
      at_ += n + 1;
      break;
    }
    searched = end_ - at_;
    // A text line of a scan is some dozens of characters: a megabyte without an end is not text.
    if (searched >= kBuffer) fail_byte(offset(), "no line end within a megabyte; this is not a text scan file");
    if (!fill(searched + 1)) {
      if (searched == 0) return false;
      text = {buffer_.data() + at_, searched};
      at_ += searched;
      break;
    }
  }
  if (!text.empty() && text.back() == '\r') text.remove_suffix(1);
  ++line_;
  return true;
}

std::string Input::extension() const {
  std::string out = std::filesystem::path(name_).extension().string();
  for (char& c : out) c = char(std::tolower(static_cast<unsigned char>(c)));
  return out;
}

std::string Input::finish() {
  at_ = end_;
  while (fill(1)) at_ = end_;
  hashing_.get();
  return digest_.hex();
}

void Input::fail_file(const std::string& fault) const { throw Error(Fault::input, name_ + ": " + fault); }
void Input::fail_line(const std::string& fault) const {
  throw Error(Fault::input, name_ + ":" + std::to_string(line_) + ": " + fault);
}
void Input::fail_byte(std::uint64_t byte, const std::string& fault) const {
  throw Error(Fault::input, name_ + ": byte " + std::to_string(byte) + ": " + fault);
}

std::string quote(std::string_view text) {
  std::string out = "\"";
  for (char c : text.substr(0, 40)) out += (c >= 32 && c < 127) ? c : '?';
  return out + (text.size() > 40 ? "...\"" : "\"");
}

}  // namespace gapfront::reading

std::string gapfront::scan::sha256_file(const std::filesystem::path& file) { return reading::Input(file).finish(); }
