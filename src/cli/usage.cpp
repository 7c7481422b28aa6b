// What is wrong with a command line, in a line.
#include <algorithm>

#include "cli/arguments.hpp"
#include "core/nearest_word.hpp"

namespace gapfront::cli {
namespace {

std::vector<std::string> long_names(const CLI::App& of) {
  std::vector<std::string> out;
  for (const auto* option : of.get_options())
    for (const auto& name : option->get_lnames()) out.push_back("--" + name);
  return out;
}

std::string name_of(const CLI::Option& o) {
  return o.get_positional() ? o.get_name(true) : "--" + o.get_lnames().front();
}

/// What is wrong with this option; empty: nothing is.
std::string fault_of(const CLI::Option& o, const Entry& e, const std::vector<std::string>& given) {
  const auto named = [&](const std::string& word) {
    return std::find(e.names.begin(), e.names.end(), word) != e.names.end();
  };
  if (o.results().empty() && !e.value.empty() && std::any_of(given.begin(), given.end(), named))
    return name_of(o) + " needs a value: " + e.value;
  if (o.results().empty() && e.required) return name_of(o) + " is missing";
  if (!e.choices.empty())
    for (const auto& word : o.results())
      if (std::find(e.choices.begin(), e.choices.end(), word) == e.choices.end())
        return name_of(o) + ": unknown \"" + word + "\"; " + suggestion(word, e.choices);
  return "";
}

}  // namespace

std::string unknown_word(const CLI::App& app, int argc, char** argv) {
  const CLI::App* command = nullptr;
  for (int k = 1; k < argc; ++k) {
    const std::string word = argv[k], name = word.substr(0, word.find('='));
    if (word.starts_with("--") && word.size() > 2) {
      const auto known = long_names(command ? *command : app);
      const std::string near = nearest_word(name, known);
      if (std::find(known.begin(), known.end(), name) == known.end())
        return "unknown option " + name + (near.empty() ? "" : "; did you mean " + near + "?") + "; see gapfront " +
               (command ? command->get_name() + " " : "") + "--help";
    } else if (!command && !word.starts_with("-")) {
      std::vector<std::string> known;
      for (const auto* c : app.get_subcommands([](const CLI::App*) { return true; })) {
        known.push_back(c->get_name());
        if (c->get_name() == word) command = c;
      }
      if (!command) return "unknown command \"" + word + "\"; " + suggestion(word, known);
    }
    if (word == "--") break;
  }
  return "";
}

std::string usage_fault(const std::vector<Command>& commands, const CLI::ParseError& e, int argc, char** argv) {
  const std::vector<std::string> given(argv + 1, argv + argc);
  for (const Command& c : commands) {
    if (!c.app->parsed()) continue;
    std::string fault;
    for (const CLI::Option* o : c.app->get_options())
      if (fault.empty()) fault = fault_of(*o, entry_of(*o), given);
    if (const auto more = c.app->remaining(); fault.empty() && !more.empty())
      fault = "nothing more is expected where \"" + more.front() + "\" stands";
    return c.app->get_name() + ": " + (fault.empty() ? e.what() : fault) + "; see gapfront " + c.app->get_name() +
           " --help";
  }
  return "a command is missing; see gapfront --help";
}

}  // namespace gapfront::cli
