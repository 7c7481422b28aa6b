// diagnosis.json.
#pragma once
#include "gapfront/diagnose.hpp"
#include "gapfront/job.hpp"
#include "report/describe/head.hpp"

namespace gapfront::report {

inline constexpr int kDiagnosisVersion = 4;

/// null: nothing was drawn.
void describe_chance(auto& v, const char* key, Is<Chance> auto& c, const char* meaning) {
  v.object_if(c.draws > 0, key, meaning, [&](auto& g) {
    g.about("chance", "A probability estimated from draws, with its 95 % interval.");
    g("p", share(c.p));
    g("low", share(c.low));
    g("high", share(c.high));
    g("hits", c.hits);
    g("draws", c.draws);
  });
}

void describe(auto& v, Is<Cause> auto& c) {
  v.about("cause", "A possible cause, and what is left of the trouble when it alone is removed.");
  v("kind", word(c.kind, CauseKind::gel));
  v("name", c.name);
  v("what", c.what, "What is removed.");
  v("is_gap", c.is_gap);
  v("relief", c.relief, "Fraction of the trouble, or of the probability where there is one, that goes with it.");
  v("without", c.without, "Trouble without it, in one filling.");
  describe_chance(v, "probability", c.chance, "Of the spot without it.");
}

void describe(auto& v, Is<Suspect> auto& s) {
  v.about("suspect", "A fault that is not in the job, put in to see whether it would make the spot.");
  v("what", s.what);
  v("measure", s.measure, "What to measure to tell.");
  v("trouble", s.trouble, "That it adds at the spot.");
  v("sheet_left_dry", s.dry, "Fraction of the whole sheet that it leaves dry.");
}

void describe_short(auto& v, Is<Effect> auto& e) {
  v.about("effect", "A state of the tool in a few numbers.");
  v("out_of_tolerance_area_mm2", e.out_of_tolerance_area);
  v("greatest_lead_s", e.max_lead_s);
  v("dry_area_mm2", e.dry_area);
  v("fill_time_s", e.fill_time);
  v("last_point_to_vent_mm", e.last_to_vent);
}

/// What corrections make of a spot.
struct CureEffect {
  struct Part {
    std::string name;
    Kind kind{};
  };
  std::vector<Part> parts;
  double effort = 0;  ///< h
  double trouble = 0;
  Chance chance;
  double fill_time = 0;
  Effect before;
  std::optional<Effect> after;  ///< none: of one more correction on top of others nobody has computed it
};
void describe(auto& v, Is<CureEffect::Part> auto& p) {
  v.about("part");
  v("name", p.name);
  v("kind", word(p.kind, Kind::vent_open));
}
void describe(auto& v, Is<CureEffect> auto& c) {
  v.about("cure", "All that the plan has chosen, or one more.");
  v("corrections", c.parts);
  v("effort_h", c.effort);
  v("trouble", c.trouble);
  describe_chance(v, "probability", c.chance, "Of the spot.");
  v("fill_time_s", c.fill_time);
  v.object("before", nullptr, [&](auto& g) { describe_short(g, c.before); });
  v.optional("after", c.after, "null: not computed.", [](auto& g, auto& after) { describe_short(g, after); });
}

/// A spot as the file has it: with what the corrections make of it.
struct SpotFile {
  SpotDiagnosis spot;
  std::optional<CureEffect> planned;  ///< of the chosen corrections: trouble, chance and fill time only
  std::optional<CureEffect> cure;
};
void describe(auto& v, Is<SpotFile> auto& file) {
  auto& s = file.spot;
  v.about("spot",
          "A dry spot that was seen on parts. Trouble: fraction of it that one filling leaves dry or fills late.");
  v("at_mm", s.spot.at);
  v("size_mm", s.spot.size, "Across.");
  v("seen", s.spot.seen, "In so many of the parts.");
  v("parts", s.spot.parts, "0: not counted.");
  v("headline", s.headline);
  v("predicted", s.predicted);
  v("gap_explains", s.gap_explains);
  v("layout", s.layout, "The nominal mold has it as well: inlets and vents are at fault.");
  v("trouble", s.trouble, "With the measured gap.");
  v("trouble_nominal", s.nominal_trouble);
  describe_chance(v, "probability_model", s.model, "Of the spot with the measured gap, as the model draws it.");
  describe_chance(v, "probability", s.now, "Weighted by what was counted on parts.");
  describe_chance(v, "probability_nominal", s.nominal, "The same with the nominal gap.");
  v("seen_fits", s.seen_fits, "What was counted on parts agrees with the model's probability.");
  v("causes", s.causes, "The greatest relief first.");
  v("suspects", s.suspects);
  v("discriminate", s.discriminate, "How to tell the cause; may be empty.");
  v.optional("with_the_chosen_corrections", file.planned, "null: none are chosen.", [](auto& g, auto& p) {
    g("trouble", p.trouble);
    describe_chance(g, "probability", p.chance, nullptr);
    g("fill_time_s", p.fill_time);
  });
  v("cure", s.cure_text);
  v("cure_steps", s.cure_steps);
  v("cure_effect", file.cure, "null: there is no cure.");
}

/// What the file holds.
struct DiagnosisFile {
  Job job;
  std::string version, job_sha256, lower_sha256, upper_sha256;
  Text outcome;
  std::vector<SpotFile> spots;
  int fillings = 0, unsettled = 0;
  double cured_below = 0;
  Chance air_now, air_after;
  double fill_time = 0, nominal_fill_time = 0;
  std::vector<Pocket> pockets, nominal_pockets;
  std::vector<DeviationRegion> regions;
  Mesh mesh;
  std::vector<double> deviation, arrival, nominal_arrival, lead;
};
void describe(auto& v, Is<DiagnosisFile> auto& d) {
  v.about(nullptr,
          "What makes a dry spot, and what cures it. Lengths in mm, times in s; coordinates in the tool frame. null is "
          "'not measured', 'not computed' or 'never'.");
  const auto pocket = [](auto& g, auto& p) {
    g.about("pocket");
    g("centre_mm", p.centre);
    g("closed_at_s", p.closed_at);
    g("initial_volume_mm3", p.initial_volume);
    g("final_volume_mm3", p.final_volume);
  };
  v.constant("format", "gapfront diagnosis");
  v.constant("format_version", kDiagnosisVersion);
  v("program_version", d.version);
  v.object("job", nullptr, [&](auto& g) { describe_head(g, d.job); });
  v("job_sha256", hash(d.job_sha256));
  v("lower_sha256", hash(d.lower_sha256));
  v("upper_sha256", hash(d.upper_sha256));
  v.maybe("outcome", true, d.outcome, "What the inspection comes to; files of before lack it.");
  v("spots", d.spots);
  v("fillings_computed", d.fillings);
  v.maybe("fillings_not_converged", d.unsettled > 0, d.unsettled, "Of these; absent: all did.");
  v("cured_below", d.cured_below, "A spot that comes in fewer of the parts is cured.");
  describe_chance(v, "traps_air_now", d.air_now, "That a filling traps air anywhere.");
  describe_chance(v, "traps_air_after", d.air_after, "The same after the chosen corrections.");
  v("fill_time_s", d.fill_time);
  v("fill_time_nominal_s", d.nominal_fill_time);
  v.list("pockets", d.pockets, "Air that the model shuts in.", pocket);
  v.list("pockets_nominal", d.nominal_pockets, nullptr, pocket);
  v.list("regions", d.regions, "That deviate provably.", [](auto& g, auto& r) {
    g.about("region");
    g("name", r.name);
    g("centre_mm", r.centre);
    g("outline_mm", r.outline);
  });
  v.object("sheet", nullptr, [&](auto& g) {
    describe_mesh(g, d.mesh);
    g.object("fields", "One value per node.", [&](auto& f) {
      f("deviation_mm", per_node(d.deviation));
      f("arrival_s", per_node(d.arrival));
      f("arrival_nominal_s", per_node(d.nominal_arrival));
      f("lead_s", per_node(d.lead));
    });
  });
}

}  // namespace gapfront::report
