// result.json: job, scans, registration, verdict.
#pragma once
#include "gapfront/inspection.hpp"
#include "report/describe/head.hpp"

namespace gapfront::report {

void describe(auto& v, Is<Inlet> auto& i) {
  v.about("inlet");
  v("name", i.name);
  v("path_mm", i.path);
  v("radius_mm", i.radius, "Half the width of its mouth.");
  v("perimeter", i.perimeter, "Resin enters along the whole rim of the sheet.");
}

void describe(auto& v, Is<Station> auto& s) {
  v.about("station");
  v("name", s.name);
  v("at_mm", s.at);
  v("present_mm", known(s.present, 0));
}

void describe(auto& v, Is<Unconfirmed> auto& u) {
  v.about("unconfirmed");
  v("key", u.key, "Section and key, e.g. cavity.nominal.");
  v("value", u.value, "As it stands in the job; empty for a section or a list.");
}

void describe_job(auto& v, Is<Inspection> auto& r) {
  auto& job = r.job;
  v("name", job.name);
  v("tool", job.tool);
  v("date", job.date, "As written in the job; empty when it is not given.");
  v("cycles", exact(known(job.cycles, 0)), "Parts made so far.");
  v("note", job.note);
  v.maybe("photo", !r.photo.empty(), r.photo, "Of the tool, as a data URI of a JPEG or PNG picture. Absent: none.");
  v.check(
      "photo", [&] { return r.photo.empty() || job::is_photo(r.photo); }, "is no JPEG or PNG picture");
  v("data_is_invented", job.invented, "Demo data: no real tool, no real part.");
  v("report_units", word(job.units, unit_words));
  v("report_language", one_of(job.language, Json(languages)));
  describe_file(v, "file", job.file);
  v("sha256", hash(r.job_sha256));
  v("nominal_mm", positive(job.tolerance.nominal));
  v("minus_mm", known(job.tolerance.minus, 0), "The lower limit is nominal − minus.");
  v("plus_mm", known(job.tolerance.plus, 0), "The upper limit is nominal + plus.");
  v("edge_mm", known(job.sheet.edge), "Edge length asked of the sheet's triangles.");
  v("coverage_factor", known(r.gap.coverage), "U = this times the standard uncertainty u.");
  v("unconfirmed", job.unconfirmed, "Entries of the job that were guessed and that nobody has confirmed.");
  v("pressure_limit_Pa", known(job.flow.pressure_limit, -atmosphere_pa), "At the inlet, above atmosphere.");
  v("inlets", job.flow.inlets);
  v("vents", job.flow.vents);
  v("stations", job.correct.stations, "Places on the flange where shims are set.");
  v("text", job.text, "The job file as it was read.");
}

inline const std::vector<std::string> patch_places{"as exported", "given pose, refined", "common balls", "given pose"};

void describe(auto& v, Is<PatchFit> auto& f) {
  v.about("patch");
  v("file", f.path);
  v("started_from", word(f.place, patch_places),
    "given pose: taken as it is, with the uncertainty that the job states.");
  v("overlap_share", known(f.overlap, 0), "Of its places that lie on the scans before it.");
  v("rms_mm", known(f.rms, 0), "Of the distances there.");
  v("u_mm", known(f.u, 0), "Of its face's place along the normal, where it is greatest; chains add up.");
}

void describe_scan(auto& v, auto& half, auto& patches, auto& format, auto& sha256, Is<CleanReport> auto& c) {
  v.about("scan");
  describe_file(v, "file", half.file);
  v("format", format);
  v("sha256", hash(sha256));
  v("further_scans", patches, "Of the same half, joined to the first.");
  v("points_read", c.read);
  v("nonfinite", c.nonfinite);
  v("duplicates", c.duplicates);
  v("clutter", c.clutter);
  v("outliers", c.outliers);
  v("points_kept", c.kept);
  v("spacing", length(c.spacing));
  v("noise", length(c.noise), "Standard deviation, estimated from the scan.");
}

void describe(auto& v, Is<ExtraInput> auto& e) {
  v.about("extra_input");
  v("use", e.use);
  v("file", e.file);
  v("sha256", hash(e.sha256));
}

inline const std::vector<std::string> halves_of_a_mold{"lower", "upper"};

void describe(auto& v, Is<BallSize> auto& b) {
  v.about("ball_size", "A ball whose measured diameter is another than the job's.");
  v("target", b.name);
  v("half", word(b.upper, halves_of_a_mold), "Whose scan shows it.");
  v("declared_mm", length(b.declared), "Diameter.");
  v("measured_mm", length(b.measured));
  v("measured_u_mm", length(b.u), "Standard uncertainty, by the scatter of the points.");
  v("place_mm", b.place, "Tool frame.");
}

void describe(auto& v, Is<Doubt> auto& d) {
  v.about("doubt");
  v("reason", word(d.reason, Doubt::Reason::registration));
  v("subject", d.subject, "The target or method it is about; may be empty.");
  v("amount_mm", d.amount);
  v("crossing_area_mm2", d.area, "Over which the halves provably run through each other.");
  v("at_mm", d.at);
  v("message", d.text, "What is wrong, and what to check first.");
  v.maybe("balls", !d.balls.empty(), d.balls, "Absent where the doubt is not about diameters of balls.");
}

inline const std::vector<std::string> seal_sources{"given", "proposed", "none"};
inline const std::vector<std::string> seal_ways{"land", "rim", "no flange", "no edge", "open", "tilted"};

void describe_seal(auto& v, Is<SealOrigin> auto& s, auto& line) {
  const bool asked = s.source == SealOrigin::Source::none || s.confidence > 0;  // of the geometry, by this inspection
  v("source", word(s.source, seal_sources),
    "none: the whole lower face was judged, flange included. proposed: by this inspection, or in the job and not "
    "confirmed.");
  v("found", only_if(asked, word(s.found, seal_ways)),
    "How this inspection found it, or why it found none: where the gap leaves the land; where the lower face leaves "
    "the "
    "flange; no flange plane; nothing tells land from cavity; too little scanned land beside it; Z of the tool frame "
    "does not leave the flange. null: it did not look.");
  v("share_with_land_beside", known(s.confidence), "Of a line that this inspection proposed; else 0.");
  v("known_to_mm", known(s.u), "How well such a line is known, own estimate; else 0.");
  v("line_mm", line);
}

// Registration.

void describe(auto& v, Is<TargetResidual> auto& t) {
  v.about("target");
  v("target", t.name);
  v("place_mm", t.place);
  v("residual_mm", t.residual);
  v("lower_form_mm", t.lower_form, "Scatter of the points about the fitted ball.");
  v("upper_form_mm", t.upper_form);
  v("lower_points", t.lower_points);
  v("upper_points", t.upper_points);
  v("leave_one_out_mm", t.leave_one_out, "Miss when this target is predicted from the others.");
}

void describe(auto& v, Is<MethodPart> auto& m) {
  v.about("method");
  v("method", m.name);
  v("chi_square", m.chi2);
  v("would_move_mm", m.moved);
}

void describe(auto& v, Is<TargetTest> auto& t) {
  v.about("target_test");
  v("chi_square", t.chi2);
  v("freedom", t.dof);
  v("p", rounded(1e9, t.p), "Chance of so large a chi-square if all agree.");
}

void describe(auto& v, Is<FlangeContact> auto& f) {
  v.about("flange");
  v("places", f.places);
  v("carrying", f.carrying);
  v("one_sided", f.one_sided);
  v("place_size_mm", f.cell);
  v("mean_open_mm", f.mean_open, "Beyond the stand-off.");
  v("most_open_mm", f.max_open);
  v("most_open_at_mm", f.max_open_at);
  v("deepest_mm", f.deepest, "By which the lands enter each other beyond all doubt; 0: they do not.");
  v("deepest_at_mm", f.deepest_at);
  v("rock_mm", f.rock, "Play of a half that rocks; 0: it does not.");
  v("rock_at_mm", f.rock_at);
}

void describe(auto& v, Is<NominalFit> auto& n) {
  v.about("nominal_fit");
  v("half", one_of(n.half, {"lower", "upper", ""}));
  v("rms_mm", n.rms);
  v("overlap", n.overlap, "Share of the datum faces that the scan meets.");
  v("score", n.score);
  v("second_score", n.second_score, "Of the next pose that is another one.");
}

/// `worst()`: greatest standard uncertainty in the cavity.
void describe_registration(auto& v, Is<Alignment> auto& a, auto worst) {
  v("method", a.method);
  v("lower_to_tool", exact(a.lower_to_tool.motion.matrix()));
  v("upper_to_tool", exact(a.upper_to_tool.motion.matrix()), "Into the closed position.");
  v("pivot_mm", a.pivot);
  v("covariance", exact(a.covariance),  // far below 1e-6: not rounded
    "Of the upper half's small motion (translation in mm, then rotation in rad) about the pivot.");
  v("fit_rms", length(a.fit_rms));
  v.derived(
      "worst_predicted_u_in_cavity", [&] { return length(worst()); }, "One standard uncertainty.");
  v("apparent_scale_ppm", a.scale_ppm, "Upper against lower half; not applied.");
  v("apparent_scale_ppm_u", a.scale_ppm_u);
  v.object("shared_noise", "Errors that neighbouring points of the scans share, as the balls show them; 0: none.",
           [&](auto& g) {
             g("sigma", length(a.shared_noise.sigma), "Standard deviation.");
             g("length", length(a.shared_noise.length), "L of their correlation exp(-d^2 / (2 L^2)).");
           });
  v("targets", a.residuals);
  v.object("details", nullptr, [&](auto& g) {
    g("methods", a.methods, "With several methods: what each said alone.");
    g("chi_square", a.chi2);
    g("freedom", a.dof);
    g("targets_lower_upper", a.closure, "Do the targets of both halves agree? Freedom 0: nothing to compare.");
    g("targets_lower_tool", a.lower_tool, "Do the lower half's targets agree with their tool places?");
    g("targets_left_out", a.left_out, "So far off that the closed position was found without them.");
    g("flange", a.flange, "How the mating lands lie; null without method 'flange'.");
    g("nominal", a.nominal, "The fits on nominal surfaces.");
  });
  v("warnings", a.warnings);
}

void describe(auto& v, Is<SpotComparison> auto& s) {
  v.about("spot_reading");
  v("name", s.name);
  v("found", s.found, "Whether it lies on the measured sheet.");
  v("map_mm", s.map);
  v("map_U_mm", s.map_U);
  v("reading_mm", s.reading);
  v("reading_U_mm", s.reading_U);
  v("En", s.En, "They agree when it is at most 1 (ISO 13528).");
}

void describe(auto& v, Is<SpotShift> auto& s) {
  v.about("spot_shift", "What map and readings have in common.");
  v("readings", s.readings);
  v("parameters", one_of(s.parameters, {0, 1, 3}), "0: too few readings; 1: offset; 3: offset and two tilts.");
  v("offset", length(s.offset), "Map − readings.");
  v("offset_U", length(s.offset_U));
  v("tilt_rad", exact(s.tilt));
  v("pivot_mm", s.pivot);
  v("p", rounded(1e9, s.p), "Probability of such a shift by chance.");
  v("p_tilt", rounded(1e9, s.p_tilt));
  v("p_beyond_common_parts_of_U", rounded(1e9, s.p_beyond));
  v("removed_from_the_gap", s.removed);
}

// Verdict.

void describe_shares(auto& v, auto& fraction) {
  v.about("shares");
  v("conforming", share(fraction[0]));
  v("undecided", share(fraction[1]));
  v("nonconforming", share(fraction[2]));
  v("not_measured", share(fraction[3]));
}

void describe(auto& v, Is<MeanBudget> auto& b) {
  v.about("mean_uncertainty", "Of the mean over the area, by cause.");
  v("u_lower_mm", b.lower);
  v("u_upper_mm", b.upper);
  v("u_instrument_mm", b.instrument);
  v("u_registration_mm", b.registration);
  v("u_temperature_mm", b.temperature);
  v("U", length(b.U));
}

void describe(auto& v, Is<ZoneVerdict> auto& z) {
  v.about("zone_verdict");
  v("name", z.name, "Empty: what no zone covers.");
  v("overall", word(z.overall, Conformity::not_judged));
  v("area_mm2", z.area);
  v.object("share_of_area", nullptr, [&](auto& g) { describe_shares(g, z.fraction); });
  v("mean", length(z.mean), "Deviation.");
  v("mean_uncertainty", z.budget);
  v("would_change", z.would_change);
}

void describe(auto& v, Is<UnseenPlace> auto& p) {
  v.about("unseen_place");
  v("at_mm", p.centre);
  v("area_mm2", p.area);
  v("missing", word(p.missing, Missing::neither),
    "Whose scan does not cover the place; 'neither': both do, but no gap was found.");
  v.maybe("reach_mm", p.reach > 0, p.reach, "From there to its farthest node.");
  v.maybe("nodes", !p.nodes.empty(), corners(p.nodes), "Whose cells it takes part of.");
}

void describe(auto& v, Is<DeviationRegion> auto& r) {
  v.about("region");
  v("name", r.name);
  v("gap_is", word(r.high, {"tight", "wide"}));
  v("centre_mm", r.centre);
  v("area_mm2", r.area);
  v("volume_mm3", r.volume);
  v("mean", length(r.mean));
  v("mean_U", length(r.mean_U));
  v("peak", length(r.peak));
  v("outline_mm", r.outline);
}

void describe(auto& v, Is<DecidingPlace> auto& p) {
  v.about("deciding_place");
  v("found", p.found, "false: nothing is measured, or nothing is judged.");
  v("at_mm", p.at);
  v("nominal_mm", p.nominal);
  v("limit_mm", p.limit);
  v("mean_gap_mm", p.mean, "Over the disc about the place.");
  v("U_mm", p.U, "Of that mean.");
  v("decision", word(p.decision, Conformity::not_judged), "Of that mean, by this limit alone.");
}

void describe_rule(auto& v, Is<Verdict> auto& d) {
  v("across_mm", d.rule.across, "Diameter of the disc about a place that its gap is averaged over.");
  v("inside_factor", d.rule.inside, "Standard uncertainties of that mean by which it must be inside to be proven so.");
  v("outside_factor", d.rule.outside, "The same for outside: over the whole sheet, at the stated risk.");
  v("outside_factor_of_nodes", d.rule.outside_node,
    "The same for the nodes of a strip narrower than the disc and as long as it is across.");
  v("consumer_risk", d.consumer_risk,
    "Chance at most that a measurement of a tool that is outside somewhere comes out like this one or better.");
  v("producer_risk", d.producer_risk,
    "Chance at most that a measurement of a tool that is within everywhere comes out like this one or worse.");
  v("at_lower_limit", d.at_low, "The place nearest to its lower limit, in uncertainties, or farthest below.");
  v("at_upper_limit", d.at_high, "The same for the upper limit.");
  v.object("small_outside", "Provably outside, and smaller than the disc: listed, and does not decide.", [&](auto& g) {
    g("area_mm2", d.small_outside.area);
    g("deviation", length(d.small_outside.deviation), "Where it is farthest beyond its limit.");
    g("at_mm", d.small_outside.at);
  });
}

void describe_verdict(auto& v, Is<Verdict> auto& d) {
  v("overall", word(d.overall, Conformity::not_judged));
  v("headline", d.headline);
  v("would_change", d.would_change, "What would decide an undecided area; may be empty.");
  v.object("share_of_area", "By the decision at each place.", [&](auto& g) { describe_shares(g, d.fraction); });
  v.object("rule", "How a place is judged, and how sure the verdict is.", [&](auto& g) { describe_rule(g, d); });
  v("coverage_suffices", d.covered,
    "What is not measured is too little to decide: see cavity.least_area and cavity.unmeasured_share of the job.");
  v("not_measured", d.unseen, "Connected places that are not measured, the largest first.");
  v.object("deviation_mm", "Gap − nominal, weighted by area.", [&](auto& g) {
    g("mean", d.mean);
    g("sigma", d.sigma);
    g("least", d.minimum);
    g("p05", d.p05);
    g("p50", d.p50);
    g("p95", d.p95);
    g("greatest", d.maximum);
  });
  v("mean_uncertainty", d.mean_budget);
  v("zones", d.zones, "The verdict of each tolerance zone, and of the rest.");
  v.object("rigid_part",
           "The part of the deviation that a rigid move of the upper half makes: offset along the axis and two tilts "
           "about the pivot.",
           [&](auto& g) {
             g("offset", length(d.offset));
             g("offset_U", length(d.offset_U));
             g("tilt_rad", d.tilt);
             g("tilt_U_rad", d.tilt_U);
             g("pivot_mm", d.pivot);
             g("axis", d.axis, "Unit vector.");
             g("rms", length(d.rigid_rms), "Of its effect over the sheet.");
             g("rms_U", length(d.rigid_rms_U));
             g("significant", d.rigid_significant, "Whether the effect exceeds its U.");
             g("remainder_rms", length(d.remainder_rms));
           });
  v("regions", d.regions, "Connected parts that deviate provably, largest volume first.");
  v("histogram", each(d.histogram, [](auto& bar) { return row(known(bar.first), share(bar.second)); }),
    "Pairs: middle of the bin (deviation, mm), share of the area.");
}

}  // namespace gapfront::report
