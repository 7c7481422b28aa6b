#include <CLI/CLI.hpp>
#include <algorithm>
#include <csignal>
#include <iostream>

#include "cli/arguments.hpp"
#include "cli/commands.hpp"
#include "core/nearest_word.hpp"
#include "gapfront/error.hpp"

namespace {

constexpr const char* kFooter = R"(Exit codes
  0  done
  1  bad usage, job file or scan file
  2  the halves could not be registered or measured
  3  with --fail-on: the part of the tool is not proven good
     (--fail-on nonconforming: provably outside its limits; --fail-on undecided: that, or not decided)
  130  stopped with Ctrl-C; nothing is written

A first run
  gapfront look lower.ply upper.ply        what is in the scans
  gapfront new lower.ply upper.ply         writes job.toml, with notes
  gapfront inspect job.toml                measures, and writes the report)";

std::string one_line(std::string s) {
  while (!s.empty() && (s.back() == '\n' || s.back() == ' ')) s.pop_back();
  for (char& c : s)
    if (c == '\n' || c == '\r')
      c = ' ';
    else if ((static_cast<unsigned char>(c) < 0x20 && c != '\t') || c == 0x7f)
      c = '?';  // a terminal would obey it
  return s;
}

/// What is wrong with a command or an option that nobody knows, with the nearest one that there is; empty: nothing is.
std::string mistyped(const CLI::App& app, int argc, char** argv) {
  const auto names = [](const CLI::App& of) {
    std::vector<std::string> out;
    for (const auto* option : of.get_options())
      for (const auto& name : option->get_lnames()) out.push_back("--" + name);
    return out;
  };
  const CLI::App* command = nullptr;
  for (int k = 1; k < argc; ++k) {
    const std::string word = argv[k], name = word.substr(0, word.find('='));
    if (word.starts_with("--") && word.size() > 2) {
      const auto known = names(command ? *command : app);
      const std::string near = gapfront::nearest_word(name, known);
      if (std::find(known.begin(), known.end(), name) == known.end())
        return "unknown option " + name + (near.empty() ? "" : "; did you mean " + near + "?") + "; see gapfront " +
               (command ? command->get_name() + " " : "") + "--help";
    } else if (!command && !word.starts_with("-")) {
      std::vector<std::string> known;
      for (const auto* c : app.get_subcommands([](const CLI::App*) { return true; })) {
        known.push_back(c->get_name());
        if (c->get_name() == word) command = c;
      }
      if (!command) return "unknown command \"" + word + "\"; " + gapfront::suggestion(word, known);
    }
    if (word == "--") break;
  }
  return "";
}

int complain(const std::string& line, int code) {
  gapfront::cli::clear_progress();
  std::cerr << "gapfront: " << one_line(line) << "\n";
  return code;
}

}  // namespace

int main(int argc, char** argv) {
  using namespace gapfront;
  CLI::App app(
      "Measures the gap between the two halves of a closed mold from their scans, says whether it is within\n"
      "tolerance, where the resin front will run ahead, and what to shim, build up or relieve.",
      "gapfront");
  app.footer(kFooter);
  app.set_version_flag("--version", "gapfront " GAPFRONT_VERSION);
  app.require_subcommand(1);

  std::signal(SIGXFSZ, SIG_IGN);  // a limit of file size is an error of writing, not a death in the middle of it
  const auto commands = cli::add_commands(app);

  if (const std::string fault = mistyped(app, argc, argv); !fault.empty()) return complain(fault, 1);
  try {
    app.parse(argc, argv);
    for (const auto& command : commands)
      if (*command.app) return command.run();
  } catch (const CLI::ParseError& e) {
    if (e.get_exit_code() == 0) return app.exit(e);  // --help and --version
    return complain(one_line(e.what()) + "; see gapfront --help", 1);
  } catch (const Error& e) {
    switch (e.fault) {
      case Fault::input:
        return complain(e.what(), 1);
      case Fault::measurement:
        return complain(e.what(), 2);
      case Fault::cancelled:
        return complain(e.what(), 130);
    }
  } catch (const std::bad_alloc&) {
    return complain("not enough memory for these scans; thin them out, or use a machine with more", 1);
  } catch (const std::exception& e) {
    return complain(std::string("unexpected: ") + e.what(), 1);
  }
  return 1;
}
