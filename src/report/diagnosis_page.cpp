// The page of a diagnosis: what makes the dry spot, how to tell, and what cures it; from diagnosis.json alone.
#include <algorithm>
#include <cmath>

#include "report/pages.hpp"
#include "report/plain_page.hpp"
#include "units/digits.hpp"

namespace gapfront::report {
namespace {

using D = Dimension;

std::string percent(const Json& fraction) {
  return fraction.is_null() ? "–" : fixed(100 * fraction.get<double>(), 0) + " %";
}

/// A probability with its interval; a dash where nothing was drawn.
std::string chance(const Json& c) {
  if (c.is_null()) return "–";
  return parts_percent(real_of(c, "p")) + " (" + percent(c.at("low")) + " – " + percent(c.at("high")) + ")";
}

std::string name_of(const Json& file, std::size_t k) {
  return file.at("spots").size() > 1 ? "spot " + std::to_string(k + 1) : "spot";
}

std::string verdict(const Json& s, const std::string& name, UnitSystem u) {
  const bool predicted = s.at("predicted"), gap = s.at("gap_explains");
  std::string more = "<p>The " + name + ": " + place(vec(s.at("at_mm")), u) + ", " +
                     escape(tape_length(real_of(s, "size_mm"), u)) + " across.";
  if (s.at("parts").get<int>() > 0)
    more += " Seen in " + s.at("seen").dump() + " of " + s.at("parts").dump() + " parts.";
  return verdict_box(gap         ? "bad"
                     : predicted ? "maybe"
                                 : "ok",
                     gap ? "The gap" : "Not the gap", text_of(s, "headline"), more + "</p>\n");
}

std::string chances(const Json& s) {
  Rows rows{{"the spot", "with the gap as measured", "with the nominal gap"},
            {"share of it that stays dry or fills late, in one filling", percent(s.at("trouble")),
             percent(s.at("trouble_nominal"))}};
  const int parts = s.at("parts");
  if (const Json& model = s.at("probability_model"); !model.is_null()) {
    rows.push_back({"share of the parts that show it, by the model", chance(model),
                    parts > 0 ? "" : chance(s.at("probability_nominal"))});
    if (parts > 0)
      rows.push_back({"share of the parts that show it, weighted by the count", chance(s.at("probability")),
                      chance(s.at("probability_nominal"))});
  }
  if (parts > 0)
    rows.push_back(
        {"share of the parts that show it, counted", fixed(100.0 * s.at("seen").get<int>() / parts, 0) + " %", ""});
  return table(rows) + (s.at("probability_model").is_null()
                            ? ""
                            : para("In brackets: the 95 % interval that the number of drawn fillings leaves (" +
                                   s.at("probability_model").at("draws").dump() + " drawn)."));
}

std::string causes(const Json& s) {
  if (s.at("causes").empty()) return "";
  Rows rows{{"", "cause removed", "kind", "spot left, of " + percent(s.at("trouble")), "taken away",
             "parts that still show it"}};
  int rank = 0;
  for (const auto& c : s.at("causes"))
    rows.push_back(
        {"<b>" + std::to_string(++rank) + "</b>",
         "<div class=\"do\">" + (c.at("is_gap") ? text_of(c, "name") + ": " : "") + text_of(c, "what") + "</div>",
         text_of(c, "kind"), percent(c.at("without")), percent(c.at("relief")), chance(c.at("probability"))});
  return table(rows, "Possible causes: the filling computed again with each one alone removed") +
         (s.at("probability").is_null() ? ""
                                        : para("Where fillings were drawn, the cause is judged by the share of the "
                                               "parts that still show the spot, not by the one filling.")) +
         (s.at("parts").get<int>() > 0 && !s.at("probability").is_null()
              ? "<p>The last column weighs the model's draws so that they show the spot in the share of parts in which "
                "it was seen.</p>\n"
              : "");
}

std::string suspects(const Json& s) {
  if (s.at("suspects").empty()) return "";
  Rows rows{{"fault that is not in the job", "it would make of the spot", "of the whole sheet it would leave dry",
             "to tell, measure this"}};
  for (const auto& c : s.at("suspects"))
    rows.push_back({"<div class=\"do\">" + text_of(c, "what") + "</div>", percent(c.at("trouble")),
                    percent(c.at("sheet_left_dry")), "<div class=\"do\">" + text_of(c, "measure") + "</div>"});
  return table(rows, "Faults put into the model, one at a time, to see whether they make the spot");
}

/// What the report's own corrections make of the spot, and what cures it.
std::string cure(const Json& file, const Json& s, UnitSystem u) {
  std::string out = "<p><b>" + text_of(s, "cure") + "</b></p>\n";
  for (const auto& step : s.at("cure_steps")) out += para(escape(step.get<std::string>()));
  const bool drawn = !s.at("probability_model").is_null();
  if (drawn)
    out += para("A spot counts as cured where it comes in fewer than " + percent(file.at("cured_below")) +
                " of the parts (own choice).");
  const Json& planned = s.at("with_the_chosen_corrections");
  const Json& c = s.at("cure_effect");
  if (c.is_null()) {
    if (planned.is_null()) return out;
    Rows rows{{"", "now", "with the corrections that the report has chosen"},
              {"share of the spot that stays dry or fills late, in one filling", percent(s.at("trouble")),
               percent(planned.at("trouble"))}};
    if (drawn)
      rows.push_back(
          {"share of the parts that show it", chance(s.at("probability")), chance(planned.at("probability"))});
    return out + table(rows);
  }
  std::string names;
  for (const auto& n : c.at("corrections")) names += (names.empty() ? "" : ", ") + text_of(n, "name");
  Rows rows{{own(names), "now", "with it"},
            {"work", "", fixed(real_of(c, "effort_h"), 1) + " h"},
            {"share of the spot that stays dry or fills late, in one filling", percent(s.at("trouble")),
             percent(c.at("trouble"))}};
  if (drawn)
    rows.push_back({"share of the parts that show it", chance(s.at("probability")), chance(c.at("probability"))});
  if (!file.at("traps_air_now").is_null() && s.at("cure_effect").at("after").is_object())
    rows.push_back({"fillings that trap air anywhere, as the report draws them", chance(file.at("traps_air_now")),
                    chance(file.at("traps_air_after"))});
  const Json &before = c.at("before"), &after = c.at("after");
  const auto row = [&](const char* name, const char* key, D d) {
    rows.push_back({name, with_unit(real_of(before, key), d, u), with_unit(real_of(after, key), d, u)});
  };
  if (after.is_object()) {
    row("dry area", "dry_area_mm2", D::area);
    const auto time = [&](const char* name, const char* key) {
      const double full = real_of(before, "fill_time_s");
      rows.push_back({name, with_time(real_of(before, key), full), with_time(real_of(after, key), full)});
    };
    time("fill time", "fill_time_s");
    time("greatest lead of the front", "greatest_lead_s");
    row("area out of tolerance", "out_of_tolerance_area_mm2", D::area);
  }
  return out + table(rows, "What cures the spot; its effect is re-computed");
}

void put_pockets(Inspection& stage, const Json& pockets) {
  stage.filling.pockets.clear();
  for (const auto& p : pockets) {
    Pocket pocket;
    pocket.centre = vec(p.at("centre_mm"));
    stage.filling.pockets.push_back(pocket);
  }
}

std::string maps(const Json& file, Inspection& stage) {
  std::vector<SeenSpot> seen;
  for (std::size_t k = 0; k < file.at("spots").size(); ++k) {
    const Json& s = file.at("spots")[k];
    seen.push_back({name_of(file, k), vec(s.at("at_mm")), real_of(s, "size_mm")});
  }
  const auto map = [&](const char* id, const char* title, const char* meaning, D d, Scale scale, bool zero,
                       bool lines) {
    const Field f{id, title, meaning, d, scale, zero, stage.columns.at(id)};
    return map_figure(stage, f, "<b>" + f.title + ".</b> " + f.meaning, MapExtras{lines, seen, {}});
  };
  std::string out = "<div class=\"maps\">";
  put_pockets(stage, file.at("pockets"));
  out += map(
      "arrival_s", "Front with the gap as measured",
      "Arrival, with lines of equal time. Dashed ring: the spot as it was seen. Cross: air that the model shuts in.",
      D::time, Scale::sequence, false, true);
  out += map("deviation_mm", "Deviation of the gap", "Gap minus nominal: brown is too wide, blue too tight.", D::length,
             Scale::diverging, true, false);
  out += map("lead_s", "Lead of the front", "Nominal arrival minus measured arrival: brown is early.", D::time,
             Scale::diverging, true, false);
  put_pockets(stage, file.at("pockets_nominal"));
  out += map("arrival_nominal_s", "Front with the nominal gap",
             "Arrival if the gap were right, with lines of equal time. Cross: air that the model shuts in even so.",
             D::time, Scale::sequence, false, true);
  return section("maps", "Seen and predicted", out + "</div>\n" + map_orientation());
}

}  // namespace

std::string diagnosis_page(const Json& file) {
  Inspection stage = stage_of(file, "regions");
  const UnitSystem u = stage.job.units;
  const Json& job = file.at("job");
  std::string body;
  for (std::size_t k = 0; k < file.at("spots").size(); ++k) body += verdict(file.at("spots")[k], name_of(file, k), u);
  body += outcome_of(file) + maps(file, stage);
  for (std::size_t k = 0; k < file.at("spots").size(); ++k) {
    const Json& s = file.at("spots")[k];
    const std::string tell = s.at("discriminate");
    body += section("spot-" + std::to_string(k + 1), "Causes and cure of the " + name_of(file, k),
                    chances(s) + causes(s) + suspects(s) + (tell.empty() ? "" : "<p>" + escape(tell) + "</p>\n") +
                        cure(file, s, u));
  }
  body += section("provenance", "Where the numbers come from",
                  table({{"", ""},
                         {"fillings computed", file.at("fillings_computed").dump()},
                         {"made by gapfront", own(file.at("program_version"))},
                         {"job file, SHA-256", "<code>" + text_of(file, "job_sha256") + "</code>"},
                         {"lower scan, SHA-256", "<code>" + text_of(file, "lower_sha256") + "</code>"},
                         {"upper scan, SHA-256", "<code>" + text_of(file, "upper_sha256") + "</code>"}}));
  std::string facts = "Diagnosis of a recurring dry spot";
  if (const std::string tool = text_of(job, "tool"); !tool.empty()) facts += ": " + tool;
  if (const std::string date = text_of(job, "date"); !date.empty()) facts += ", scanned " + date;
  return plain_page(job, "diagnosis", facts, body);
}

}  // namespace gapfront::report
