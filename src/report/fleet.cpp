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

namespace gapfront {

const char* to_string(Attention a) {
  constexpr const char* names[] = {"worn-out",  "seat",     "opens", "doubt",     "nonconforming",
                                   "dry-spots", "vanished", "due",   "undecided", "none"};
  return names[static_cast<int>(a)];
}

const Wear* first_to_end(const FleetTool& t) { return t.recheck ? first_to_end(*t.recheck) : nullptr; }

namespace report {
namespace {

namespace fs = std::filesystem;

// As in the plan of corrections: trapped air in one part of twenty is worth work.
constexpr double kFrequentAir = 0.05;

/// Everything found of one tool.
struct Found {
  struct Result {
    Inspection head;
    fs::path folder;
    fs::file_time_type written;
  };
  std::vector<Result> results;
  std::vector<RecheckHead> rechecks;
  std::vector<Record> kept;
};

/// The files of one folder's report, or one history, as read; `lost`: why not.
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
      out.key = history.tool(), out.found.kept = history.list();
    } else if (file.filename() == "result.json") {
      out.found.results.push_back({result_head(folder), folder, fs::last_write_time(file)});
      out.key = out.found.results[0].head.job.tool;
    } else {
      out.found.rechecks.push_back(recheck_head(file));
      out.key = out.found.rechecks[0].job.tool;
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
  for (const RecheckHead& r : f.rechecks)
    if (counts(r.recheck))
      if (!newest ||
          std::tie(newest->now.date, newest->now.cycles) < std::tie(r.recheck.now.date, r.recheck.now.cycles))
        newest = &r.recheck;
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
  const bool seat = t.recheck && t.recheck->seat_first;
  // Of a seat that moved nothing is mended before it is right again.
  if (seat) out.push_back(Attention::seat);
  when(worn_out, Attention::worn_out);
  when(outcome && (!outcome->now.closes || outcome->now.balance < 1), Attention::opens);
  when(t.verdict == Conformity::not_judged, Attention::doubt);
  when(t.verdict == Conformity::nonconforming, Attention::nonconforming);
  when(t.air.draws > 0 && t.air.low > kFrequentAir, Attention::dry_spots);
  when(t.recheck && !t.recheck->vanished.empty(), Attention::vanished);
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

FleetTool tool_of(const std::string& key, const Found& f, const std::string& day) {
  FleetTool t;
  t.tool = key, t.kept = f.kept.size(), t.recheck = newest_recheck(f);
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
    t.page = newest->folder / "report.html";
    if (r.job.tool.empty()) t.tool = r.job.name;
  } else {  // a re-check whose result is elsewhere
    const Record& now = f.rechecks[0].recheck.now;
    t.name = now.name, t.date = now.date, t.cycles = now.cycles, t.verdict = conformity_named(now.verdict);
  }
  if (t.recheck) {
    const bool worn_out = std::any_of(t.recheck->wear.begin(), t.recheck->wear.end(), at_limit);
    t.unmeasured =
        t.recheck->not_compared > 0 && !std::isfinite(t.recheck->next_cycles) && !t.recheck->seat_first && !worn_out;
    // What no re-check has compared is not told by one of before, only that the next one is due.
    t.inspected_since = std::tie(t.recheck->now.date, t.recheck->now.cycles) < std::tie(t.date, t.cycles);
    // At its limit it is mended, not re-checked as it is. What was asked for at once has not been made.
    t.overdue = t.inspected_since
                    ? past(*t.recheck, t.cycles, day) || t.recheck->seat_first || t.recheck->unsure || worn_out
                    : !worn_out && past(*t.recheck, t.cycles, day);
    if (t.inspected_since) t.recheck.reset(), t.unmeasured = false;
  }
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
  std::map<std::string, Found> tools;
  std::set<std::string> languages;
  std::set<UnitSystem> units;
  for (Piece& p : pieces) {
    out.lost.insert(out.lost.end(), p.lost.begin(), p.lost.end());
    if (!p.lost.empty()) continue;
    Found& f = tools[p.key];
    for (auto& r : p.found.results) {
      languages.insert(r.head.job.language), units.insert(r.head.job.units);
      out.invented = out.invented || r.head.job.invented;
      f.results.push_back(std::move(r));
    }
    for (auto& r : p.found.rechecks) f.rechecks.push_back(std::move(r));
    // Of two copies of a tool's history the one that goes on.
    if (p.found.kept.size() > f.kept.size()) f.kept = std::move(p.found.kept);
  }
  if (languages.size() == 1) out.voice.language = *languages.begin();
  if (units.size() == 1) out.voice.units = *units.begin();
  for (const auto& [key, found] : tools) out.tools.push_back(tool_of(key, found, day));
  std::stable_sort(out.tools.begin(), out.tools.end(),
                   [](const FleetTool& a, const FleetTool& b) { return rank(a) < rank(b); });
  return out;
}

const Recheck* planned(const FleetTool& t) {
  return t.recheck && t.attention != Attention::worn_out ? &*t.recheck : nullptr;
}

std::string fleet_csv(const Fleet& fleet, const fs::path& from) {
  std::string out =
      "rank,attention,tool,name,date,cycles,inspections_in_history,verdict,provisional,trapped_air,"
      "trapped_air_low,trapped_air_high,out_of_tolerance_mm2,wear,wear_face,wear_change_mm,wear_change_U_mm,"
      "wear_mm_per_1000_cycles,wear_U_mm_per_1000_cycles,cycles_left,cycles_left_low,cycles_left_high,next_cycles,"
      "next_date,compared_on,report,also,overdue\r\n";
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
           (t.overdue ? "yes" : "no") + "\r\n";
  }
  return out;
}

}  // namespace report
}  // namespace gapfront
