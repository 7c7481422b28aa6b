// Is an entry of the history what it seems?
#include <algorithm>

#include "core/sha256.hpp"
#include "gapfront/history.hpp"

namespace gapfront::history {

std::string rows_sha256(const std::vector<Record>& records, const Record& last) {
  const Record* baseline = nullptr;  // it counts whatever its cycles are
  for (const Record& r : records)
    if (r.sheet == last.sheet && (!baseline || r.id < baseline->id)) baseline = &r;
  std::vector<std::string> rows;
  for (const Record& r : records) {
    if (r.sheet != last.sheet || (&r != baseline && is_later(r, last))) continue;
    std::string& row = rows.emplace_back();
    for (const auto* s : {&r.date, &r.version, &r.job_sha256, &r.lower_sha256, &r.upper_sha256}) row += *s + '\n';
  }
  std::sort(rows.begin(), rows.end());
  std::string all;
  for (const std::string& row : rows) all += row + '\n';
  return sha256(all);
}

Messages doubts_of(const std::vector<Record>& records, const Record& entry) {
  Messages out;
  const auto itself = [&](const Record& r) {
    return (r.id != 0 && r.id == entry.id) ||
           (r.date == entry.date && r.lower_sha256 == entry.lower_sha256 && r.upper_sha256 == entry.upper_sha256);
  };
  for (const Record& r : records) {
    if (itself(r) || entry.lower_sha256.empty() || entry.upper_sha256.empty()) continue;
    if (r.lower_sha256 == entry.lower_sha256 && r.upper_sha256 == entry.upper_sha256) {
      out.push_back(Message("warnings.history-same-scans", {arg::name(r.date)}));
      break;
    }
    if (r.lower_sha256 == entry.lower_sha256 || r.upper_sha256 == entry.upper_sha256) {
      out.push_back(Message("warnings.history-one-same-scan", {arg::name(r.date)}));
      break;
    }
  }
  for (const Record& r : records)
    if (!itself(r) &&
        ((r.date < entry.date && r.cycles > entry.cycles) || (r.date > entry.date && r.cycles < entry.cycles))) {
      out.push_back(Message("warnings.history-cycles-fall", {arg::name(entry.date), arg::number(entry.cycles),
                                                             arg::name(r.date), arg::number(r.cycles)}));
      break;
    }
  if (!records.empty() && !itself(records[0]) && entry.date < records[0].date)
    out.push_back(Message("warnings.history-before-baseline", {arg::name(entry.date), arg::name(records[0].date)}));
  return out;
}

}  // namespace gapfront::history
