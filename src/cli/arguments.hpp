// The command line: every command with its options, and what runs it.
#pragma once
#include <CLI/CLI.hpp>
#include <functional>
#include <vector>

namespace gapfront::cli {

struct Command {
  CLI::App* app;             ///< true once the command line names it
  std::function<int()> run;  ///< returns the exit code, or throws Error
};
/// In the order in which --help lists them.
std::vector<Command> add_commands(CLI::App&);

}  // namespace gapfront::cli
