// A study file: a job, and settings of it to be replaced.
#include <algorithm>
#include <sstream>

#include "gapfront/alternatives.hpp"
#include "gapfront/error.hpp"
#include "job/sections.hpp"

namespace gapfront::job {
namespace {

/// More than a night's work on any machine; a mistake in the file is more likely.
constexpr std::size_t kMostAlternatives = 500;

/// Settings that the gap does not depend on: the mold is measured once for all alternatives.
bool may_change(std::string_view section) { return section == "laminate" || section == "flow" || section == "closing"; }

struct Group {
  std::string name;
  const toml::array* entries = nullptr;
  toml::source_index line = 0;
};

/// Tables into tables, key by key; anything else takes the place of what is there.
void replace_in(toml::table& in, const toml::table& by) {
  for (const auto& [key, value] : by) {
    const std::string name(key.str());
    toml::table* there = in.get_as<toml::table>(name);
    if (const toml::table* part = value.as_table(); part && there)
      replace_in(*there, *part);
    else
      value.visit([&in, &name](const auto& v) { in.insert_or_assign(name, v); });
  }
}

std::string line_of(const toml::node& node) { return std::to_string(node.source().begin.line); }

std::string entry_name(const Group& g, std::size_t k, const std::string& file) {
  const toml::table* entry = g.entries->get(k)->as_table();
  const auto name = entry ? entry->get_as<std::string>("name") : nullptr;
  if (!name || name->get().empty())
    throw Error(Fault::input, file + ":" + line_of(*g.entries->get(k)) + ": [[" + g.name +
                                  "]] has an entry without a name; add name = \"corner vent\"");
  return name->get();
}

/// What the entry replaces, without its name.
toml::table change_of(const Group& g, std::size_t k, const std::string& file) {
  const toml::table& entry = *g.entries->get(k)->as_table();
  for (const auto& [key, value] : entry)
    if (key.str() != "name" && (!may_change(key.str()) || !value.is_table()))
      throw Error(Fault::input, file + ":" + std::to_string(key.source().begin.line) + ": [[" + g.name + "]] " +
                                    std::string(key.str()) +
                                    ": a study replaces settings of laminate, flow and closing alone; write e.g. "
                                    "flow.rate = \"1 L/min\"");
  toml::table change = entry;
  change.erase("name");
  return change;
}

/// The job of the changed table. A copied table knows no lines any more: the entry's own line is said.
Job changed_job(const toml::table& changed, const std::filesystem::path& file, std::string text,
                const std::string& study, const std::string& line) {
  try {
    return job_of(changed, file, std::move(text), study);
  } catch (const Error& e) {
    const std::string what = e.what();
    const bool named = what.rfind(study + ": ", 0) == 0;
    throw Error(e.fault, study + ":" + line + ": " + (named ? what.substr(study.size() + 2) : what));
  }
}

std::vector<Group> groups_of(const toml::table& study, const std::string& file) {
  std::vector<Group> out;
  for (const auto& [key, value] : study) {
    if (key.str() == "job" || key.str() == "combine") continue;
    if (!value.is_array_of_tables())
      throw Error(Fault::input, file + ":" + std::to_string(value.source().begin.line) + ": " + std::string(key.str()) +
                                    ": is no group; write [[" + std::string(key.str()) +
                                    "]] above each of its entries");
    out.push_back({std::string(key.str()), value.as_array(), value.source().begin.line});
  }
  std::sort(out.begin(), out.end(), [](const Group& a, const Group& b) { return a.line < b.line; });
  if (out.empty())
    throw Error(Fault::input, file + ": has no group of alternatives; add e.g. [[vents]] with name and flow.vent");
  return out;
}

/// For each alternative the entry of each group; −1: the job's own.
std::vector<std::vector<int>> combinations(const std::vector<Group>& groups, bool grid) {
  std::vector<std::vector<int>> out;
  if (!grid) {
    for (std::size_t g = 0; g < groups.size(); ++g)
      for (std::size_t k = 0; k < groups[g].entries->size(); ++k) {
        out.emplace_back(groups.size(), -1);
        out.back()[g] = static_cast<int>(k);
      }
    return out;
  }
  out.emplace_back();
  for (const Group& g : groups) {
    std::vector<std::vector<int>> longer;
    for (const auto& before : out)
      for (std::size_t k = 0; k < g.entries->size(); ++k) {
        longer.push_back(before);
        longer.back().push_back(static_cast<int>(k));
      }
    out = std::move(longer);
    if (out.size() > kMostAlternatives) break;
  }
  return out;
}

}  // namespace

Alternatives read_alternatives(const std::filesystem::path& file) {
  const JobText study = read_text(file);
  const std::string said = file.string();
  Table root(study.parsed, said, "");
  const std::string named = root.need("job", root.text("job"), "\"my.toml\"");
  const bool grid = root.word("combine", {"grid", "list"}, "grid") == "grid";
  Alternatives out;
  out.file = file;
  const auto job_file = (file.parent_path() / named).lexically_normal();
  const JobText base = read_text(job_file);
  out.job = job_of(base.parsed, job_file, base.text, job_file.string());
  const std::vector<Group> groups = groups_of(study.parsed, said);
  for (const Group& g : groups) out.groups.push_back(g.name);
  const auto chosen = combinations(groups, grid);
  if (chosen.size() > kMostAlternatives)
    throw Error(Fault::input, said + ": asks for more than " + std::to_string(kMostAlternatives) +
                                  " alternatives; take entries out, or set combine = \"list\"");
  for (const auto& entries : chosen) {
    Alternative a;
    toml::table changed = base.parsed;
    std::ostringstream changes;
    std::string line = "1";
    for (std::size_t g = 0; g < groups.size(); ++g) {
      if (entries[g] < 0) {
        a.names.emplace_back();
        continue;
      }
      a.names.push_back(entry_name(groups[g], entries[g], said));
      const toml::table change = change_of(groups[g], entries[g], said);
      changes << "\n# " << groups[g].name << ": " << a.names.back() << "\n" << change << "\n";
      replace_in(changed, change);
      line = line_of(*groups[g].entries->get(entries[g]));
    }
    a.job = changed_job(changed, job_file, base.text + changes.str(), said, line);
    out.all.push_back(std::move(a));
  }
  return out;
}

}  // namespace gapfront::job
