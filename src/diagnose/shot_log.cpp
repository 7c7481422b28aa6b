// A shot's log in stretches of equal volume.
#include <algorithm>
#include <cmath>
#include <limits>

#include "core/statistics.hpp"
#include "diagnose/shot.hpp"
#include "gapfront/error.hpp"
#include "units/words.hpp"

namespace gapfront::diagnosis {
namespace {

// Enough to follow how the pressure rises, few enough that each holds many readings.
constexpr int kStretches = 20;
// Fewer of them do not follow it.
constexpr std::size_t kMinEdges = 9;
// What comes first goes into the inlet's own cells, which the mesh does not resolve.
constexpr double kSkipped = 0.05;
// Before the second row the rate falls steeply (under constant pressure as 1/√t), which a line between the two misses.
// Where so much came before it, that is left out too, but no more than half of the log.
constexpr double kMostSkipped = 0.5;
// Of a log that goes on after the filling: the last of the resin creeps.
constexpr double kTaken = 0.98;
constexpr std::size_t kMinRows = 12;
// A scale that jitters falls by no more than so many times its noise; of more noise than that share of the whole
// nothing can be told.
constexpr double kFalls = 6, kMostNoise = 0.02;
// Who watches a vent reads another clock: so much of the log after its end, at most a row's time, is at its end.
constexpr double kOtherClock = 0.01;
// Resin has stopped: in this last part of the log it came at less than this share of its mean rate. It came to rest
// when all but this share was in. The pump stood, where so much was left of the greatest pressure.
constexpr double kTail = 0.1, kStopped = 0.03, kLastOfIt = 0.01, kStands = 0.8;

/// The first row by which `key` comes to what is wanted, and how far it is from the row before to there, as a share.
template <class Key>
std::pair<std::size_t, double> row_at(const std::vector<ShotSample>& rows, double wanted, Key key) {
  std::size_t k = 1;
  while (k + 1 < rows.size() && key(rows[k]) < wanted) ++k;
  const double span = key(rows[k]) - key(rows[k - 1]);
  return {k, span > 0 ? std::clamp((wanted - key(rows[k - 1])) / span, 0.0, 1.0) : 1.0};
}

/// Edges from the first volume to the last, even as far as the rows are: on rows, as between two rows of a rate that
/// falls a line is wrong.
std::vector<double> edges_on_rows(const std::vector<ShotSample>& rows, double from, double to) {
  std::vector<double> out;
  for (const ShotSample& row : rows) {
    const double wanted = from + (to - from) * double(out.size()) / kStretches;
    if (row.volume >= wanted && row.volume <= to && (out.empty() || row.volume > out.back())) out.push_back(row.volume);
  }
  if (out.size() >= kMinEdges) return out;
  out.clear();
  for (int k = 0; k <= kStretches; ++k) out.push_back(from + (to - from) * k / kStretches);
  return out;
}

/// What had come by the row before the one in which the resin came to rest, mm³; +infinity: it did not. Between those
/// two the pressure is that of neither: of a log with few rows it would be a good part of the last stretch.
double before_rest(const std::vector<ShotSample>& rows) {
  const double all = rows.back().volume, length = rows.back().time - rows.front().time;
  const std::size_t k = row_at(rows, (1 - kLastOfIt) * all, [](const ShotSample& s) { return s.volume; }).first;
  if (rows.back().time - rows[k].time < kTail * length) return std::numeric_limits<double>::infinity();
  return std::max(rows[k - 1].volume, kMostSkipped * all);
}

/// Whether the resin came to rest, and how the pump stood then.
void see_rest(const ShotLog& log, const FlowOptions& flow, Stretches& out) {
  const double tail = out.end - kTail * (out.end - out.start), drop = atmosphere_pa - flow.cavity_pressure;
  out.stopped = log.samples.back().volume - volume_at(log, tail) < kStopped * kTail * out.volume;
  out.rest_time = time_at(log, log.samples.back().volume - kLastOfIt * out.volume);
  double sum = 0, rows = 0;
  for (const ShotSample& s : log.samples)
    if (s.time >= tail) sum += s.pressure, ++rows;
  out.last_pressure = sum / rows;
  const double most = *std::max_element(out.pressure.begin(), out.pressure.end());
  out.stands = out.stopped && out.last_pressure + drop >= kStands * (most + drop);
}

}  // namespace

void check_log(const ShotLog& log, const FlowOptions& flow) {
  const std::string place = log.file.empty() ? "shot" : log.file;
  if (log.samples.size() < kMinRows)
    throw Error(Fault::input, place + ": only " + std::to_string(log.samples.size()) +
                                  " rows; log a shot from the first resin to the last, at least every few seconds");
  const double noise = std::min(volume_noise(log.samples), kMostNoise * std::abs(log.samples.back().volume));
  for (std::size_t k = 1; k < log.samples.size(); ++k) {
    if (!(log.samples[k].time > log.samples[k - 1].time))
      throw Error(Fault::input, place + ": the times do not rise at " + std::to_string(log.samples[k].time) +
                                    " s; give the rows in the order in which they were logged");
    if (log.samples[k].volume < log.samples[k - 1].volume - std::max(1.0, kFalls * noise))
      throw Error(Fault::input,
                  place + ": the volume falls at " + std::to_string(log.samples[k].time) +
                      " s; log what was injected until then, from one shot alone; of a scale that jitters log "
                      "means over some seconds, or give a column of the rate");
  }
  if (!(log.samples.back().volume > log.samples.front().volume))
    throw Error(Fault::input, place + ": no resin was injected; check the column of the volume or the rate");
  const double end = log.samples.back().time, start = log.samples.front().time;
  const double other_clock = std::min(end - log.samples[log.samples.size() - 2].time, kOtherClock * (end - start));
  for (const VentSeen& seen : log.vents) {
    if (std::none_of(flow.vents.begin(), flow.vents.end(), [&](const Vent& v) { return v.name == seen.vent; }))
      throw Error(Fault::input,
                  "vent \"" + seen.vent + "\": the job has none of that name; give one of its [flow] vents");
    if (std::isfinite(seen.time) && seen.time > end + other_clock)
      throw Error(Fault::input,
                  words("vent \"%s\": resin at %.0f s, but the log ends at %.0f s; give the log to its end, "
                        "the time on its clock, or never",
                        seen.vent.c_str(), seen.time, end));
  }
}

double volume_noise(const std::vector<ShotSample>& rows) {
  // Third differences leave nothing of a parabola, and √20 of independent noise.
  std::vector<double> third;
  for (std::size_t k = 3; k < rows.size(); ++k)
    third.push_back(std::abs(rows[k].volume - 3 * rows[k - 1].volume + 3 * rows[k - 2].volume - rows[k - 3].volume));
  return robust_sigma(std::move(third)) / std::sqrt(20.0);
}

double volume_at(const ShotLog& log, double time) {
  if (time > log.samples.back().time) return std::numeric_limits<double>::infinity();
  const auto [k, part] = row_at(log.samples, time, [](const ShotSample& s) { return s.time; });
  return log.samples[k - 1].volume + part * (log.samples[k].volume - log.samples[k - 1].volume);
}

double time_at(const ShotLog& log, double volume) {
  if (volume > log.samples.back().volume) return std::numeric_limits<double>::infinity();
  const auto [k, part] = row_at(log.samples, volume, [](const ShotSample& s) { return s.volume; });
  return log.samples[k - 1].time + part * (log.samples[k].time - log.samples[k - 1].time);
}

Stretches stretches_of(const ShotLog& log, const FlowOptions& flow) {
  check_log(log, flow);
  Stretches out;
  const auto& rows = log.samples;
  out.volume = rows.back().volume - rows.front().volume;
  out.start = rows.front().time, out.end = rows.back().time;
  // What is bled at the last vent says nothing of the cavity.
  double upto = kTaken * rows.back().volume;
  if (log.vents.size() == flow.vents.size() && !log.vents.empty()) {
    double last = 0;
    for (const VentSeen& v : log.vents) last = std::max(last, v.time);
    if (last <= out.end) upto = std::min(upto, volume_at(log, last));
  }
  upto = std::min(upto, before_rest(rows));
  double skipped = kSkipped * upto;
  if (rows[1].volume > upto / kStretches) skipped = std::max(skipped, std::min(rows[1].volume, kMostSkipped * upto));
  out.edge = edges_on_rows(rows, skipped, upto);
  // ∫ p dt by the trapezium, read at the edges.
  const auto integral = [&](double until, auto value) {
    double sum = 0;
    for (std::size_t k = 1; k < rows.size() && rows[k - 1].time < until; ++k) {
      const double part = std::min(1.0, (until - rows[k - 1].time) / (rows[k].time - rows[k - 1].time));
      const double a = value(rows[k - 1]), b = value(rows[k]);
      sum += part * (rows[k].time - rows[k - 1].time) * (a + 0.5 * part * (b - a));
    }
    return sum;
  };
  std::vector<double> all;
  for (const double v : out.edge) {
    out.edge_time.push_back(time_at(log, v));
    all.push_back(integral(out.edge_time.back(), [](const ShotSample& s) { return s.pressure; }));
    out.over_before.push_back(
        integral(out.edge_time.back(), [](const ShotSample& s) { return std::max(0.0, s.pressure); }));
  }
  for (std::size_t k = 0; k + 1 < out.edge.size(); ++k) {
    const double time = std::max(out.edge_time[k + 1] - out.edge_time[k], 1e-9);
    out.pressure.push_back((all[k + 1] - all[k]) / time);
    out.rate.push_back((out.edge[k + 1] - out.edge[k]) / time);
  }
  see_rest(log, flow, out);
  return out;
}

}  // namespace gapfront::diagnosis
