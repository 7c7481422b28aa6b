// The page of a fleet: a table that needs no script, and a small chart of every wear.
#include <algorithm>
#include <array>
#include <cmath>

#include "core/letters.hpp"
#include "gapfront/fleet.hpp"
#include "report/assets.hpp"
#include "report/axes.hpp"
#include "report/fleet.hpp"
#include "report/html.hpp"
#include "units/digits.hpp"

namespace gapfront::report {
namespace {

constexpr int kAttentions = static_cast<int>(Attention::none) + 1;

/// What a tool asks for, and what is to be done.
struct AttentionWords {
  const char *kind, *work;
};

AttentionWords words_for(Attention a) {
  switch (a) {
    case Attention::worn_out:
      return {"fleet.worn-out", "fleet.do-worn-out"};
    case Attention::seat:
      return {"fleet.seat", "fleet.do-seat"};
    case Attention::opens:
      return {"fleet.opens", "fleet.do-opens"};
    case Attention::doubt:
      return {"fleet.doubt", "fleet.do-doubt"};
    case Attention::nonconforming:
      return {"corrections.out-tolerance", "fleet.do-nonconforming"};
    case Attention::dry_spots:
      return {"fleet.dry-spots", "fleet.do-dry-spots"};
    case Attention::vanished:
      return {"fleet.vanished", "fleet.do-vanished"};
    case Attention::target:
      return {"fleet.target", "fleet.do-target"};
    case Attention::unread:
      return {"fleet.unread", "fleet.do-unread"};
    case Attention::future:
      return {"fleet.future", "fleet.do-future"};
    case Attention::namesake:
      return {"fleet.namesake", "fleet.do-namesake"};
    case Attention::due:
      return {"fleet.due", "fleet.do-due"};
    case Attention::undecided:
      return {"fleet.undecided", "fleet.do-undecided"};
    case Attention::none:
      break;
  }
  return {"clamping.nothing", ""};
}

std::string count_of(double cycles) { return std::isfinite(cycles) ? fixed(cycles, 0) : "–"; }

std::string small(const std::string& html) { return html.empty() ? "" : "<br><small>" + html + "</small>"; }

std::string air_cell(const FleetTool& t, const Voice& v) {
  if (t.air.draws == 0) return told(v, "fleet.not-estimated");
  return told(v, Message("list.plain", {arg::probability(t.air.p)})) +
         small(told(v, "fleet.from-to", {arg::probability(t.air.low), arg::probability(t.air.high)}));
}

std::string wear_cell(const FleetTool& t, const Voice& v) {
  if (!t.recheck && t.inspected_since)
    return told(v, "fleet.inspected-since") +
           small(t.kept == 0 && !t.overdue ? told(v, "fleet.history-elsewhere") : std::string());
  if (!t.recheck) return told(v, "fleet.not-compared");
  const Wear* w = first_to_end(t);
  if (!w)
    return told(v, t.recheck->unsure             ? "pages.cannot-be-told"
                   : t.recheck->not_compared > 0 ? "pages.not-all-compared"
                                                 : "fleet.no-wear");
  return (w->peak > 0 ? "+" : "") + with_U_of(w->peak, w->peak_U, v) + "\u00a0± " + with_U_of(w->peak_U, w->peak_U, v) +
         small(told(v, half_word(w->face)));
}

std::string left_cell(const FleetTool& t, const Voice& v) {
  const Wear* w = first_to_end(t);
  if (!w) return "–";
  if (at_limit(*w)) return told(v, "pages.limit-reached-2");
  if (w->bent)
    return told(v, "pages.no-straight-line") +
           (w->soonest >= 1 && std::isfinite(w->soonest)
                ? small(told(v, "fleet.at-fastest-pace", {arg::cycles(cycles_at_least(w->soonest))}))
                : "");
  if (!w->enough)
    return w->left_low > 0 ? told(v, "pages.not-enough-evidence-not", {arg::cycles(cycles_at_least(w->left_low))})
                           : told(v, "pages.not-enough-evidence");
  return told(v, Message("list.plain", {arg::cycles(w->left)})) +
         small(told(
             v, "fleet.from-to",
             {arg::cycles(std::isfinite(w->left_low) ? cycles_at_least(w->left_low) : 0), arg::cycles(w->left_high)}));
}

std::string next_cell(const FleetTool& t, const Voice& v) {
  const Recheck* next = planned(t);
  if (!next || !std::isfinite(next->next_cycles)) return "–";
  const std::string at = told(v, "fleet.at-cycles", {arg::name(count_of(next->next_cycles))});
  const std::string passed = t.overdue ? small("<b>" + told(v, "fleet.overdue") + "</b>") : "";
  return (next->next_date.empty() ? at : own(next->next_date) + small(at)) + passed;
}

/// The most pressing reason with what is to be done, then each other that holds.
std::string reasons_cell(const FleetTool& t, const Voice& v) {
  std::string out = "<span class=\"kind\">" + told(v, asks_for(t.attention)) + "</span>";
  if (t.attention != Attention::none) out += small(told(v, work_for(t, t.attention)));
  for (const Attention a : t.also) out += small("<b>" + told(v, asks_for(a)) + ".</b> " + told(v, work_for(t, a)));
  if (t.unmeasured) out += small(told(v, "pages.scan-not-compared"));
  return out;
}

std::string tool_cell(const FleetTool& t, const std::filesystem::path& from, const Voice& v) {
  const std::string page = seen_from(from, t.page), name = "<b>" + own(t.tool) + "</b>";
  return (page.empty() ? name : "<a href=\"" + url_path(page) + "\">" + name + "</a>") +
         small(t.name == t.tool ? "" : own(t.name)) + (page.empty() ? small(told(v, "fleet.only-history")) : "");
}

std::string row_of(const FleetTool& t, const std::filesystem::path& from, const Voice& v) {
  const std::array<std::pair<const char*, std::string>, 7> cells{{
      {"fleet.asks-for", reasons_cell(t, v)},
      {"zones.verdict", told(v, word_of(t.verdict, t.provisional))},
      {"fleet.trapped-air", air_cell(t, v)},
      {"fleet.wear", wear_cell(t, v)},
      {"pages.cycles-left", left_cell(t, v)},
      {"fleet.next", next_cell(t, v)},
      {"fleet.last",
       own(t.date) + small(told(v, "fleet.at-cycles", {arg::name(count_of(t.cycles))}) +
                           (t.kept > 0 ? ", " + told(v, "fleet.kept", {static_cast<long>(t.kept)}) : ""))},
  }};
  std::string out = std::string("<tr data-kind=\"") + to_string(t.attention) + "\"><th scope=\"row\">" +
                    tool_cell(t, from, v) + "</th>";
  for (const auto& [head, html] : cells) out += "<td data-head=\"" + told(v, head) + "\"><div>" + html + "</div></td>";
  return out + "</tr>\n";
}

std::string fleet_table(const Fleet& fleet, const std::filesystem::path& from) {
  const Voice& v = fleet.voice;
  std::string out = "<table class=\"fleet\"><caption>" + told(v, "fleet.brackets") + "</caption><thead><tr>";
  for (const auto& head : heads(v, {"fleet.tool", "fleet.asks-for", "zones.verdict", "fleet.trapped-air", "fleet.wear",
                                    "pages.cycles-left", "fleet.next", "fleet.last"}))
    out += "<th scope=\"col\">" + head + "</th>";
  out += "</tr></thead><tbody>\n";
  for (const FleetTool& t : fleet.tools) out += row_of(t, from, v);
  return out + "</tbody></table>\n";
}

/// One kind at a time by radio buttons, which the style alone obeys; finding by name takes the script.
std::string filter(const Fleet& fleet) {
  const Voice& v = fleet.voice;
  std::array<long, kAttentions> count{};
  for (const FleetTool& t : fleet.tools) ++count[static_cast<int>(t.attention)];
  const auto button = [](const std::string& kind, const std::string& words, std::size_t n, bool on) {
    return "<label><input type=\"radio\" name=\"kind\" id=\"kind-" + kind + "\"" + (on ? " checked" : "") + "><span>" +
           words + " " + std::to_string(n) + "</span></label>\n";
  };
  std::string out = "<fieldset class=\"kinds\"><legend>" + told(v, "front.show") + "</legend>\n" +
                    button("all", told(v, "fleet.all"), fleet.tools.size(), true);
  std::string style;
  for (int k = 0; k < kAttentions; ++k) {
    if (count[k] == 0) continue;
    const std::string kind = to_string(static_cast<Attention>(k));
    out += button(kind, told(v, asks_for(static_cast<Attention>(k))), count[k], false);
    style += "body:has(#kind-" + kind + ":checked) [data-kind]:not([data-kind=" + kind + "]) { display: none; }\n";
  }
  return "<style>\n" + style + "</style>\n" + out + "</fieldset>\n<p id=\"find-line\" hidden><label>" +
         told(v, "fleet.find") + " <input type=\"search\" id=\"find\"></label> <output for=\"find\"></output></p>\n";
}

// A chart is 220 by 124 pixels; its levels are shares of the change that is allowed.
constexpr double kChartLeft = 54, kChartRight = 212, kChartFloor = 104, kChartZero = 92, kChartCeiling = 8;

std::string small_chart(const FleetTool& t, const Wear& w, const Voice& v) {
  const double start = w.straight() ? w.line.at_first : w.course.front().value, allowed = w.limit - start;
  const double first = w.course.front().cycles, last = std::max(w.course.back().cycles, first + 1);
  const double line_end = w.straight() ? start + w.line.rate * (last - w.line.first) : start;
  double top = std::max(1.15, (line_end - start) / allowed);
  for (const TrendPoint& p : w.course) top = std::max(top, (p.value - start) / allowed + 2 * p.u / std::abs(allowed));
  const Axis x{first, last, kChartLeft, kChartRight - 6}, share{0, top, kChartZero, kChartCeiling};
  const auto y = [&](double gap) { return std::min(share.at((gap - start) / allowed), kChartFloor); };
  std::string in =
      line(kChartLeft, kChartZero, kChartRight, kChartZero, "grid") +
      line(kChartLeft, share.at(1), kChartRight, share.at(1), "lim") +
      text(kChartLeft - 5, kChartZero + 4, "0", "end") + text(kChartLeft - 5, share.at(1) + 4, "100\u00a0%", "end") +
      text(kChartLeft, 118, count_of(first), "start") + text(kChartRight, 118, count_of(w.course.back().cycles), "end");
  if (w.straight()) in += line(x.at(first), y(start), x.at(last), y(line_end), "cur");
  for (const TrendPoint& p : w.course) {
    in += line(x.at(p.cycles), y(p.value - 2 * p.u), x.at(p.cycles), y(p.value + 2 * p.u), "bar");
    in += "<circle class=\"dot\" cx=\"" + fixed(x.at(p.cycles)) + "\" cy=\"" + fixed(y(p.value)) + "\" r=\"3\"/>";
  }
  const double used = (w.course.back().value - start) / allowed;
  const std::string said =
      told(v, "fleet.used",
           {arg::name(t.tool), arg::name(w.name), arg::fraction(used, 0), arg::name(count_of(w.course.back().cycles))});
  return std::string("<figure data-kind=\"") + to_string(t.attention) + "\"><figcaption><b>" + own(t.tool) + "</b> " +
         own(w.name) + "</figcaption><svg viewBox=\"0 0 220 124\" role=\"img\" aria-label=\"" + said + "\">" + in +
         "</svg></figure>\n";
}

std::string trends(const Fleet& fleet) {
  const Voice& v = fleet.voice;
  std::string charts;
  for (const FleetTool& t : fleet.tools) {
    const Wear* w = first_to_end(t);
    if (w && w->course.size() > 1 && std::isfinite(w->limit)) charts += small_chart(t, *w, v);
  }
  return heading("trends", told(v, "fleet.trends")) +
         para(told(v, charts.empty() ? "fleet.no-trends" : "fleet.trends-say")) +
         (charts.empty() ? "" : "<div class=\"small-charts\">\n" + charts + "</div>\n");
}

std::string lost_files(const Fleet& fleet) {
  if (fleet.lost.empty()) return "";
  std::string out =
      heading("lost", told(fleet.voice, "fleet.lost")) + para(told(fleet.voice, "fleet.lost-say")) + "<ul>";
  for (const auto& line : fleet.lost) out += "<li>" + own(line) + "</li>";
  return out + "</ul>\n";
}

/// At the head of the page: what is missing on it may be the worst.
std::string lost_count(const Fleet& fleet) {
  if (fleet.lost.empty()) return "";
  return para("<a href=\"#lost\"><b>" + told(fleet.voice, "fleet.lost-count", {static_cast<long>(fleet.lost.size())}) +
              "</b></a>");
}

}  // namespace

Message asks_for(Attention a) { return Message(words_for(a).kind); }
Message work_for(const FleetTool& t, Attention a) {
  const char* work = words_for(a).work;
  std::string unread;
  for (const auto& file : t.unread) unread += (unread.empty() ? "" : ", ") + file.string();
  if (a == Attention::unread) return Message(work, {arg::name(unread)});
  if (a == Attention::future) return Message(work, {arg::name(t.future)});
  if (a == Attention::namesake) return Message(work, {arg::name(t.read_from.string())});
  const auto worn = [](const Wear& w) { return at_limit(w) && w.peak > 0; };
  if (a == Attention::worn_out && t.recheck && std::none_of(t.recheck->wear.begin(), t.recheck->wear.end(), worn))
    return Message("fleet.do-clean");
  return Message(work);
}

std::string seen_from(const std::filesystem::path& folder, const std::filesystem::path& file) {
  if (file.empty()) return "";
  namespace fs = std::filesystem;
  return fs::absolute(file)
      .lexically_normal()
      .lexically_relative(fs::absolute(folder).lexically_normal())
      .generic_string();
}

std::string fleet_html(const Fleet& fleet, const std::filesystem::path& from) {
  const Voice& v = fleet.voice;
  const auto quiet = std::count_if(fleet.tools.begin(), fleet.tools.end(),
                                   [](const FleetTool& t) { return t.attention == Attention::none; });
  const std::string title = told(v, "fleet.tools", {static_cast<long>(fleet.tools.size())});
  std::string out =
      "<!doctype html>\n<html lang=\"" + v.language +
      "\"><head><meta charset=\"utf-8\"><meta http-equiv=\"Content-Security-Policy\" content=\"default-src 'none'; "
      "style-src 'unsafe-inline'; script-src 'unsafe-inline'\"><meta name=\"viewport\" content=\"width=device-width, "
      "initial-scale=1\"><title>" +
      title + "</title>\n<style>\n" + page_css + fleet_css +
      "</style></head><body class=\"fleet-page\">\n<header><h1>" + title + "</h1>" +
      para(told(v, "fleet.as-of", {arg::name(fleet.day)}));
  if (fleet.invented) out += "<p class=\"invented\">" + told(v, "page.invented-data-no-real") + "</p>";
  const long asking = static_cast<long>(fleet.tools.size()) - quiet;
  out += "</header>\n<main>\n<p class=\"headline first\">" +
         told(v, asking == 0 ? Message("fleet.none-asks")
                             : Message("fleet.ask", {arg::number(static_cast<double>(asking)),
                                                     arg::number(static_cast<double>(fleet.tools.size()))})) +
         "</p>\n" + lost_count(fleet) + filter(fleet) + fleet_table(fleet, from) + trends(fleet) + lost_files(fleet) +
         heading("order", told(v, "fleet.order")) + para(told(v, "fleet.order-say")) + cautions_section(v);
  return out + "</main>\n<script>\n" + fleet_js + "</script></body></html>\n";
}

}  // namespace gapfront::report
