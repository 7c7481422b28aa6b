// What the command line says about itself, taken from its own definition (describe() in arguments.hpp): help, man pages
// and the completions of shells are all made of it.
#pragma once
#include <string>
#include <vector>

#include "cli/page.hpp"

namespace gapfront::cli {

/// An option, or a word that stands by itself.
struct Entry {
  std::vector<std::string> names;  ///< "-o", "--output"; none for a word that stands by itself
  std::string value;               ///< what it takes, in capitals: "DIR"; empty for a switch
  std::string says;
  std::vector<std::string> choices;  ///< the only values, where there are only these
  bool required = false, repeats = false;
};

struct CommandEntry {
  std::string name, group, says;
  std::vector<Entry> words, options;
  std::string example, example_says;
  std::vector<int> exits;
};

struct Manual {
  std::string says;  ///< what the program does
  std::vector<CommandEntry> commands;
  std::vector<ManualPage> topics;
};

/// gapfront --help.
ManualPage overview(const Manual&);
ManualPage page_of(const CommandEntry&);

/// A topic of `gapfront help TOPIC`.
ManualPage topic_job();
ManualPage topic_units();
ManualPage topic_uncertainty();
ManualPage topic_messages();
std::vector<ManualPage> topics();
/// "units" of "gapfront units".
std::string topic_name(const ManualPage&);

std::string bash_completion(const Manual&);
std::string zsh_completion(const Manual&);
std::string fish_completion(const Manual&);

}  // namespace gapfront::cli
