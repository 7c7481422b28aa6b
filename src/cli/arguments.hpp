// The command line: every command with its options, and what runs it; what is wrong with one.
#pragma once
#include <CLI/CLI.hpp>
#include <functional>
#include <string>
#include <vector>

#include "cli/manual.hpp"

namespace gapfront::cli {

struct Example {
  std::string line, does;
};

struct Command {
  CLI::App* app;             ///< true once the command line names it
  std::function<int()> run;  ///< returns the exit code, or throws Error
  Example example;
  std::vector<int> exits;  ///< the exit codes that it has
};
/// In the order in which --help lists them.
std::vector<Command> add_commands(CLI::App&);

/// What the definition says, in plain texts.
Entry entry_of(const CLI::Option&);
Manual describe(const CLI::App&, const std::vector<Command>&);

/// What is wrong with a command or an option that nobody knows, with the nearest one that there is; empty: nothing is.
std::string unknown_word(const CLI::App&, int argc, char** argv);
/// What CLI11 found wrong with the command line, in our words.
std::string usage_fault(const std::vector<Command>&, const CLI::ParseError&, int argc, char** argv);

}  // namespace gapfront::cli
