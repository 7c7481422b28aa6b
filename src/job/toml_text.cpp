#include "job/toml_text.hpp"

#include <algorithm>
#include <optional>
#include <string>
#include <string_view>

#include "gapfront/error.hpp"

namespace gapfront::job {
namespace {

// Dots in one key; far above the two that a job's headers have, far below what a stack holds.
constexpr int kDeepest = 50;
constexpr std::string_view kByteOrderMark = "\xEF\xBB\xBF";

/// Where quotes and remarks end, so that the rest can be looked at character by character (TOML 1.0.0).
class Walk {
 public:
  explicit Walk(std::string_view text) : text_(text) {
    if (text_.starts_with(kByteOrderMark)) at_ = kByteOrderMark.size();
  }
  int line() const { return line_; }
  /// The line on which a text begins that has no end.
  std::optional<int> unclosed() const { return unclosed_; }
  /// The next character outside quotes and remarks; a string as its first quote. False: there is none.
  bool next(char& c) {
    if (at_ >= text_.size()) return false;
    c = text_[at_];
    if (c == '"' || c == '\'')
      skip_string(c);
    else if (c == '#')
      at_ = std::min(text_.find('\n', at_), text_.size());
    else
      pass();
    return true;
  }

 private:
  void pass() { line_ += text_[at_++] == '\n'; }
  void skip_string(char quote) {
    const std::string three(3, quote);
    const bool lines = text_.substr(at_, 3) == three;
    const int begun = line_;
    at_ += lines ? 3 : 1;
    while (at_ < text_.size()) {
      if (!lines && text_[at_] == '\n') break;
      if (lines ? text_.substr(at_, 3) == three : text_[at_] == quote) {
        at_ += lines ? 3 : 1;
        while (lines && at_ < text_.size() && text_[at_] == quote) ++at_;  // quotes that end the text itself
        return;
      }
      if (quote == '"' && text_[at_] == '\\') pass();
      if (at_ < text_.size() && (lines || text_[at_] != '\n')) pass();
    }
    if (!unclosed_) unclosed_ = begun;
  }

  std::string_view text_;
  std::size_t at_ = 0;
  int line_ = 1;
  std::optional<int> unclosed_;
};

}  // namespace

void refuse_text_that_harms(const std::string& text, const std::filesystem::path& file) {
  Walk walk(text);
  int dots = 0;
  bool key = true;  // before the "=" of a line; the name of a header as well
  const auto refuse = [&](const char* why) {
    throw Error(Fault::input, file.string() + ":" + std::to_string(walk.line()) + ": " + why);
  };
  for (char c = 0; walk.next(c);) {
    if (walk.unclosed())
      throw Error(Fault::input, file.string() + ":" + std::to_string(*walk.unclosed()) +
                                    ": the text that begins in this line has no closing quote; add it, name = \"…\"");
    if (static_cast<unsigned char>(c) > 0x7F)
      refuse(
          "a character beyond ASCII stands outside quotes (a blank from a web page looks like any other); put text "
          "in quotes, name = \"…\", and write keys and blanks anew");
    if (c == '\n' || c == '{' || c == ',') {  // a key may follow
      key = true, dots = 0;
    } else if (c == '=') {
      key = false;
    } else if (c == '.' && key && ++dots > kDeepest) {
      refuse("the key has too many parts; no key of a job file has more than three");
    }
  }
}

}  // namespace gapfront::job
