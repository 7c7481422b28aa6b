// [job] unconfirmed: the entries that were guessed. A list, because a comment cannot be seen by the program, and a
// value that carries a mark would be no value any more. To confirm one is to take it off the list.
#include <algorithm>
#include <set>
#include <sstream>

#include "core/nearest_word.hpp"
#include "job/sections.hpp"

namespace gapfront::job {
namespace {

struct Entry {
  std::string key, value;
  toml::source_position at;
};

std::string short_text(const toml::node& node) {
  if (const auto s = node.value_exact<std::string>()) return *s;
  if (node.is_table() || node.is_array()) return "";
  std::ostringstream out;
  node.visit([&](const auto& n) {
    if constexpr (toml::is_value<decltype(n)>) out << n;
  });
  return out.str();
}

/// Every key with its sections before it; the tables of one list share their name.
void collect(const toml::table& table, const std::string& before, std::vector<Entry>& out) {
  for (const auto& [k, node] : table) {
    const std::string key = before + std::string(k.str());
    const auto known = [&](const Entry& e) { return e.key == key; };
    if (std::none_of(out.begin(), out.end(), known)) out.push_back({key, short_text(node), node.source().begin});
    if (const auto* inner = node.as_table()) collect(*inner, key + ".", out);
    if (const auto* list = node.as_array())
      for (const auto& n : *list)
        if (const auto* inner = n.as_table()) collect(*inner, key + ".", out);
  }
}

}  // namespace

void read_unconfirmed(const toml::table& file, const std::vector<std::string>& listed, const Table& t, Job& job) {
  if (listed.empty()) return;
  std::vector<Entry> all;
  collect(file, "", all);
  std::vector<std::string> keys;
  for (const Entry& e : all) keys.push_back(e.key);
  for (const auto& word : listed) {
    const auto at = std::find(keys.begin(), keys.end(), word);
    if (at == keys.end()) {
      const std::string near = nearest_word(word, keys);
      t.fail("unconfirmed", "\"" + word + "\" is no entry of this job" +
                                (near.empty() ? "" : "; did you mean \"" + near + "\"?") +
                                " (take it off the list once it is confirmed or gone)");
    }
    const Entry& e = all[std::size_t(at - keys.begin())];
    const auto same = [&](const Unconfirmed& u) { return u.key == e.key; };
    if (std::none_of(job.unconfirmed.begin(), job.unconfirmed.end(), same)) job.unconfirmed.push_back({e.key, e.value});
  }
}

bool provisional(const Job& job) {
  static const std::set<std::string> decide{
      "cavity",      "cavity.nominal",      "cavity.tolerance",      "cavity.minus",      "cavity.plus",
      "cavity.zone", "cavity.zone.nominal", "cavity.zone.tolerance", "cavity.zone.minus", "cavity.zone.plus"};
  return std::any_of(job.unconfirmed.begin(), job.unconfirmed.end(),
                     [](const Unconfirmed& u) { return decide.count(u.key) > 0; });
}

}  // namespace gapfront::job
