#include <filesystem>
#include <iostream>

#include "cli/commands.hpp"
#include "cli/manual.hpp"
#include "gapfront/report.hpp"

namespace gapfront::cli {

int run_help(const Manual& manual, const std::string& topic) {
  ManualPage page = overview(manual);
  for (const ManualPage& one : manual.topics)
    if (topic_name(one) == topic) page = one;
  for (const auto& command : manual.commands)
    if (command.name == topic) page = page_of(command);
  std::cout << terminal_text(page);
  return 0;
}

int run_manual(const Manual& manual, const std::filesystem::path& folder) {
  const std::filesystem::path share = folder / "share";
  const auto write = [&](const std::filesystem::path& file, const std::string& text) {
    std::error_code failed;
    std::filesystem::create_directories((share / file).parent_path(), failed);
    report::write_file(share / file, text);
  };
  const auto write_page = [&](const ManualPage& page) {
    write("man/man" + std::to_string(page.section) + "/" + man_file(page), man_text(page));
  };
  write_page(overview(manual));
  for (const auto& command : manual.commands) write_page(page_of(command));
  for (const ManualPage& page : manual.topics) write_page(page);
  // Where each shell looks.
  write("bash-completion/completions/gapfront", bash_completion(manual));
  write("zsh/vendor-completions/_gapfront", zsh_completion(manual));
  write("fish/vendor_completions.d/gapfront.fish", fish_completion(manual));
  return 0;
}

}  // namespace gapfront::cli
