#include "cli/manual.hpp"

#include <algorithm>

#include "cli/arguments.hpp"

namespace gapfront::cli {
namespace {

/// The words of "VERDICT:{nonconforming,undecided}", as CLI11 describes IsMember.
std::vector<std::string> choices_in(const std::string& type) {
  std::vector<std::string> out;
  const std::size_t open = type.find(":{"), close = type.rfind('}');
  if (open == std::string::npos || close == std::string::npos) return out;
  for (std::size_t from = open + 2; from < close;) {
    const std::size_t to = std::min(type.find(',', from), close);
    out.push_back(type.substr(from, to - from));
    from = to + 1;
  }
  return out;
}

std::string name_with_value(const Entry& e) {
  std::string s;
  for (const auto& name : e.names) s += (s.empty() ? "" : ", ") + name;
  return s + (s.empty() || e.value.empty() ? "" : " ") + e.value;
}

std::string call_of(const CommandEntry& c) {
  std::string line = "gapfront " + c.name;
  for (const auto& w : c.words) {
    const std::string word = w.value + (w.repeats ? "…" : "");
    line += " " + (w.required ? word : "[" + word + "]");
  }
  for (const auto& o : c.options)
    if (o.required) line += " " + o.names.back() + " " + o.value;
  const bool more = std::any_of(c.options.begin(), c.options.end(), [](const Entry& o) { return !o.required; });
  return line + (more ? " [options]" : "");
}

const char* exit_says(int code) {
  switch (code) {
    case 0:
      return "done";
    case 1:
      return "wrong usage, or a file that cannot be used or written: one line names it and the remedy";
    case 2:
      return "the halves could not be registered or measured, or the registration is in doubt: what to check first is "
             "said";
    case 3:
      return "with --fail-on: the part of the tool is not proven good (nonconforming: it is provably outside "
             "its limits; undecided: that, or not decided)";
    case 130:
      return "stopped with Ctrl-C; nothing is written";
  }
  return "";
}

/// A list, where there is anything on it.
void add_list(ManualPage& page, const std::string& heading, std::vector<Item> items) {
  if (!items.empty()) page.parts.push_back({heading, {}, "", std::move(items)});
}

CommandEntry command_entry(const Command& command) {
  CommandEntry out;
  out.name = command.app->get_name(), out.group = command.app->get_group(), out.says = command.app->get_description();
  out.example = command.example.line, out.example_says = command.example.does, out.exits = command.exits;
  for (const CLI::Option* o : command.app->get_options())
    (o->get_positional() ? out.words : out.options).push_back(entry_of(*o));
  // CLI11 puts --help first; it is the least of them.
  if (!out.options.empty()) std::rotate(out.options.begin(), out.options.begin() + 1, out.options.end());
  return out;
}

}  // namespace

Entry entry_of(const CLI::Option& o) {
  Entry e;
  const std::string type = o.get_type_name();
  for (const auto& name : o.get_snames()) e.names.push_back("-" + name);
  for (const auto& name : o.get_lnames()) e.names.push_back("--" + name);
  if (o.get_positional())
    e.value = o.get_name(true);
  else if (o.get_items_expected_max() > 0)
    e.value = type.substr(0, type.find(':'));
  e.says = o.get_description();
  e.choices = choices_in(type);
  e.required = o.get_required();
  e.repeats = o.get_items_expected_max() > 1;
  return e;
}

Manual describe(const CLI::App& app, const std::vector<Command>& commands) {
  Manual manual{app.get_description(), {}, topics()};
  for (const auto& command : commands) manual.commands.push_back(command_entry(command));
  return manual;
}

ManualPage page_of(const CommandEntry& c) {
  std::vector<Item> needed, more, exits;
  for (const auto& w : c.words) (w.required ? needed : more).push_back({w.value, w.says});
  for (const auto& o : c.options) (o.required ? needed : more).push_back({name_with_value(o), o.says});
  for (const int code : c.exits) exits.push_back({std::to_string(code), exit_says(code)});
  ManualPage page{"gapfront " + c.name, 1, c.says, {{"How to call it", {call_of(c)}, "", {}}}};
  add_list(page, "What it needs", std::move(needed));
  add_list(page, "What can be added", std::move(more));
  page.parts.push_back({"For example", {c.example}, c.example_says, {}});
  add_list(page, "Exit codes", std::move(exits));
  return page;
}

ManualPage overview(const Manual& manual) {
  ManualPage page{"gapfront", 1, manual.says, {{"How to call it", {"gapfront COMMAND …"}, "", {}}}};
  for (const auto& c : manual.commands) {
    const auto same = [&](const Part& p) { return p.heading == c.group; };
    auto part = std::find_if(page.parts.begin(), page.parts.end(), same);
    if (part == page.parts.end()) part = page.parts.insert(part, {c.group, {}, "", {}});
    part->items.push_back({c.name, c.says});
  }
  Part more{
      "To read on", {}, "", {{"gapfront COMMAND --help", "what a command needs, an example, and its exit codes"}}};
  for (const auto& t : manual.topics) more.items.push_back({"gapfront help " + topic_name(t), t.title});
  more.items.push_back({"gapfront --version", "this version, how it was built, and with which libraries"});
  page.parts.push_back(std::move(more));
  page.parts.push_back({"The first time",
                        {"gapfront look lower.ply upper.ply        what is in the scans",
                         "gapfront new lower.ply upper.ply         writes job.toml, and a page to set it up",
                         "gapfront inspect job.toml                measures, and writes the report"},
                        "",
                        {}});
  return page;
}

}  // namespace gapfront::cli
