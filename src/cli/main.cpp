#include <CLI/CLI.hpp>
#include <algorithm>
#include <csignal>
#include <iostream>
#include <utility>

#include "cli/arguments.hpp"
#include "cli/commands.hpp"
#include "cli/terminal.hpp"
#include "gapfront/error.hpp"

namespace {

std::string one_line(std::string s) {
  while (!s.empty() && (s.back() == '\n' || s.back() == ' ')) s.pop_back();
  return gapfront::cli::harmless(std::move(s));
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
      "Measures the gap between the two halves of a closed mold from their scans, says whether it is within "
      "tolerance, where the resin front will run ahead, and what to shim, build up or relieve.",
      "gapfront");
  app.set_help_flag("-h,--help", "Show this page");
  app.set_version_flag("--version", cli::version_text());
  app.require_subcommand(1);

  std::signal(SIGXFSZ, SIG_IGN);  // a limit of file size is an error of writing, not a death in the middle of it
  const auto commands = cli::add_commands(app);

  if (const std::string fault = cli::unknown_word(app, argc, argv); !fault.empty()) return complain(fault, 1);
  try {
    app.parse(argc, argv);
    for (const auto& command : commands)
      if (*command.app) return command.run();
  } catch (const CLI::CallForHelp&) {
    const auto asked = std::find_if(commands.begin(), commands.end(), [](const auto& c) { return c.app->parsed(); });
    return cli::run_help(cli::describe(app, commands), asked == commands.end() ? "" : asked->app->get_name());
  } catch (const CLI::CallForVersion& e) {
    std::cout << e.what() << "\n";
    return 0;
  } catch (const CLI::ParseError& e) {
    return complain(cli::usage_fault(commands, e, argc, argv), 1);
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
