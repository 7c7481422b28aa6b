// A scan file read once, front to back, a block at a time; its SHA-256 is taken on the way, beside the parsing.
#pragma once
#include <cstdint>
#include <cstdio>
#include <filesystem>
#include <future>
#include <memory>
#include <string>
#include <string_view>
#include <vector>
#include "core/sha256.hpp"
#include "gapfront/error.hpp"

namespace gapfront::reading {

class Input {
 public:
  /// Throws Error{Fault::input} for a missing file, a folder, an empty or an unreadable file.
  explicit Input(const std::filesystem::path& file);
  Input(const Input&) = delete;
  Input& operator=(const Input&) = delete;

  const std::string& name() const { return name_; }
  std::uint64_t size() const { return size_; }
  std::uint64_t offset() const { return start_ + at_; }
  std::uint64_t remaining() const { return size_ - offset(); }
  std::uint64_t line_number() const { return line_; }  ///< of the line handed out last, from 1
  /// Of the file's name, in lower case: ".ply".
  std::string extension() const;
  double fraction() const { return double(offset()) / double(size_); }

  /// Up to n bytes without moving on.
  std::string_view peek(std::size_t n);
  /// The next n bytes in one piece, or nullptr when the file ends before.
  const char* take(std::size_t n);
  /// Of the next records of n bytes each those that are in memory, one at least, no more than `most`; fewer bytes than
  /// one has when the file ends before.
  std::string_view take_some(std::size_t n, std::uint64_t most);
  /// Moves on by n bytes; false when the file ends before.
  bool skip(std::uint64_t n);
  /// The next line without its end (LF or CRLF); false at the end of the file.
  bool line(std::string_view& text);

  /// Reads what is left and returns the digest of the whole file.
  std::string finish();

  [[noreturn]] void fail_file(const std::string& fault) const;                      ///< "file: fault"
  [[noreturn]] void fail_line(const std::string& fault) const;                      ///< "file:line: fault"
  [[noreturn]] void fail_byte(std::uint64_t byte, const std::string& fault) const;  ///< "file: byte N: fault"

 private:
  bool fill(std::size_t wanted);

  struct Close {
    void operator()(std::FILE* f) const { std::fclose(f); }
  };
  std::string name_;
  std::unique_ptr<std::FILE, Close> file_;
  std::vector<char> buffer_, free_;                // free_: nothing reads it, the next block goes there
  std::uint64_t start_ = 0, size_ = 0, line_ = 0;  // start_: file offset of buffer_[0]
  std::size_t at_ = 0, end_ = 0;
  Sha256 digest_;
  std::future<void> hashing_;  // reads buffer_, so it stands last and ends first
};

/// A short, printable quotation of file content for an error message.
std::string quote(std::string_view text);

}  // namespace gapfront::reading
