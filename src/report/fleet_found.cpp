// Whose is what lies in a folder? Tools of one name are told apart by their baselines, scans and dates.
#include "report/fleet_found.hpp"

#include <algorithm>
#include <iterator>
#include <map>
#include <optional>
#include <set>
#include <tuple>

#include "core/sha256.hpp"
#include "gapfront/error.hpp"
#include "gapfront/pipeline.hpp"

namespace gapfront::report {
namespace {

namespace fs = std::filesystem;

/// An inspection, as far as it tells whose it is. Hashes that are not known are empty.
struct Dated {
  std::string date;
  double cycles = 0;
  std::string lower, upper, identity;
  std::string name;  ///< of a result
  fs::path folder;   ///< of its report
  bool doubt = false;
  mutable std::optional<Message> tested;  ///< see tested_prediction(); read when it is asked for

  bool scanned() const { return !lower.empty() && !upper.empty(); }
};

template <class R>
Dated dated_of(const R& r, const std::string& date, double cycles) {
  const bool known = !r.job_sha256.empty() || !r.lower_sha256.empty() || !r.upper_sha256.empty();
  return {date,
          cycles,
          r.lower_sha256,
          r.upper_sha256,
          known ? identity_of(r.job_sha256, r.lower_sha256, r.upper_sha256) : "",
          "",
          {},
          false,
          {}};
}

/// What was found under one name, and belongs together.
struct Course {
  Found found;
  std::vector<Dated> seen;
  std::set<std::string> identities;  ///< of each inspection and baseline
};

Course course_of(Found f) {
  Course out;
  for (const Record& k : f.kept) out.seen.push_back(dated_of(k, k.date, k.cycles));
  for (const auto& r : f.results) {
    out.seen.push_back(dated_of(r.head, r.head.job.date, r.head.job.cycles));
    out.seen.back().doubt = r.head.doubt.has_value();
    out.seen.back().name = r.head.job.name, out.seen.back().folder = r.folder;
    out.identities.insert(baseline_of(r.head));
  }
  for (const auto& r : f.rechecks)
    for (const Record* k : {&r.head.recheck.now, &r.head.recheck.then})
      out.seen.push_back(dated_of(*k, k->date, k->cycles));
  for (const Dated& s : out.seen) out.identities.insert(s.identity);
  out.identities.erase("");
  out.found = std::move(f);
  return out;
}

bool share_inspection(const Course& a, const Course& b) {
  return std::any_of(a.identities.begin(), a.identities.end(),
                     [&](const std::string& k) { return b.identities.count(k) > 0; });
}

/// The same two scans, with whatever job.
bool share_scans(const Course& a, const Course& b) {
  return std::any_of(a.seen.begin(), a.seen.end(), [&](const Dated& s) {
    return s.scanned() && std::any_of(b.seen.begin(), b.seen.end(),
                                      [&](const Dated& t) { return s.lower == t.lower && s.upper == t.upper; });
  });
}

template <class T>
void move_to(std::vector<T>& to, std::vector<T>& from) {
  to.insert(to.end(), std::make_move_iterator(from.begin()), std::make_move_iterator(from.end()));
}

void join(Course& to, Course from) {
  // Of two copies of a tool's history the one that goes on.
  if (from.found.kept.size() > to.found.kept.size())
    to.found.kept = std::move(from.found.kept), to.found.history = std::move(from.found.history);
  move_to(to.found.results, from.found.results);
  move_to(to.found.rechecks, from.found.rechecks);
  move_to(to.seen, from.seen);
  to.identities.merge(from.identities);
}

/// The first and the last date; empty: none is known.
std::pair<std::string, std::string> span_of(const std::vector<Dated>& all) {
  std::pair<std::string, std::string> out;
  for (const Dated& s : all) {
    if (s.date.empty()) continue;
    if (out.first.empty() || s.date < out.first) out.first = s.date;
    out.second = std::max(out.second, s.date);
  }
  return out;
}

/// Whether the cycles fall from one of `a` to the next of `b`, or the other way round. A count of 0 may be one that was
/// not given, or was set back.
bool cycles_fall(const std::vector<Dated>& a, const std::vector<Dated>& b) {
  std::vector<std::tuple<std::string, double, bool>> all;
  for (const Dated& s : a)
    if (!s.date.empty()) all.emplace_back(s.date, s.cycles, false);
  for (const Dated& s : b)
    if (!s.date.empty()) all.emplace_back(s.date, s.cycles, true);
  std::sort(all.begin(), all.end());
  for (std::size_t i = 1; i < all.size(); ++i) {
    const auto& [date, cycles, of_b] = all[i];
    const auto& [date_before, before, of_b_before] = all[i - 1];
    if (of_b != of_b_before && date > date_before && cycles > 0 && before > cycles) return true;
  }
  return false;
}

/// Whether `after` has tested what `before` predicted.
bool tested(const Dated& after, const Dated& before) {
  if (after.folder.empty() || before.folder.empty()) return false;
  if (!after.tested) try {
      after.tested = tested_prediction(after.folder);
    } catch (const Error&) {
      after.tested = Message();
    }
  return *after.tested == Message("list.inspection-of", {arg::name(before.name), arg::name(before.date)});
}

/// Two molds, or one that was scanned again: not where the first scans were in doubt, or the later ones say that they
/// come after the work on what the first have shown.
bool of_two(const Dated& s, const Dated& t) {
  return !s.date.empty() && s.date == t.date && s.cycles == t.cycles && s.scanned() && t.scanned() &&
         s.lower != t.lower && s.upper != t.upper && !s.doubt && !t.doubt && !tested(s, t) && !tested(t, s);
}

/// Whether both can be the course of one tool.
bool one_course(const Course& a, const Course& b) {
  for (const Dated& s : a.seen)
    for (const Dated& t : b.seen)
      if (of_two(s, t)) return false;
  // What is compared with a new baseline is no more compared with the one before.
  const auto [from, to] = span_of(a.seen);
  const auto [other_from, other_to] = span_of(b.seen);
  if (from < to && other_from < other_to && from < other_to && other_from < to) return false;
  return !cycles_fall(a.seen, b.seen);
}

std::vector<fs::path> places_of(const Found& f) {
  std::vector<fs::path> out;
  if (!f.history.empty()) out.push_back(f.history.parent_path());
  for (const auto& r : f.results) out.push_back(r.folder);
  for (const auto& r : f.rechecks) out.push_back(r.folder);
  return out;
}

/// How many folders from the root on two courses share at the most.
std::size_t nearness(const Course& a, const Course& b) {
  std::size_t most = 0;
  for (const fs::path& p : places_of(a.found))
    for (const fs::path& q : places_of(b.found)) {
      const auto differ = std::mismatch(p.begin(), p.end(), q.begin(), q.end()).first;
      most = std::max(most, static_cast<std::size_t>(std::distance(p.begin(), differ)));
    }
  return most;
}

/// What shares an inspection or a baseline is one.
std::vector<Course> linked(std::vector<Course> all) {
  std::vector<Course> out;
  for (Course& c : all) {
    std::vector<Course> apart;
    for (Course& o : out)
      if (share_inspection(c, o))
        join(c, std::move(o));
      else
        apart.push_back(std::move(o));
    apart.push_back(std::move(c));
    out = std::move(apart);
  }
  return out;
}

/// The only course that has its scans or can have it, or of several the nearest; none where nothing tells.
Course* home_of(const Course& c, std::vector<Course>& tools) {
  std::vector<Course*> can;
  for (Course& t : tools)
    if (share_scans(t, c)) can.push_back(&t);
  if (can.empty())
    for (Course& t : tools)
      if (one_course(t, c)) can.push_back(&t);
  if (can.size() < 2) return can.empty() ? nullptr : can[0];
  std::vector<std::pair<std::size_t, Course*>> near;
  for (Course* t : can) near.emplace_back(nearness(*t, c), t);
  std::sort(near.begin(), near.end());
  return near.back().first == near[near.size() - 2].first ? nullptr : near.back().second;
}

}  // namespace

std::string identity_of(const std::string& job_sha256, const std::string& lower_sha256,
                        const std::string& upper_sha256) {
  return sha256(job_sha256 + lower_sha256 + upper_sha256);
}

std::string baseline_of(const Inspection& r) {
  const auto at = std::find_if(r.extra_inputs.begin(), r.extra_inputs.end(), pipeline::is_baseline);
  return at == r.extra_inputs.end() ? "" : at->sha256;
}

std::vector<Found> tools_of_name(std::vector<Found> pieces) {
  if (pieces.size() == 1) return pieces;
  std::vector<Course> tools, others;
  for (Found& f : pieces) {
    const bool history = !f.history.empty();
    (history ? tools : others).push_back(course_of(std::move(f)));
  }
  tools = linked(std::move(tools));
  std::vector<Course> rest;
  for (Course& c : linked(std::move(others))) {
    const auto of = std::find_if(tools.begin(), tools.end(), [&](const Course& t) { return share_inspection(t, c); });
    if (of != tools.end())
      join(*of, std::move(c));
    else
      rest.push_back(std::move(c));
  }
  // Those that span a time first: they tell more than what stands alone.
  const auto order = [](const Course& c) {
    const auto [from, to] = span_of(c.seen);
    return std::tuple(from == to, from, c.seen.front().cycles, places_of(c.found).front());
  };
  std::sort(rest.begin(), rest.end(), [&](const Course& a, const Course& b) { return order(a) < order(b); });
  for (Course& c : rest) {
    if (Course* home = home_of(c, tools))
      join(*home, std::move(c));
    else
      tools.push_back(std::move(c));
  }
  std::vector<Found> out;
  for (Course& t : tools) t.found.namesake = tools.size() > 1, out.push_back(std::move(t.found));
  return out;
}

void tell_unread(std::vector<std::pair<std::string, Found>>& tools, const std::vector<fs::path>& unread) {
  if (unread.empty()) return;
  std::map<std::string, std::set<std::size_t>> named;
  std::map<fs::path, std::set<std::size_t>> in_folder;
  for (std::size_t i = 0; i < tools.size(); ++i) {
    named[tools[i].first].insert(i);
    for (const fs::path& p : places_of(tools[i].second)) in_folder[p].insert(i);
  }
  for (const fs::path& file : unread) {
    const fs::path folder = file.parent_path();
    const bool history = file.extension() == ".history";
    std::set<std::size_t> of;
    if (history) of = named[file.stem().string()];
    // A tool has one history: another one in its folder is none of it.
    if (const auto& there = in_folder[folder];
        of.empty() && there.size() == 1 && !(history && !tools[*there.begin()].second.history.empty()))
      of = there;
    if (of.empty()) of = named[folder.filename().string()];
    for (const std::size_t i : of) tools[i].second.unread.push_back(file);
  }
}

}  // namespace gapfront::report
