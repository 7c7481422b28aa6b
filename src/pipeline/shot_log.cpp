// A machine's log: columns of text with a header that names their units.
#include <algorithm>
#include <array>
#include <charconv>
#include <cmath>
#include <fstream>
#include <optional>

#include "core/list_line.hpp"
#include "core/sha256.hpp"
#include "gapfront/check.hpp"
#include "gapfront/error.hpp"
#include "gapfront/pipeline.hpp"

namespace gapfront::pipeline {
namespace {

// Rows of a log at ten a second over a day; more is no log of one shot.
constexpr std::size_t kMaxRows = 1'000'000;

struct LogColumn {
  const char* name;
  Dimension dimension;
  const char* header;  ///< an example
  int at = -1;
  double unit = 1;
};
using LogColumns = std::array<LogColumn, 4>;
enum { kTime, kPressure, kVolume, kRate };

/// "pressure [bar]", "pressure (bar)", "pressure_bar", "pressure, bar" → the unit.
std::string unit_in(std::string_view after_name) {
  std::string unit(after_name);
  const auto frame = [](char c) { return std::string_view(" _[](),:").find(c) != std::string_view::npos; };
  while (!unit.empty() && frame(unit.front())) unit.erase(unit.begin());
  while (!unit.empty() && frame(unit.back())) unit.pop_back();
  return unit;
}

[[noreturn]] void refuse_no_unit(const LogColumn& c, const std::string& place) {
  throw Error(Fault::input, place + ": column \"" + c.name + "\" has no unit; write e.g. \"" + c.header + "\"" +
                                (c.dimension == Dimension::time ? ", or times of the clock as hh:mm:ss" : ""));
}

/// A time of the clock in its column needs no unit: `unit` 0 there until a row shows whether it is one.
LogColumns columns_of(const std::vector<std::string_view>& header, const std::string& place) {
  LogColumns out{{{"time", Dimension::time, "time [s]"},
                  {"pressure", Dimension::pressure, "pressure [bar]"},
                  {"volume", Dimension::volume, "volume [L]"},
                  {"rate", Dimension::flow_rate, "rate [L/min]"}}};
  for (std::size_t k = 0; k < header.size(); ++k) {
    const std::string low = lists::lower_case(header[k]);
    for (LogColumn& c : out)
      if (low.starts_with(c.name)) {
        const std::string name = c.name;
        if (c.at >= 0) throw Error(Fault::input, place + ": two columns \"" + name + "\"; keep one of them");
        c.at = static_cast<int>(k);
        const std::string unit = unit_in(header[k].substr(name.size()));
        if (unit.empty() && c.dimension != Dimension::time) refuse_no_unit(c, place);
        c.unit = unit.empty() ? 0 : parse_quantity("1 " + unit, c.dimension, place + ": column \"" + name + "\"");
      }
  }
  for (const int k : {kTime, kPressure})
    if (out[k].at < 0)
      throw Error(Fault::input, place + ": no column \"" + out[k].name + "\" in the header; name it and its unit, \"" +
                                    out[k].header + "\"");
  if (out[kVolume].at < 0 && out[kRate].at < 0)
    throw Error(Fault::input,
                place + ": neither \"volume\" nor \"rate\" in the header; name one of them, e.g. \"volume [L]\"");
  return out;
}

double number_in(std::string_view given, char separator, const std::string& place) {
  const std::string cell = lists::with_point(given, separator);
  double v = 0;
  const auto end = std::from_chars(cell.data(), cell.data() + cell.size(), v);
  if (end.ec != std::errc() || end.ptr != cell.data() + cell.size() || !std::isfinite(v))
    throw Error(Fault::input, place + ": \"" + cell.substr(0, 40) + "\" is no number; correct the line or take it out");
  return v;
}

/// "14:58:03.5" in seconds of the day; none: it is no time of the clock ("14:58" may be hours or minutes).
std::optional<double> clock_in(std::string_view cell) {
  double out = 0, part = 0;
  int parts = 0;
  for (std::size_t from = 0; from <= cell.size(); ++parts) {
    const std::size_t end = std::min(cell.find(':', from), cell.size());
    const auto read = std::from_chars(cell.data() + from, cell.data() + end, part);
    const bool whole = read.ec == std::errc() && read.ptr == cell.data() + end;
    if (!whole || !(part >= 0 && part < (parts == 0 ? 24 : 60))) return std::nullopt;
    out = 60 * out + part, from = end + 1;
  }
  return parts == 3 ? std::optional(out) : std::nullopt;
}

/// A time of the clock, of a log that may go on after midnight.
double after(double clock, const std::vector<ShotSample>& rows) {
  constexpr double day = 86400;
  if (!rows.empty())
    while (clock < rows.back().time - day / 2) clock += day;
  return clock;
}

/// Rows come in the order in which they were logged.
void add_row(const ShotSample& s, const std::string& place, std::vector<ShotSample>& rows) {
  if (!rows.empty() && s.time <= rows.back().time) {
    const ShotSample& last = rows.back();
    // Some loggers write a row twice.
    if (s.time == last.time && s.pressure == last.pressure && s.volume == last.volume) return;
    throw Error(Fault::input, place +
                                  (s.time < last.time ? ": its time is before that of the row above"
                                                      : ": it has the time of the row above, and other values") +
                                  "; give the rows in the order in which they were logged, one for each time");
  }
  rows.push_back(s);
}

}  // namespace

ShotLog read_shot_log(const std::filesystem::path& file) {
  check_input_file(file);
  std::ifstream in(file, std::ios::binary);
  const std::string text{std::istreambuf_iterator<char>(in), {}};
  ShotLog out;
  out.file = file.string(), out.sha256 = sha256(text);
  LogColumns columns{};
  char separator = 0;
  std::string header;  // its place
  std::size_t from = text.starts_with("\xEF\xBB\xBF") ? 3 : 0;
  for (long number = 1; from < text.size(); ++number) {
    const std::size_t end = std::min(text.find('\n', from), text.size());
    const std::string_view line = lists::trimmed(std::string_view(text).substr(from, end - from));
    from = end + 1;
    if (line.empty() || line[0] == '#') continue;
    const std::string place = file.string() + ":" + std::to_string(number);
    if (!separator) {
      separator = lists::separator_of(line), header = place;
      columns = columns_of(lists::cells_of(line, separator), place);
      continue;
    }
    const auto cells = lists::cells_of(line, separator);
    const auto value = [&](const LogColumn& c) {
      if (static_cast<std::size_t>(c.at) >= cells.size())
        throw Error(Fault::input, place + ": no value for \"" + c.name + "\"; give as many as the header has columns");
      return c.unit * number_in(cells[c.at], separator, place);
    };
    if (out.samples.size() >= kMaxRows)
      throw Error(Fault::input, file.string() + ": more than a million rows; give the log of one shot");
    const auto time_at = static_cast<std::size_t>(columns[kTime].at);
    const bool may_be_clock = columns[kTime].unit == 0 && time_at < cells.size();
    const auto clock = may_be_clock ? clock_in(lists::with_point(cells[time_at], separator)) : std::nullopt;
    if (!clock && columns[kTime].unit == 0) refuse_no_unit(columns[kTime], header);
    ShotSample s{clock ? after(*clock, out.samples) : value(columns[kTime]), value(columns[kPressure]), 0};
    if (columns[kVolume].at >= 0)
      s.volume = value(columns[kVolume]);
    else if (!out.samples.empty())  // what came at this rate since the row before
      s.volume = out.samples.back().volume + std::max(0.0, value(columns[kRate])) * (s.time - out.samples.back().time);
    add_row(s, place, out.samples);
  }
  if (out.samples.empty())
    throw Error(Fault::input, file.string() +
                                  ": no rows; give a header (\"time [s], pressure [bar], volume [L]\") and "
                                  "a row for each reading");
  return out;
}

}  // namespace gapfront::pipeline
