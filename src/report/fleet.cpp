// What is kept of many tools, read and put in order of risk.
#include "gapfront/fleet.hpp"

#include <algorithm>
#include <cmath>
#include <limits>
#include <map>
#include <set>
#include <tuple>

#include "core/parallel.hpp"
#include "gapfront/error.hpp"
#include "gapfront/history.hpp"
#include "gapfront/report.hpp"
#include "report/csv.hpp"
#include "report/fleet.hpp"
#include "report/fleet_found.hpp"

namespace gapfront {

const char* to_string(Attention a) {
  constexpr const char* names[] = {"worn-out",  "seat",     "opens",     "doubt",  "nonconforming",
                                   "dry-spots", "vanished", "target",    "unread", "future",
                                   "same-name", "due",      "undecided", "none"};
  return names[static_cast<int>(a)];
}

const Wear* first_to_end(const FleetTool& t) { return t.recheck ? first_to_end(*t.recheck) : nullptr; }

namespace report {
namespace {

namespace fs = std::filesystem;

// As in the plan of corrections: trapped air in one part of twenty is worth work.
constexpr double kFrequentAir = 0.05;

/// One file as read; `lost`: why not.
struct Piece {
  std::string key;
  Found found;
  std::vector<std::string> lost;
};

Piece read_piece(const fs::path& file) {
  Piece out;
  try {
    const fs::path folder = file.parent_path();
    if (file.extension() == ".history") {
      const History history(file, History::Access::read);
      out.key = history.tool(), out.found.kept = history.list(), out.found.history = file;
    } else if (file.filename() == "result.json") {
      out.found.results.push_back({result_head(folder), folder, fs::last_write_time(file)});
      out.key = out.found.results[0].head.job.tool;
    } else {
      out.found.rechecks.push_back({recheck_head(file), folder});
      out.key = out.found.rechecks[0].head.job.tool;
    }
    if (out.key.empty()) out.key = folder.string();  // nothing else says what belongs together
  } catch (const Error& e) {
    out.lost.push_back(e.what());
  } catch (const fs::filesystem_error& e) {
    out.lost.push_back(file.string() + ": " + e.code().message());
  }
  return out;
}

std::vector<fs::path> files_below(const fs::path& folder) {
  if (!fs::is_directory(folder)) throw Error(Fault::input, folder.string() + ": is no folder; give one with reports");
  std::vector<fs::path> out;
  for (const auto& e : fs::recursive_directory_iterator(folder, fs::directory_options::skip_permission_denied)) {
    const fs::path& f = e.path();
    if (f.extension() == ".history" || f.filename() == "result.json" || f.filename() == "recheck.json")
      out.push_back(f);
  }
  std::sort(out.begin(), out.end());
  return out;
}

/// The newest re-check; none where the tool has had a new baseline since, which its figures do not speak of.
std::optional<Recheck> newest_recheck(const Found& f) {
  long last_sheet = 0;
  for (const Record& k : f.kept) last_sheet = std::max(last_sheet, k.sheet);
  const auto baseline =
      std::find_if(f.kept.begin(), f.kept.end(), [&](const Record& k) { return k.sheet == last_sheet; });
  // One against another date, as older versions left it, speaks of that stretch only.
  const auto counts = [&](const Recheck& r) {
    return f.kept.empty() ||
           (history::same_inspection(*baseline, r.then) && !history::same_inspection(*baseline, r.now) &&
            std::any_of(baseline, f.kept.end(),
                        [&](const Record& k) { return k.sheet == last_sheet && history::same_inspection(k, r.now); }));
  };
  const Recheck* newest = nullptr;
  for (const Found::Check& c : f.rechecks) {
    const Recheck& r = c.head.recheck;
    if (counts(r) && (!newest || std::tie(newest->now.date, newest->now.cycles) < std::tie(r.now.date, r.now.cycles)))
      newest = &r;
  }
  return newest ? std::optional(*newest) : std::nullopt;
}

bool past(const Recheck& r, double cycles, const std::string& day) {
  return (!r.next_date.empty() && r.next_date <= day) || (r.next_cycles > 0 && cycles >= r.next_cycles);
}

/// Every reason that holds, the most pressing first.
std::vector<Attention> reasons_of(const FleetTool& t, const Outcome* outcome) {
  std::vector<Attention> out;
  const auto when = [&](bool holds, Attention a) {
    if (holds) out.push_back(a);
  };
  const bool worn_out = t.recheck && std::any_of(t.recheck->wear.begin(), t.recheck->wear.end(), at_limit);
  const bool first = t.recheck && t.recheck->seat_first;
  const auto datum = [&](DatumState d) { return t.recheck && t.recheck->datum == d; };
  // Of a seat that takes the gap to a limit nothing is mended before it is right again.
  when(first, Attention::seat);
  when(worn_out, Attention::worn_out);
  when(!first && datum(DatumState::half_moved), Attention::seat);
  when(outcome && (!outcome->now.closes || outcome->now.balance < 1), Attention::opens);
  when(t.verdict == Conformity::not_judged, Attention::doubt);
  when(t.verdict == Conformity::nonconforming, Attention::nonconforming);
  when(t.air.draws > 0 && t.air.low > kFrequentAir, Attention::dry_spots);
  when(t.recheck && !t.recheck->vanished.empty(), Attention::vanished);
  when(datum(DatumState::target_moved), Attention::target);
  when(!t.unread.empty(), Attention::unread);
  when(!t.future.empty(), Attention::future);
  when(t.namesake, Attention::namesake);
  when(t.overdue || t.unmeasured || (t.recheck && t.recheck->unsure), Attention::due);
  when(t.verdict != Conformity::conforming && t.verdict != Conformity::not_judged &&
           t.verdict != Conformity::nonconforming,
       Attention::undecided);
  return out;
}

Conformity conformity_named(const std::string& word) {
  for (int k = 0; k <= static_cast<int>(Conformity::not_judged); ++k)
    if (const auto c = static_cast<Conformity>(k); word == to_string(c)) return c;
  return Conformity::not_measured;
}

/// The latest date of anything found, where it is after `day`.
std::string future_date(const Found& f, const std::string& day) {
  std::string latest = day;
  for (const auto& r : f.results) latest = std::max(latest, r.head.job.date);
  for (const auto& r : f.rechecks) latest = std::max(latest, r.head.recheck.now.date);
  for (const Record& k : f.kept) latest = std::max(latest, k.date);
  return latest > day ? latest : "";
}

/// Whether a re-check from before the tool's newest result speaks of its next date: the history says so, and else the
/// result, which may be the baseline of what comes after a mending.
bool same_baseline(const Recheck& r, const Found& f, const Inspection* newest) {
  if (!f.kept.empty() || !newest) return true;
  return baseline_of(*newest) == identity_of(r.then.job_sha256, r.then.lower_sha256, r.then.upper_sha256);
}

/// What the newest re-check comes to on this day, `newest` being the newest result.
void count_recheck(FleetTool& t, const Found& f, const Inspection* newest, const std::string& day) {
  t.recheck = newest_recheck(f);
  if (!t.recheck) return;
  const bool worn_out = std::any_of(t.recheck->wear.begin(), t.recheck->wear.end(), at_limit);
  t.unmeasured =
      t.recheck->not_compared > 0 && !std::isfinite(t.recheck->next_cycles) && !t.recheck->seat_first && !worn_out;
  // What no re-check has compared is not told by one of before, only that the next one is due.
  t.inspected_since = std::tie(t.recheck->now.date, t.recheck->now.cycles) < std::tie(t.date, t.cycles);
  const bool counts = t.recheck->now.date >= t.date || same_baseline(*t.recheck, f, newest);
  // At its limit it is mended, not re-checked as it is. What was asked for at once has not been made.
  t.overdue = counts && (t.inspected_since
                             ? past(*t.recheck, t.cycles, day) || t.recheck->seat_first || t.recheck->unsure || worn_out
                             : !worn_out && past(*t.recheck, t.cycles, day));
  if (t.inspected_since) t.recheck.reset(), t.unmeasured = false;
}

FleetTool tool_of(const std::string& key, const Found& f, const std::string& day) {
  FleetTool t;
  t.tool = key, t.kept = f.kept.size(), t.namesake = f.namesake, t.unread = f.unread;
  t.future = future_date(f, day);
  t.out_area = std::numeric_limits<double>::quiet_NaN();
  const auto age = [](const Found::Result& r) { return std::tuple(r.head.job.date, r.head.job.cycles, r.written); };
  const auto newest = std::max_element(f.results.begin(), f.results.end(),
                                       [&](const auto& a, const auto& b) { return age(a) < age(b); });
  const auto last = std::max_element(f.kept.begin(), f.kept.end(), [](const Record& a, const Record& b) {
    return std::tie(a.date, a.cycles) < std::tie(b.date, b.cycles);
  });
  const bool only_kept = newest == f.results.end() || (last != f.kept.end() && last->date > newest->head.job.date);
  const Outcome* outcome = nullptr;
  if (only_kept && last != f.kept.end()) {
    t.name = last->name, t.date = last->date, t.cycles = last->cycles, t.verdict = conformity_named(last->verdict);
  } else if (newest != f.results.end()) {
    const Inspection& r = newest->head;
    t.name = r.job.name, t.date = r.job.date, t.cycles = r.job.cycles;
    t.verdict = r.doubt ? Conformity::not_judged : r.verdict.overall;
    t.provisional = job::provisional(r.job);
    if (!r.doubt) outcome = &r.outcome, t.air = r.outcome.now.air, t.out_area = r.outcome.now.out_area;
    t.page = newest->folder / "report.html", t.read_from = newest->folder;
    if (r.job.tool.empty()) t.tool = r.job.name;
  } else {  // a re-check whose result is elsewhere
    const Record& now = f.rechecks[0].head.recheck.now;
    t.read_from = f.rechecks[0].folder;
    t.name = now.name, t.date = now.date, t.cycles = now.cycles, t.verdict = conformity_named(now.verdict);
  }
  if (!f.history.empty()) t.read_from = f.history;
  count_recheck(t, f, newest != f.results.end() ? &newest->head : nullptr, day);
  t.also = reasons_of(t, outcome);
  if (!t.also.empty()) t.attention = t.also.front(), t.also.erase(t.also.begin());
  return t;
}

/// Least first: more pressing, likelier to trap air, sooner at its limit.
auto rank(const FleetTool& t) {
  const Wear* w = first_to_end(t);
  constexpr double never = std::numeric_limits<double>::infinity();
  return std::tuple(static_cast<int>(t.attention), t.air.draws > 0 ? -t.air.high : 0.0, w ? earliest_end(*w) : never,
                    w ? w->left : never, t.tool, t.name);
}

}  // namespace

Fleet read_fleet(const fs::path& folder, const std::string& day) {
  const std::vector<fs::path> files = files_below(folder);
  std::vector<Piece> pieces(files.size());
  parallel_for(
      files.size(), [&](std::size_t i) { pieces[i] = read_piece(files[i]); }, 4);
  Fleet out;
  out.day = day;
  std::map<std::string, std::vector<Found>> names;
  std::vector<fs::path> unread;
  std::set<std::string> languages;
  std::set<UnitSystem> units;
  for (std::size_t i = 0; i < pieces.size(); ++i) {
    Piece& p = pieces[i];
    out.lost.insert(out.lost.end(), p.lost.begin(), p.lost.end());
    if (!p.lost.empty()) unread.push_back(files[i]);
    for (const auto& r : p.found.results) {
      languages.insert(r.head.job.language), units.insert(r.head.job.units);
      out.invented = out.invented || r.head.job.invented;
    }
    const bool holds = !p.found.results.empty() || !p.found.rechecks.empty() || !p.found.kept.empty();
    if (p.lost.empty() && holds) names[p.key].push_back(std::move(p.found));
  }
  if (languages.size() == 1) out.voice.language = *languages.begin();
  if (units.size() == 1) out.voice.units = *units.begin();
  std::vector<std::pair<std::string, Found>> tools;
  for (auto& [key, found] : names)
    for (Found& f : tools_of_name(std::move(found))) tools.emplace_back(key, std::move(f));
  tell_unread(tools, unread);
  for (const auto& [key, found] : tools) out.tools.push_back(tool_of(key, found, day));
  std::stable_sort(out.tools.begin(), out.tools.end(),
                   [](const FleetTool& a, const FleetTool& b) { return rank(a) < rank(b); });
  return out;
}

const Recheck* planned(const FleetTool& t) {
  return t.recheck && t.attention != Attention::worn_out && t.future.empty() ? &*t.recheck : nullptr;
}

std::string fleet_csv(const Fleet& fleet, const fs::path& from) {
  std::string out =
      "rank,attention,tool,name,date,cycles,inspections_in_history,verdict,provisional,trapped_air,"
      "trapped_air_low,trapped_air_high,out_of_tolerance_mm2,wear,wear_face,wear_change_mm,wear_change_U_mm,"
      "wear_mm_per_1000_cycles,wear_U_mm_per_1000_cycles,cycles_left,cycles_left_low,cycles_left_high,next_cycles,"
      "next_date,compared_on,report,also,overdue,datum,read_from\r\n";
  for (std::size_t i = 0; i < fleet.tools.size(); ++i) {
    const FleetTool& t = fleet.tools[i];
    const Wear* w = first_to_end(t);
    const bool line = w && w->straight();
    out += std::to_string(i + 1) + "," + to_string(t.attention) + "," + text_cell(t.tool) + "," + text_cell(t.name) +
           "," + t.date + "," + number_cell(t.cycles, 0) + "," + (t.kept > 0 ? std::to_string(t.kept) : "") + "," +
           to_string(t.verdict) + "," + (t.provisional ? "yes" : "no");
    const double none = std::numeric_limits<double>::quiet_NaN();
    const bool air = t.air.draws > 0;
    for (const double p : {t.air.p, t.air.low, t.air.high}) out += "," + number_cell(air ? p : none, 4);
    out += "," + number_cell(t.out_area, 1) + "," + (w ? w->name : "") + "," + (w ? w->face : "");
    for (const double mm :
         {w ? w->peak : none, w ? w->peak_U : none, line ? 1e3 * w->rate : none, line ? 1e3 * w->rate_U : none})
      out += "," + number_cell(mm, 4);
    // An open end of the interval is an empty cell; so is the number of inspections where no history was found.
    const bool told = w && w->enough;
    for (const double left :
         {told ? w->left : none, w && (!w->bent || at_limit(*w)) ? w->left_low : none, told ? w->left_high : none})
      out += "," + number_cell(left, 0);
    const Recheck* next = planned(t);
    std::string also;
    for (const Attention a : t.also) also += (also.empty() ? "" : " ") + std::string(to_string(a));
    out += "," + number_cell(next ? next->next_cycles : none, 0) + "," + (next ? next->next_date : "") + "," +
           (t.recheck ? t.recheck->now.date : "") + "," + text_cell(seen_from(from, t.page)) + "," + also + "," +
           (t.overdue ? "yes" : "no") + "," + (t.recheck ? to_string(t.recheck->datum) : "") + "," +
           text_cell(seen_from(from, t.read_from)) + "\r\n";
  }
  return out;
}

}  // namespace report
}  // namespace gapfront
