// result.json: the glass in the gap, the front, and how to inject.
#pragma once
#include "gapfront/inspection.hpp"
#include "report/describe/head.hpp"

namespace gapfront::report {

// Closing.

void describe(auto& v, Is<OpeningSample> auto& s) {
  v.about("opening_sample");
  v("time_s", s.time);
  v("closing_N", newton(s.closing), "Vacuum over the dry part, mechanical pressure, clamps and perimeter vacuum.");
  v("opening_N", newton(s.opening), "Fluid above atmosphere, and the push of the glass.");
  v("least_local_margin_Pa", never(s.minimum),
    "Atmosphere + mechanical − fluid − compaction; negative: a light half lifts.");
  v("node", node(s.node));
}

void describe(auto& v, Is<Opening> auto& o) {
  v.about("opening", "What closes against what opens, projected on the opening axis.");
  v("dry", o.dry, "Vacuum on, before the resin.");
  v("least_force_margin", o.force);
  v("least_local_margin", o.place);
  v("held_at_the_last_inlet_pressure", o.held, "Filled, and the pump not stopped.");
  v.constant("history_columns", {"time_s", "closing_N", "opening_N", "least_local_margin_Pa", "node"});
  v("history", each(o.history, [](auto& s) {
      return row(s.time, newton(s.closing), newton(s.opening), never(s.minimum), node(s.node));
    }));
}

void describe(auto& v, Is<PackedRegion> auto& r) {
  v.about("packed_region", "Where the glass is squeezed harder than the clamping.");
  v("centre_mm", r.centre);
  v("area_mm2", r.area);
  v("load_N", newton(r.load));
  v("share_of_load", r.fraction);
}

void describe(auto& v, Is<Closing> auto& c) {
  v.about("closing", "Whether the mold closes on its dry glass.");
  v.derived("closes", [&] { return c.closes(); });
  v("closing_force_N", newton(c.closing));
  v("glass_force_N", newton(c.reinforcement));
  v("projected_area_mm2", c.area);
  v("stands_open_mm", c.stands_open, "How far a rigid upper half stays off; 0 if it closes.");
  v("over_packed_regions", c.regions);
}

// Laminate.

void describe(auto& v, Is<ZoneState> auto& z) {
  v.about("zone_state");
  v("name", z.name);
  v("area_mm2", z.area);
  v("under_filled_mm2", z.under_filled);
  v("over_packed_mm2", z.over_packed);
  v("weight_out_mm2", z.weight_out);
  v("load_N", newton(z.load), "Compaction pressure over the zone's area.");
  v("fibre_volume_fraction", row(z.vf_min, z.vf_mean, z.vf_max), "Least, mean, greatest.");
  v("weight_fraction_mean", z.weight_mean);
}

/// A ply of the stack, by its zone.
struct PlyLine {
  std::string zone, name;
  Messages source;
  double count = 1;
};
void describe(auto& v, Is<PlyLine> auto& p) {
  v.about("ply");
  v("zone", p.zone, "Empty: everywhere.");
  v("glass", p.name);
  v("count", p.count);
  v("source", p.source, "Where its numbers are from, a clause each.");
}
inline std::vector<PlyLine> ply_lines(const LaminateOptions& o) {
  std::vector<PlyLine> out;
  const auto add = [&](const std::string& zone, const std::vector<Ply>& plies) {
    for (const Ply& p : plies) out.push_back({zone, p.reinforcement.name, p.reinforcement.source, p.count});
  };
  add("", o.plies);
  for (const auto& z : o.zones) add(z.name, z.plies);
  return out;
}
inline void put_plies(const std::vector<PlyLine>& lines, LaminateOptions& o) {
  for (const PlyLine& line : lines) {
    Ply ply;
    ply.reinforcement.name = line.name, ply.reinforcement.source = line.source, ply.count = line.count;
    if (line.zone.empty()) {
      o.plies.push_back(ply);
      continue;
    }
    if (o.zones.empty() || o.zones.back().name != line.zone) o.zones.emplace_back().name = line.zone;
    o.zones.back().plies.push_back(ply);
  }
}

void describe_laminate(auto& v, Is<Inspection> auto& r) {
  v("under_filled_area_mm2", r.laminate.under_filled_area, "The gap exceeds the loft: an open channel.");
  v("over_packed_area_mm2", r.laminate.over_packed_area, "The glass pushes back harder than the clamping.");
  v("weight_out_area_mm2", r.laminate.weight_out_area, "Glass by weight outside its window.");
  v("clamping_Pa", known(r.job.laminate.clamping_pressure, 0), "What presses on dry glass.");
  v.via(
      "plies", [&] { return ply_lines(r.job.laminate); }, [&](const auto& l) { put_plies(l, r.job.laminate); });
  v("zones", r.laminate.zones, "What the gap does to the glass in each zone; what lies in no zone first.");
  v("closing", r.closing, "With the measured gap.");
  v("closing_nominal", r.nominal_closing, "With the nominal gap.");
}

// Front.

void describe(auto& v, Is<Pocket> auto& p) {
  v.about("pocket");
  v("centre_mm", p.centre);
  v("closed_at_s", p.closed_at);
  v("initial_volume_mm3", p.initial_volume);
  v("final_volume_mm3", p.final_volume);
  v("final_pressure_Pa_absolute", p.final_pressure);
  v("dry_area_mm2", p.area);
  v("dry_area_U_mesh_mm2", p.area_U,
    "Expanded uncertainty of the dry area by the mesh: twice its difference from the one on half the edge; the area "
    "itself where the pocket is not found there. null where not computed (no small pocket, or a light upper half).");
  v("dry_area_half_edge_mm2", p.area_fine,
    "The dry area with the filling run on a sheet of half the edge; 0: the pocket is not found there.");
}

void describe(auto& v, Is<SupplyCourse> auto& s) {
  v.about(
      "supply_course",
      "Hose, weight of the resin, ageing, soaking of the stack: what a filling tells of those that the job asks for.");
  v.when("computed", s.on, [&](auto& g) {
    g("greatest_at_pump_Pa_above_atmosphere", s.pump_peak);
    g("greatest_loss_in_hose_Pa", s.hose_peak);
    g("head_of_pump_Pa", s.head, "What the column of resin between pump and inlet presses with.");
    g("column_in_sheet_Pa", s.column, "What the resin's weight makes from the highest to the lowest place.");
    g("loss_of_air_in_vent_line_Pa", s.vent_air, "Not in the front; were all air to leave by one line.");
    g("bled_mm3", s.bled);
    g("gelled_at_s", never(s.gelled_at), "null: it filled first.");
    g("stands_at_s", never(s.stands_at), "When the front came to stand under its weight; null: it did not.");
    g("left_dry_mm2", s.left_dry, "By resin that gelled or came to stand; listed with the pockets.");
    g("thickest_over_fresh", s.thickest);
    g("ran_past_what_is_known", s.past_known);
    g("runs_down", s.runs_down, "Resin would run down faster than it comes.");
    g("stack_soaks_s", s.soak_time, "The longest, below an open channel, after the front has passed.");
    g("stack_soaks_at_mm", s.soak_at);
    g("stack_dry_mm2", s.soak_dry, "Below an open channel, not wet through at the end.");
    g("stack_dry_at_mm", s.soak_dry_at);
    g("fill_time_thin_resin_s", s.thin_time, "At one end of the viscosity's 95 % interval; 0: not looked at.");
    g("fill_time_thick_resin_s", s.thick_time);
    g("dry_area_thick_resin_mm2", s.thick_dry);
  });
}

void describe(auto& v, Is<Filling> auto& f) {
  v.about("filling");
  v("fill_time_s", f.fill_time);
  v("last_node", node(f.last_node));
  v("last_point_to_vent", length(f.last_to_vent));
  v("injected_mm3", f.injected);
  v("resin_mm3", f.resin);
  v("opening", f.opening);
  v("vents_closed_at_s", each(f.vent_closed_at, [](auto& t) { return never(t); }));
  v("pockets", f.pockets);
  v.constant("history_columns", {"time_s", "inlet_pressure_Pa_above_atmosphere", "rate_mm3_s", "share_filled"});
  v("history", each(f.history, [](auto& s) { return row(s.time, s.inlet_pressure, s.rate, s.filled); }));
  v("supply", f.supply);
  v("warnings", f.warnings);
}

void describe(auto& v, Is<LeadRegion> auto& r) {
  v.about("lead_region");
  v("centre_mm", r.centre);
  v("area_mm2", r.area);
  v("peak_s", r.peak_s);
  v("mean_s", r.mean_s);
  v("peak_mm", r.peak_mm, "In length of the nominal front.");
  v("peak_percent_of_fill_time", r.peak_percent);
  v("peak_node", node(r.peak_node));
  v("path_nodes", node(r.path), "The way of the resin, from the inlet to the peak.");
  v("source_node", node(r.source), "Where on that way the lead was gained.");
  v("fed_by", r.fed_by, "The region of the verdict there; empty for none.");
  v("probability", r.probability, "Share of the drawn fillings in which it leads; null where none were drawn.");
}

void describe(auto& v, Is<Lead> auto& l) {
  v.about("lead", "Nominal arrival − measured arrival; positive: the front is early.");
  v("greatest_s", l.max_s);
  v("greatest_node", node(l.max_node));
  v("rms_s", l.rms_s);
  v("regions", l.regions);
}

void describe_ensemble(auto& v, Is<Ensemble> auto& e, auto& min_dry) {
  v("runs", e.runs);
  v("lead_counts_beyond_s", e.lead_s);
  v("probability_of_trapped_air", e.pocket);
  v("expected_dry_area_mm2", e.dry_area, "Sheet area in pockets, mean over the runs.");
  v("least_dry_spot_mm2", min_dry, "Pockets count as trapped air where together they leave more than this dry.");
  v("fill_time_95_percent_s", row(e.fill_time_low, e.fill_time_high));
  v("greatest_lead_95_percent_s", row(e.max_low, e.max_high));
}

// Advice.

void describe(auto& v, Is<ScheduleResult> auto& r) {
  v.about("schedule_result", "What a fill with a schedule came to.");
  v("fill_time_s", r.fill_time);
  v("peak_pressure_Pa_above_atmosphere", r.peak_pressure);
  v("least_force_margin_N", newton(r.min_margin), "Closing − opening.");
  v("least_safety", never(r.min_safety), "Closing / opening; null where nothing opens.");
  v("least_local_margin_Pa", never(r.min_local));
  v("dry_area_mm2", r.dry_area);
  v("pump_at_limit_from_share", r.limit_from, "Share of the resin after which the pump stands at its pressure limit.");
  v("rate_is_set", r.rate_set, "A rate is set, not only the pressure.");
  v("gelled", r.gelled, "Before all was full.");
}

void describe(auto& v, Is<ProcessChange> auto& c) {
  v.about("process_change", "One thing that could be changed, and how much of it would do.");
  const auto amount_unit = [&] { return c.kind == ProcessChange::Kind::clamping ? 1e6 : 1.0; };
  const auto second_unit = [&] { return c.kind >= ProcessChange::Kind::higher_limit ? 1e6 : 1.0; };
  v("kind", word(c.kind, ProcessChange::Kind::limit_alone));
  v.via(
      "amount", [&] { return c.amount / amount_unit(); }, [&](auto x) { c.amount = x * amount_unit(); },
      "Limit in Pa above atmosphere; rate in mm³/s; share filled; vacuum in Pa below atmosphere; force in N; viscosity "
      "in Pa·s.");
  v.via(
      "second", [&] { return c.second / second_unit(); }, [&](auto x) { c.second = x * second_unit(); },
      "Perimeter: width of the channel in mm; thinner resin: times the advised rates, up to (0: none is set); higher "
      "limit, limit alone: clamping force beyond what there is, in N.");
  v("at_mm", c.at);
  v("fill_time_s", c.fill_time, "0: it leaves the fill as it is.");
}

void describe(auto& v, Is<RateStep> auto& s) {
  v.about("rate_step");
  v("from_mm3", s.from);
  v("rate_mm3_s", s.rate);
}

void describe(auto& v, Is<OpeningHelp> auto& h) {
  v.about("opening_help", "Why the mold opens with the job's own settings, and what would hold it shut.");
  v("reason", word(h.reason, OpeningHelp::Reason::resin));
  v("safety_wanted", h.wanted, "Closing / opening.");
  v("safety_reached", h.factor, "By each of the changes: the safety wanted, or 1 where none reaches it.");
  v("changes", h.changes);
}

void describe(auto& v, Is<ProcessAdvice> auto& a) {
  v.about("advice",
          "A flow schedule that keeps the inlet under its limit and the mold shut, run and beside the job's own.");
  v("mode", word(a.mode, PumpMode::pressure),
    "none: no rate keeps the mold shut; rates: the schedule, then the pressure; pressure: that from the start.");
  v("schedule", a.steps, "Rates from the volume injected on; of the mode rates.");
  v("pressure_limit_Pa_above_atmosphere", a.pressure_limit,
    "What the pump is set to hold at the most; below the job's own limit.");
  v("own", a.own);
  v("advised", a.advised);
  v("bound_by_opening_margin", a.bound_by_opening);
  v("keeps_limits", a.keeps_limits, "False: the advice comes closer to a limit than the safety wanted.");
  v("gel_time_s", a.gel_time, "Of the job; 0: not known.");
  v("in_time", a.in_time, "The advised fill ends before the resin gels, or the gel time is not known.");
  v("to_be_in_time", a.to_be_in_time, "Where it does not: each would fill in time, by a fill.");
  v("opening", a.help);
}

// Breathing.

void describe(auto& v, Is<BreathingState> auto& s) {
  v.about("breathing_state", "Upper half against its shape as scanned, mm along the gap; negative: inwards.");
  v("least_mm", s.minimum);
  v("least_node", node(s.min_node));
  v("greatest_mm", s.maximum);
  v("greatest_node", node(s.max_node));
}

void describe(auto& v, Is<ShapeFill> auto& s) {
  v.about("shape_fill");
  v("fill_time_s", s.fill_time);
  v("dry_area_mm2", s.dry_area);
  v("earlier_s", s.earlier, "Greatest, of any node's arrival.");
  v("later_s", s.later, "Greatest, of any node's arrival.");
}

void describe(auto& v, Is<Breathing> auto& b) {
  v.about("breathing", "How a light upper half gives way, if its stiffness is declared.");
  v.when("computed", b.computed, [&](auto& g) {
    g("vacuum_on", b.dry);
    g("mean_of_the_fill", b.filling);
    g("at_the_least_margin", b.worst);
    g("converged", b.converged);
    g("change_per_round_mm", b.changes, "Greatest change of the gap in each round of the fixed point.");
    g.object("filled_in_one_shape",
             "The same fill with the half held in one shape, against the front that was computed.", [&](auto& one) {
               one("as_scanned", b.as_scanned);
               one("vacuum_on", b.at_dry);
               one("at_the_least_margin", b.at_worst);
             });
  });
}

// Residual air.

void describe(auto& v, Is<WormedRadius> auto& w) {
  v.about("wormed_radius", "Glass bridges it; resin runs ahead in the channel behind, and air stays there as worms.");
  v("name", w.name);
  v("channel_mm", w.length);
  v("roving_g", w.roving, "That fills the channel.");
}

void describe(auto& v, Is<ResidualAir> auto& a) {
  v.about("residual_air",
          "Bubbles that the front leaves, moved by the resin, and what stays dry: order of magnitude. Per node see "
          "residual_air_class, bubbles_in_bundles, bubbles_between_bundles.");
  v.when("computed", a.computed, [&](auto& g) {
    const auto by_class = [&](const char* key, auto& areas, const char* meaning) {
      g.object(key, meaning, [&](auto& one) {
        one("sound", areas[0], "Bubbles below 1 % of the volume.");
        one("in_bundles", areas[1], "Fine bubbles inside the bundles.");
        one("between_bundles", areas[2], "Bubbles between the bundles.");
        one("dry_below", areas[3], "Wet on top; below an open channel the glass is not soaked through.");
        one("dry", areas[4], "Resin never came.");
      });
    };
    by_class("area_mm2", a.area, "At the end of the fill.");
    by_class("area_held_mm2", a.held, "Had the pump's last pressure been held until the resin gels.");
    g("formed_in_bundles_mm3", a.formed_inside, "Gas that the front left, at atmospheric pressure.");
    g("formed_between_bundles_mm3", a.formed_between);
    g("bled_mm3", a.bled, "Of it, gone with resin through vents that bleed; nothing leaves by vacuum alone.");
    g("to_trapped_air_mm3", a.to_pockets);
    g("worst_node", node(a.worst));
    g("wormed_radii", a.wormed);
  });
}

void describe_front(auto& v, Is<Inspection> auto& r) {
  v("nominal", r.nominal_filling);
  v("measured", r.filling);
  v("after_corrections", r.filling_after);
  v("lead", r.lead);
  v.object("ensemble",
           "Fillings with gap and glass drawn at random within their uncertainty; per node see p_lead, p_dry, p_last.",
           [&](auto& g) { describe_ensemble(g, r.ensemble, r.job.ensemble.min_dry); });
  v("advice", r.advice);
  v.derived(
      "gap",
      [&] {
        return word(bool(r.breathing.computed), {"as scanned", "under vacuum and resin"});
      },
      "What the fronts, the lead, the ensemble, the advice and the effects of the corrections are computed with; the "
      "second where [[closing.half]] declares a light half. Verdict and laminate are of the gap as scanned.");
  v("breathing", r.breathing);
  v.maybe("residual_air", r.air.computed, r.air, "Absent where the job does not ask for it.");
  v("breathing_nominal", r.nominal_breathing, "Of a half made true: the nominal front runs with it.");
}

}  // namespace gapfront::report
