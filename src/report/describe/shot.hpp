// shot.json.
#pragma once
#include "gapfront/job.hpp"
#include "gapfront/shot.hpp"
#include "report/describe/head.hpp"

namespace gapfront::report {

inline constexpr int kShotVersion = 1;

void describe(auto& v, Is<ShotEstimate> auto& e) {
  v.about("estimate", "A value with its 95 % interval.");
  v("value", e.value);
  v("low", e.low);
  v("high", e.high);
}

void describe(auto& v, Is<ShotCandidate> auto& c) {
  v.about("candidate", "A possible cause, and how probable the log makes it.");
  v("cause", word(c.cause, ShotCause::inlet_blocked));
  v("subject", c.subject, "The vent's name; of race-tracking the part of the rim.");
  v("at_mm", c.at);
  v("probability", fine(share(c.probability)));
  v("amount", c.amount,
    "A factor on viscosity, permeability, glass or the conductance of the rim; mm of gap; share of the resin; Pa of "
    "cavity pressure; share of the set rate; of a blocked inlet the share of the cavity that was full. null: it has "
    "none.");
  v("p_value", fine(share(c.p_value)), "That chance alone makes the log differ so much from what this cause predicts.");
  v("what", c.what);
  v("check", c.check, "What to check; may be empty.");
}

void describe(auto& v, Is<ShotStretch> auto& s) {
  v.about("stretch", "Means over a twentieth of the injected volume.");
  v("time_s", s.time);
  v("volume_mm3", s.volume);
  v("rate_mm3_s", s.rate);
  v("pressure_Pa", s.measured, "At the inlet, above atmosphere.");
  v("predicted_Pa", s.predicted, "By the job as it is.");
  v("explained_Pa", s.explained, "With the likely cause.");
}

void describe(auto& v, Is<ShotVent> auto& s) {
  v.about("vent_seen", "When resin came to a vent. null: not within the log.");
  v("name", s.name);
  v("seen_s", never(s.seen));
  v("predicted_s", never(s.predicted));
  v("explained_s", never(s.explained), "With the likely cause.");
}

void describe(auto& v, Is<ShotStep> auto& s) {
  v.about("jump", "Of the pressure at the inlet, above atmosphere, which the rate does not go along with.");
  v("time_s", s.time);
  v("before_Pa", s.before);
  v("after_Pa", s.after);
}

/// What the file holds.
struct ShotFile {
  Job job;
  std::string version, job_sha256, lower_sha256, upper_sha256;
  ShotLog log;  ///< without its rows
  ShotFound found;
};
void describe(auto& v, Is<ShotFile> auto& d) {
  auto& f = d.found;
  v.about(nullptr,
          "A logged shot against the model. Lengths in mm, times in s, volumes in mm³, pressures in Pa. null is 'not "
          "computed' or 'never'.");
  v.constant("format", "gapfront shot");
  v.constant("format_version", kShotVersion);
  v("program_version", d.version);
  v.object("job", nullptr, [&](auto& g) { describe_head(g, d.job); });
  v("job_sha256", hash(d.job_sha256));
  v("lower_sha256", hash(d.lower_sha256));
  v("upper_sha256", hash(d.upper_sha256));
  v("log_file", d.log.file);
  v("log_sha256", hash(d.log.sha256));
  v("viscosity_Pa_s", d.log.viscosity, "Measured for this shot; 0: not.");
  v("verdict", word(f.verdict, ShotVerdict::unexplained));
  v("headline", f.headline);
  v("check", f.check);
  v("volume_mm3", f.volume, "Injected.");
  v("duration_s", f.duration);
  v("cavity_mm3", f.cavity, "What the cavity takes by the model.");
  v.maybe("judged_share", f.judged < 1, f.judged,
          "Of the cavity, what was full when the log ended; of the rest nothing is said. Absent: it was full.");
  v("resistance", f.resistance,
    "Viscosity over permeability, against the job's. Fitted with permeability, viscosity and leak, as if nothing else "
    "were the matter: of no meaning where another cause is the likely one.");
  v("normal_low", f.normal_low, "Nineteen of twenty normal shots of this tool resist between these.");
  v("normal_high", f.normal_high);
  v("earlier_shots", f.earlier, "That this rests on; below three: the spreads of the job.");
  v("resists_Pa_s_mm3", fine(f.resists), "Pressure per rate by which the half filled cavity resisted.");
  v("permeability", f.permeability, "Factor on the job's.");
  v("viscosity", f.viscosity, "Factor on the job's.");
  v("leak", f.leak, "Share of the injected resin.");
  v("causes", not_empty(f.causes), "The likeliest first.");
  v("vents", f.vents);
  v("course", f.course);
  v.maybe("jumps", !f.steps.empty(), f.steps, "A shot with one was not normal; absent: there are none.");
  v.maybe("reading_noise_Pa", !f.steps.empty(), f.pressure_noise, "One sigma; only beside jumps.");
  v("fillings_computed", f.fillings);
}

}  // namespace gapfront::report
