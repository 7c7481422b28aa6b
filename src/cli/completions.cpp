// Completions of the command line for bash, zsh and fish, from the same description as the help.
#include <sstream>

#include "cli/manual.hpp"

namespace gapfront::cli {
namespace {

enum class Takes { word, choice, file, folder };

/// The values of the command line are named after what they are.
struct ValueKind {
  Takes takes;
  std::string suffix;  ///< of the files that fit
};

ValueKind kind_of(const Entry& e) {
  if (!e.choices.empty()) return {Takes::choice, ""};
  if (e.value == "DIR") return {Takes::folder, ""};
  if (e.value == "JOB" || e.value == "STUDY") return {Takes::file, "toml"};
  if (e.value == "RESULT") return {Takes::file, "json"};
  if (e.value == "TOOL") return {Takes::file, "history"};
  for (const char* any : {"FILE", "LOWER", "UPPER", "LOG", "CHECK"})
    if (e.value == any) return {Takes::file, ""};
  return {Takes::word, ""};
}

/// Of a command's words, of which there is one at least, the one that most files fit: bash and fish do not count words.
const Entry& widest(const std::vector<Entry>& words) {
  for (const Entry& e : words)
    if (const auto [takes, suffix] = kind_of(e); takes == Takes::file && suffix.empty()) return e;
  return words.front();
}

std::string spaced(const std::vector<std::string>& words) {
  std::string s;
  for (const auto& w : words) s += (s.empty() ? "" : " ") + w;
  return s;
}

/// Within the single quotes of a shell; zsh's _arguments also parts its fields with brackets and colons.
std::string in_quotes(const std::string& text, bool zsh = false) {
  std::string s;
  for (const char c : text) {
    if (c == '\'')
      s += "'\\''";
    else if (zsh && (c == '[' || c == ']' || c == ':'))
      s += std::string("\\") + c;
    else
      s += c;
  }
  return s;
}

/// A line of bash that offers what these commands print: a line each, so that a name may hold blanks.
std::string bash_offers(const std::string& commands) { return "mapfile -t COMPREPLY < <(" + commands + ")"; }

std::string bash_words(const std::vector<std::string>& words) {
  return bash_offers("compgen -W '" + spaced(words) + "' -- \"$word\"");
}

std::string bash_values(const Entry& e) {
  const auto [takes, suffix] = kind_of(e);
  switch (takes) {
    case Takes::choice:
      return bash_words(e.choices);
    case Takes::folder:
      return bash_offers("compgen -d -- \"$word\"");
    case Takes::file:  // folders too, to go down into them
      return bash_offers(suffix.empty() ? "compgen -f -- \"$word\""
                                        : "compgen -f -X '!*." + suffix + "' -- \"$word\"; compgen -d -- \"$word\"");
    case Takes::word:
      break;
  }
  return "COMPREPLY=()";
}

std::string zsh_values(const Entry& e) {
  const auto [takes, suffix] = kind_of(e);
  const std::string head = ":" + in_quotes(e.value, true) + ":";
  switch (takes) {
    case Takes::choice:
      return head + "(" + spaced(e.choices) + ")";
    case Takes::folder:
      return head + "_files -/";
    case Takes::file:
      return head + (suffix.empty() ? "_files" : "_files -g \"*." + suffix + "\"");
    case Takes::word:
      break;
  }
  return head + " ";
}

std::string fish_values(const Entry& e) {
  const auto [takes, suffix] = kind_of(e);
  switch (takes) {
    case Takes::choice:
      return " -x -a '" + spaced(e.choices) + "'";
    case Takes::folder:
      return " -x -a '(__fish_complete_directories)'";
    case Takes::file:
      return suffix.empty() ? " -r -F" : " -x -a '(__fish_complete_suffix ." + suffix + ")'";
    case Takes::word:
      break;
  }
  return " -x";
}

}  // namespace

std::string bash_completion(const Manual& manual) {
  std::vector<std::string> names{"--help", "--version"};
  for (const auto& c : manual.commands) names.push_back(c.name);
  std::ostringstream out;
  out << "# Made by \"gapfront manual\".\n_gapfront() {\n"
         "  local word=${COMP_WORDS[COMP_CWORD]} before=${COMP_WORDS[COMP_CWORD-1]}\n"
         "  if [ \"$COMP_CWORD\" -eq 1 ]; then\n    "
      << bash_words(names) << "\n    return\n  fi\n  compopt -o filenames 2>/dev/null\n"
      << "  case \"${COMP_WORDS[1]} $before\" in\n";
  for (const auto& c : manual.commands)
    for (const auto& o : c.options)
      if (!o.value.empty())
        for (const auto& name : o.names)
          out << "    '" << c.name << " " << name << "') " << bash_values(o) << "; return ;;\n";
  out << "  esac\n  case \"${COMP_WORDS[1]} $word\" in\n";
  for (const auto& c : manual.commands) {
    std::vector<std::string> options;
    for (const auto& o : c.options) options.push_back(o.names.back());
    out << "    '" << c.name << " -'*) " << bash_words(options) << " ;;\n";
    if (!c.words.empty()) out << "    '" << c.name << " '*) " << bash_values(widest(c.words)) << " ;;\n";
  }
  out << "  esac\n}\ncomplete -F _gapfront gapfront\n";
  return out.str();
}

std::string zsh_completion(const Manual& manual) {
  std::ostringstream out;
  out << "#compdef gapfront\n# Made by \"gapfront manual\".\n_gapfront() {\n  if ((CURRENT == 2)); then\n"
         "    local -a commands=(\n";
  for (const auto& c : manual.commands) out << "      '" << c.name << ":" << in_quotes(c.says, true) << "'\n";
  out << "    )\n    _describe command commands\n    _arguments '--help[Show what there is]' '--version[Show the "
         "version]'\n    return\n  fi\n  local command=$words[2]\n  shift words; ((CURRENT--))\n  case $command in\n";
  for (const auto& c : manual.commands) {
    out << "    " << c.name << ")\n      _arguments";
    for (const auto& o : c.options)
      for (const auto& name : o.names)
        out << " \\\n        '" << (o.repeats ? "*" : "") << name << "[" << in_quotes(o.says, true) << "]"
            << (o.value.empty() ? "" : zsh_values(o)) << "'";
    for (std::size_t i = 0; i < c.words.size(); ++i)
      out << " \\\n        '" << (c.words[i].repeats ? "*" : std::to_string(i + 1)) << zsh_values(c.words[i]) << "'";
    out << " ;;\n";
  }
  out << "  esac\n}\n_gapfront \"$@\"\n";
  return out.str();
}

std::string fish_completion(const Manual& manual) {
  std::ostringstream out;
  out << "# Made by \"gapfront manual\".\ncomplete -c gapfront -f\n"
         "complete -c gapfront -n __fish_use_subcommand -l help -d 'Show what there is'\n"
         "complete -c gapfront -n __fish_use_subcommand -l version -d 'Show the version'\n";
  for (const auto& c : manual.commands)
    out << "complete -c gapfront -n __fish_use_subcommand -a " << c.name << " -d '" << in_quotes(c.says) << "'\n";
  for (const auto& c : manual.commands) {
    const std::string within = "complete -c gapfront -n '__fish_seen_subcommand_from " + c.name + "'";
    for (const auto& o : c.options) {
      out << within;
      for (const auto& name : o.names)
        out << (name.starts_with("--") ? " -l " + name.substr(2) : " -s " + name.substr(1));
      out << (o.value.empty() ? "" : fish_values(o)) << " -d '" << in_quotes(o.says) << "'\n";
    }
    if (!c.words.empty()) out << within << fish_values(widest(c.words)) << "\n";
  }
  return out.str();
}

}  // namespace gapfront::cli
