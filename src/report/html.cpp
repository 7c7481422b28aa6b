// report.html: one file, no network.
#include <algorithm>
#include <array>
#include <cctype>
#include <cmath>
#include <cstdio>
#include <nlohmann/json.hpp>

#include "gapfront/report.hpp"
#include "report/assets.hpp"
#include "report/html.hpp"
#include "report/made_apart.hpp"
#include "report/overview.hpp"
#include "report/paper.hpp"
#include "units/digits.hpp"
#include "units/words.hpp"

namespace gapfront::report {

std::string fixed(double v, int decimals) {
  if (!std::isfinite(v)) return kNoNumberWord;
  char text[40];
  std::snprintf(text, sizeof text, "%.*f", decimals, v);
  return text;
}

std::string fixed(double v, int decimals, const Voice& voice) { return spelt(fixed(v, decimals), voice); }

std::string spelt(std::string number, const Voice& voice) {
  return voice.language == "en" ? number : decimal_commas(std::move(number));
}

std::string escape(const std::string& s) {
  std::string out;
  for (char c : s) switch (c) {
      case '&':
        out += "&amp;";
        break;
      case '<':
        out += "&lt;";
        break;
      case '>':
        out += "&gt;";
        break;
      case '"':
        out += "&quot;";
        break;
      case '\'':
        out += "&#39;";
        break;
      default:
        out += c;
    }
  return out;
}

std::string own(const std::string& s) { return s.empty() ? "" : "<span translate=\"no\">" + escape(s) + "</span>"; }

std::string script_safe(std::string json) {
  for (std::size_t at = 0; (at = json.find('<', at)) != std::string::npos; at += 6) json.replace(at, 1, "\\u003c");
  return json;
}

namespace {
std::string held_together(std::string s) {
  for (std::size_t at = 0; (at = s.find(' ', at)) != std::string::npos; at += 2) s.replace(at, 1, "\u00a0");
  return s;
}
}  // namespace

std::string percent(double fraction, int decimals, const Voice& v) {
  return std::isfinite(fraction) ? fixed(100 * fraction, decimals, v) + "\u00a0%" : kNoNumberWord;
}

std::string counted_percent(double fraction, const Voice& v) {
  return held_together(spelt(parts_percent(fraction), v));
}

std::string with_unit(double value, Dimension d, const Voice& v) {
  const std::string number = spelt(shown(value, d, v.units), v);
  return number == "–" ? number : number + "\u00a0" + shown_unit(d, v.units);  // not to be parted at a line's end
}

std::string with_U_of(double mm, double U, const Voice& v) {
  if (!std::isfinite(mm)) return "–";
  const double per = mm_per_unit(v.units);
  const int decimals = decimals_for(U / per, shown_decimals(Dimension::length, v.units));
  return spelt(spoken(mm / per, decimals), v) + "\u00a0" + length_unit(v.units);
}

std::string with_time(double s, double fill_time, const Voice& v) {
  return held_together(spelt(time_in_fill(s, fill_time), v));
}
std::string by_tape(double mm, const Voice& v) { return held_together(say(arg::tape(mm), v)); }

std::string heading(const std::string& id, const std::string& text) {
  return "<h2 id=\"" + id + "\">" + text + "</h2>\n";
}

std::string para(const std::string& html) { return "<p>" + html + "</p>\n"; }

std::string outcome_para(const Inspection& r) {
  return "<p class=\"outcome\">" + told(voice_of(r.job), outcome_says(r)) + "</p>\n";
}

namespace {

/// Whether the blank at `at` stands between the letter of an axis and its number.
bool after_axis(std::string_view text, std::size_t at) {
  const std::string_view next = text.substr(at + 1);
  return std::string_view("xyz").find(text[at - 1]) != std::string_view::npos &&
         (at == 1 || std::string_view(" (").find(text[at - 2]) != std::string_view::npos) && !next.empty() &&
         (std::isdigit(static_cast<unsigned char>(next[0])) || next.starts_with("−"));
}

/// Text in which no number is parted from its unit, or its axis, at a line's end.
std::string units_kept(std::string text) {
  static constexpr std::array units{"%",   "mm", "µm",  "cm²", "cm³", "in", "in²",   "in³",     "thou", "bar", "kPa",
                                    "psi", "kN", "lbf", "g",   "kg",  "oz", "L/min", "gal/min", "s",    "min", "h"};
  for (std::size_t at = 1; (at = text.find(' ', at)) != std::string::npos; ++at) {
    if (after_axis(text, at)) text.replace(at, 1, "\u00a0");
    if (!std::isdigit(static_cast<unsigned char>(text[at - 1]))) continue;
    const std::size_t end = std::min(text.find_first_of(" ,;:.()", at + 1), text.size());
    const std::string_view word = std::string_view(text).substr(at + 1, end - at - 1);
    if (std::find(units.begin(), units.end(), word) != units.end()) text.replace(at, 1, "\u00a0");
  }
  return text;
}

}  // namespace

std::string place(const Vec3& p, const Voice& v) { return units_kept(say(arg::place(p), v)); }
std::string told(const Voice& v, const Message& m) { return units_kept(escape(say(m, v))); }
std::string told(const Voice& v, const Text& t) { return units_kept(escape(say(t, v))); }
std::string told(const Voice& v, const std::string& id, std::vector<Argument> arguments) {
  return told(v, Message(id, std::move(arguments)));
}

std::string rich(const Voice& v, const std::string& id, std::vector<Argument> arguments) {
  for (Argument& a : arguments)
    if (!std::holds_alternative<long>(a)) a = arg::name(escape(say(Message("list.plain", {a}), v)));
  return say(Message(id, std::move(arguments)), v);
}

std::string list(const Inspection& r, const Messages& items) {
  if (items.empty()) return "";
  std::string out = "<ul>";
  for (const Message& m : items) out += "<li>" + told(voice_of(r.job), m) + "</li>";
  return out + "</ul>\n";
}

std::vector<std::string> heads(const Voice& v, const std::vector<std::string>& ids) {
  std::vector<std::string> out;
  for (const auto& id : ids) out.push_back(id.find('.') == std::string::npos ? id : told(v, id));
  return out;
}

Message half_word(const std::string& half) {
  return Message(half == "lower" ? "page.lower" : half == "upper" ? "page.upper" : "pages.both");
}

std::string go(const Vec3& at, const std::string& html) {
  return "<a class=\"go\" href=\"#overview\" data-at=\"" + fixed(at.x(), 2) + " " + fixed(at.y(), 2) + " " +
         fixed(at.z(), 2) + "\">" + html + "</a>";
}
std::string go(const Vec3& at, const Voice& v) { return go(at, place(at, v)); }

namespace {
std::string without_tags(const std::string& html) {
  std::string out;
  bool tag = false;
  for (const char c : html) {
    if (c == '<' || c == '>')
      tag = c == '<';
    else if (!tag)
      out += c;
  }
  return out;
}
}  // namespace

std::string table(const std::vector<std::vector<std::string>>& rows, const std::string& caption,
                  const std::vector<std::string>& row_ids) {
  // A table of more rows than this may be parted on paper; held together it would leave half a page blank.
  constexpr std::size_t whole = 8;
  // From so many columns on, a phone shows each row as a list, with the header's words before each value.
  constexpr std::size_t narrow = 4;
  const bool stacks = !rows.empty() && rows[0].size() >= narrow;
  std::string out = "<div class=\"wide\"><table" +
                    std::string(rows.size() > whole + 1 ? " class=\"long" : " class=\"") +
                    (stacks ? " stacks\">" : "\">") + (caption.empty() ? "" : "<caption>" + caption + "</caption>");
  for (std::size_t i = 0; i < rows.size(); ++i) {
    out += i == 0 ? "<thead><tr" : "<tr";
    out += i > 0 && i <= row_ids.size() ? " id=\"" + row_ids[i - 1] + "\">" : ">";
    for (std::size_t k = 0; k < rows[i].size(); ++k) {
      const std::string label =
          stacks && i > 0 && k < rows[0].size() ? " data-label=\"" + without_tags(rows[0][k]) + "\"" : "";
      out += i == 0   ? "<th scope=\"col\">" + rows[i][k] + "</th>"
             : k == 0 ? "<th scope=\"row\">" + rows[i][k] + "</th>"
                      : "<td" + label + ">" + rows[i][k] + "</td>";
    }
    out += i == 0 ? "</tr></thead><tbody>" : "</tr>";
  }
  return out + "</tbody></table></div>\n";
}

std::string photo_of(const Inspection& r) {
  if (r.photo.empty()) return "";
  return "<img class=\"photo\" alt=\"" + told(voice_of(r.job), "page.photo") + "\" src=\"" + escape(r.photo) + "\">";
}

std::string report_html(const Inspection& r) {
  const Job& job = r.job;
  const Voice v = voice_of(job);
  std::string facts = own(job.tool);
  if (!job.date.empty()) facts += (facts.empty() ? "" : " · ") + own(job.date);
  if (job.cycles > 0)
    facts += (facts.empty() ? "" : " · ") + told(v, "page.parts-made-so-far", {static_cast<long>(job.cycles)});
  // The page can fetch nothing, so that the only WebAssembly it can run is its own.
  const std::string trials = r.live.empty() ? "" : " 'wasm-unsafe-eval'; worker-src blob:";
  std::string out =
      "<!doctype html>\n<html lang=\"" + job.language +
      "\"><head><meta charset=\"utf-8\">"
      "<meta http-equiv=\"Content-Security-Policy\" content=\"default-src 'none'; img-src data:; style-src "
      "'unsafe-inline'; script-src 'unsafe-inline'" +
      trials +
      "\">"
      "<meta name=\"viewport\" content=\"width=device-width, initial-scale=1\"><title translate=\"no\">" +
      escape(job.name) + "</title>\n<style>\n" + page_css + paper_css(r) +
      "</style></head><body>\n<header><h1 translate=\"no\">" + escape(job.name) + "</h1>";
  if (!facts.empty()) out += "<p>" + facts + "</p>";
  if (job.invented) out += "<p class=\"invented\">" + told(v, "page.invented-data-no-real") + "</p>";
  out += photo_of(r);
  const std::string note = job.note.empty() ? "" : "<p class=\"note\">" + own(job.note) + "</p>\n";
  if (r.doubt)
    return out + "</header>\n<main>\n" + note + doubt_sections(r) + provenance_section(r) + cautions_section(v) +
           "</main>\n</body></html>\n";
  const std::pair<const char*, const char*> parts[] = {
      {"gap", "page.gap"},           {"front", "page.front"},
      {"shut", "clamping.shut"},     {"corrections", "page.corrections"},
      {"proof", "page.uncertainty"}, {"provenance", "page.provenance"},
      {"cautions", "page.cautions"}};
  std::string links;
  for (const auto& [id, name] : parts) {
    if (id == std::string("shut") && !r.live.empty())  // shown by the script that can do it
      links += " <a href=\"#try\" hidden>" + told(v, "try.nav") + "</a>";
    links += (links.empty() ? "" : " ") + ("<a href=\"#" + std::string(id) + "\">" + told(v, name) + "</a>");
  }
  out += "<nav aria-label=\"" + told(v, "page.sections") + "\">" + links + "</nav></header>\n<main>\n";
  // The work order goes along, so that its links lead somewhere where the report alone was sent on.
  const auto order = [&]() -> std::string {
    if (!has_work_order(r)) return "";
    return "<script type=\"application/json\" id=\"order\">" + script_safe(nlohmann::json(work_order_html(r)).dump()) +
           "</script>\n";
  };
  const auto data = [&] {
    return "</main>\n<script type=\"application/json\" id=\"data\">" + page_data(r) + "</script>\n";
  };
  for (const std::string& part :
       made_apart({[&] { return verdict_section(r) + note; }, [&] { return map_section(r); },
                   [&] { return front_section(r); }, [&] { return trial_section(r) + clamping_section(r); },
                   [&] { return expected_section(r) + corrections_section(r) + work_section(r); },
                   [&] { return uncertainty_section(r) + provenance_section(r) + cautions_section(v); }, data, order,
                   [&] { return trial_scripts(r); }}))
    out += part;
  return out + "<script>\n" + three_js + "</script>\n<script>\n" + page_js + "</script></body></html>\n";
}

}  // namespace gapfront::report
