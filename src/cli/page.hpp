// A page of the manual, and the two forms it is shown in: on the terminal, and as a man page.
#pragma once
#include <string>
#include <vector>

namespace gapfront::cli {

/// A term and what it means.
struct Item {
  std::string term, text;
};

struct Part {
  std::string heading;
  std::vector<std::string> lines;  ///< to type, or to show, as they stand
  std::string text;                ///< paragraphs; an empty line parts them
  std::vector<Item> items;
};

struct ManualPage {
  std::string name;   ///< "gapfront inspect"
  int section = 1;    ///< of the system's manual: 1 for a command, 7 for a topic
  std::string title;  ///< a line
  std::vector<Part> parts;
};

/// For the terminal, wrapped.
std::string terminal_text(const ManualPage&);
/// For man, in the macros of man(7). It names no day, so that the same version makes the same bytes.
std::string man_text(const ManualPage&);
/// The file of a man page: "gapfront-inspect.1".
std::string man_file(const ManualPage&);

}  // namespace gapfront::cli
