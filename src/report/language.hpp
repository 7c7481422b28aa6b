// The page's language. Sections write English; the finished page is translated text by text, with the English text as
// the key, from the catalogue in src/text/po/*.po.
#pragma once
#include <map>
#include <string>
#include <vector>

namespace gapfront::report {

/// Around what told() wrote, until the page is translated: it stays as it is.
constexpr char told_from = '\x02', told_to = '\x03';

/// One entry of the catalogue: the same text by language code, "en" among them.
using Entry = std::map<std::string, std::string>;
/// The whole catalogue.
std::vector<Entry> catalogue();

class Language {
 public:
  /// "en" leaves everything as it is.
  explicit Language(const std::string& code);

  /// A text without markup: the words of the page's script and of its labels.
  std::string say(const std::string& english);
  /// A page: its texts, and those of its aria-label attributes. What stands in an element with translate="no", in
  /// <code>, <pre>, <style> or <script> stays as it is.
  std::string page(const std::string& html);

  bool decimal_comma() const { return comma_; }
  /// The English texts that had no entry, in order, each once.
  const std::vector<std::string>& missing() const { return missing_; }

 private:
  /// English with the places of its arguments: the literals around "{1}", "{2}"…
  struct Template {
    std::vector<std::string> literals;
    std::vector<int> order;  ///< which argument stands after each literal
    std::string translated;
    std::size_t letters = 0;  ///< of the literals: the more, the more surely it is this one
  };
  using Arguments = std::vector<std::string>;

  bool match(const Template&, const std::string& text, std::size_t part, std::size_t at, Arguments&) const;
  /// Whether `text` could be translated; then it has been.
  bool translate(std::string& text) const;
  std::string number(std::string) const;
  std::string text(const std::string& english);
  std::string tag(const std::string&);

  bool stays_, comma_;
  const char* semicolon_;  ///< between orders
  std::map<std::string, std::string> exact_;
  std::vector<Template> templates_;
  std::vector<std::string> missing_;
  /// What translate() made of a text, "" if nothing: parts of a long text are tried again and again as arguments.
  mutable std::map<std::string, std::string> tried_;
};

}  // namespace gapfront::report
