#include "report/fields.hpp"

#include <algorithm>
#include <cmath>
#include <set>
#include <stdexcept>

#include "core/statistics.hpp"
#include "gapfront/text.hpp"
#include "report/field_access.hpp"
#include "units/digits.hpp"

namespace gapfront::report {
namespace {

using access::Access;
using access::kNone;
using D = Dimension;
using S = Scale;

/// Lengths across the cavity by the U of the gap, times by the fill time.
void set_decimals(std::vector<Field>& all, const Inspection& r) {
  const double U = median_U(all);
  for (Field& f : all) {
    if (f.dimension == Dimension::length && f.id != "lead_mm")
      f.decimals = decimals_for(U / per_shown_unit(f.dimension, r.job.units), shown_decimals(f.dimension, r.job.units));
    if (f.dimension == Dimension::time) f.decimals = second_decimals(r.nominal_filling.fill_time);
  }
}

struct Listed {
  Field field;  ///< without values
  Access access;
};

struct List {
  std::vector<Listed> all;

  void on_screen(const char* id, const char* title, const char* meaning, D d, S s, bool about_zero, Access access) {
    all.push_back({{id, Message(title), Message(meaning), d, s, about_zero, {}}, std::move(access)});
  }
  void data_only(const char* id, const char* title, const char* meaning, D d, S s, bool about_zero, Access access) {
    on_screen(id, title, meaning, d, s, about_zero, std::move(access));
    all.back().field.on_screen = false;
  }
};

/// As measured, and as judged.
void gap_fields(List& to) {
  to.on_screen("gap_mm", "gap.gap-2", "gap.cavity-thickness-diameter-ball", D::length, S::sequence, false,
               access::the_gap());
  to.data_only("gap_along_normal_mm", "gap.gap-along-lower-normal", "gap.length-from-lower-face", D::length,
               S::sequence, false, access::measured(&NodeGap::along_normal));
  to.on_screen("nominal_mm", "gap.nominal", "gap.laminate-thickness-gap-should", D::length, S::sequence, false,
               access::nominal());
  to.on_screen("deviation_mm", "gap.deviation", "gap.gap-minus-nominal-brown", D::length, S::diverging, true,
               access::where_measured([](auto& r) -> auto& { return r.verdict.deviation; }));
  to.on_screen("U_mm", "gap.expanded-uncertainty-u", "gap.gap-within-u-about", D::length, S::amount, false,
               access::measured(&NodeGap::U));
  to.on_screen("conformity", "gap.conformity", "gap.conforming-undecided-nonconforming-not", D::mass, S::amount, false,
               access::decisions([](auto& r) -> auto& { return r.verdict.node; }));
  to.on_screen("remainder_mm", "gap.remainder", "gap.deviation-left-when-best", D::length, S::diverging, true,
               access::where_measured([](auto& r) -> auto& { return r.verdict.remainder; }));
}

/// What the gap does to the glass.
void reinforcement_fields(List& to) {
  to.on_screen("fibre_volume_fraction", "gap.fibre-volume-fraction", "gap.share-cavity-glass", D::fraction, S::sequence,
               false, access::reinforcement(&NodeLaminate::vf));
  to.on_screen("weight_fraction", "gap.glass-weight", "gap.share-laminates-weight-glass", D::fraction, S::sequence,
               false, access::reinforcement(&NodeLaminate::weight_fraction));
  to.on_screen("channel_mm", "gap.open-channel", "gap.height-glass-does-not", D::length, S::amount, false,
               access::reinforcement(&NodeLaminate::channel));
  to.data_only("compaction_Pa", "clamping.push-glass-2", "clamping.pressure-squeezes-dry-glass", D::pressure, S::amount,
               false, access::reinforcement(&NodeLaminate::compaction));
  to.on_screen("load_share", "clamping.load-glass", "clamping.push-glass-share-clamping", D::fraction, S::amount, false,
               access::reinforcement(&NodeLaminate::load_fraction));
  to.data_only("glass_state", "clamping.state-glass", "clamping.order-under-filled-over", D::mass, S::amount, false,
               access::reinforcement_state());
}

/// What holds the mold shut, and how a light half gives way.
void opening_fields(List& to) {
  to.on_screen("opening_margin_Pa", "clamping.local-margin", "gap.local-margin-meaning", D::pressure, S::diverging,
               true, access::list([](auto& r) -> auto& { return r.filling.opening.minimum; }));
  to.data_only("breathing_vacuum_mm", "clamping.breathing-vacuum", "clamping.upper-half-against-shape-scanned",
               D::length, S::diverging, true, access::list([](auto& r) -> auto& { return r.breathing.dry.move; }));
  to.data_only("breathing_mm", "clamping.breathing-mean-fill", "clamping.upper-half-against-shape-scanned-2", D::length,
               S::diverging, true, access::list([](auto& r) -> auto& { return r.breathing.filling.move; }));
  to.data_only("breathing_worst_mm", "clamping.breathing-least-margin", "clamping.upper-half-against-shape-scanned-2",
               D::length, S::diverging, true, access::list([](auto& r) -> auto& { return r.breathing.worst.move; }));
  to.data_only("gap_filling_mm", "clamping.gap-under-vacuum-resin", "clamping.what-resin-meets-where", D::length,
               S::sequence, false, access::gap_under_resin());
}

/// How the resin runs.
void front_fields(List& to) {
  to.on_screen("arrival_nominal_s", "gap.arrival-nominal-gap", "gap.when-front-would-pass", D::time, S::sequence, false,
               access::passing([](auto& r) -> auto& { return r.nominal_filling; }));
  to.on_screen("arrival_s", "gap.arrival-measured-gap", "gap.when-front-passes-gap", D::time, S::sequence, false,
               access::passing([](auto& r) -> auto& { return r.filling; }));
  to.on_screen("lead_s", "gap.lead", "gap.nominal-arrival-minus-measured", D::time, S::diverging, true,
               access::list([](auto& r) -> auto& { return r.lead.seconds; }));
  to.data_only("lead_mm", "work.lead-length-front", "work.lead-times-speed-nominal", D::length, S::diverging, true,
               access::list([](auto& r) -> auto& { return r.lead.mm; }));
  const auto chance = [&](const char* id, const char* title, const char* meaning, Access access) {
    to.on_screen(id, title, meaning, D::fraction, S::amount, false, std::move(access));
  };
  chance("p_lead", "work.probability-lead", "work.share-drawn-fillings-which",
         access::list([](auto& r) -> auto& { return r.ensemble.leads; }));
  chance("p_dry", "work.probability-staying-dry", "work.share-drawn-fillings-which-resin",
         access::list([](auto& r) -> auto& { return r.ensemble.dry; }));
  chance("p_last", "work.probability-filling-last", "work.share-drawn-fillings-which-this",
         access::list([](auto& r) -> auto& { return r.ensemble.last; }));
  to.on_screen("peak_pressure_Pa", "gap.highest-resin-pressure", "gap.absolute-over-whole-fill", D::pressure, S::amount,
               false, access::list([](auto& r) -> auto& { return r.filling.peak_pressure; }));
}

/// What stays of air.
void air_fields(List& to) {
  const std::size_t first = to.all.size();
  to.data_only("residual_air_class", "air.title", "air.classes-0-to-4", D::mass, S::amount, false,
               access::classes(
                   [](auto& r) -> auto& { return r.air.node; }, AirClass::sound, AirClass::dry));
  to.on_screen("bubbles_in_bundles", "air.bubbles-in-bundles", "air.share-of-volume", D::fraction, S::amount, false,
               access::list([](auto& r) -> auto& { return r.air.inside; }));
  to.on_screen("bubbles_between_bundles", "air.bubbles-between-bundles", "air.share-of-volume", D::fraction, S::amount,
               false, access::list([](auto& r) -> auto& { return r.air.between; }));
  for (std::size_t k = first; k < to.all.size(); ++k) to.all[k].field.asked_for = true;
}

/// Re-computed, for the chosen corrections.
void after_fields(List& to) {
  to.on_screen("gap_after_mm", "gap.gap-after-corrections", "gap.re-computed-not-measured", D::length, S::sequence,
               false, access::where_measured([](auto& r) -> auto& { return r.plan.gap_after; }));
  to.on_screen("deviation_after_mm", "gap.deviation-after-corrections", "gap.re-computed-not-measured", D::length,
               S::diverging, true, access::list([](auto& r) -> auto& { return r.nodes_after.deviation; }));
  to.on_screen("conformity_after", "gap.conformity-after-corrections", "gap.re-computed-gap-same", D::mass, S::amount,
               false, access::decisions([](auto& r) -> auto& { return r.nodes_after.conformity; }));
  to.on_screen("arrival_after_s", "gap.arrival-after-corrections", "gap.re-computed-not-measured", D::time, S::sequence,
               false, access::passing([](auto& r) -> auto& { return r.filling_after; }));
  to.on_screen("lead_after_s", "gap.lead-after-corrections", "gap.re-computed-not-measured", D::time, S::diverging,
               true, access::list([](auto& r) -> auto& { return r.nodes_after.lead; }));
}

/// What is judged by, and what the uncertainty is made of.
void limit_fields(List& to) {
  to.data_only("limit_low_mm", "gap.lower-limit", "gap.least-gap-allowed", D::length, S::sequence, false,
               access::limit(&NodeLimits::low));
  to.data_only("limit_high_mm", "gap.upper-limit", "gap.greatest-gap-allowed", D::length, S::sequence, false,
               access::limit(&NodeLimits::high));
  const auto part = [&](const char* id, const char* title, double NodeGap::*u) {
    to.data_only(id, title, "gap.standard-uncertainty-gap-this", D::length, S::amount, false, access::measured(u));
  };
  part("u_lower_mm", "gap.u-fit-lower-scan", &NodeGap::u_lower);
  part("u_upper_mm", "gap.u-fit-upper-scan", &NodeGap::u_upper);
  part("u_instrument_mm", "gap.u-instrument", &NodeGap::u_instrument);
  part("u_registration_mm", "gap.u-registration", &NodeGap::u_registration);
  part("u_temperature_mm", "gap.u-temperature", &NodeGap::u_temperature);
  to.data_only("fit_area_mm2", "outcome.area-fit", "outcome.face-fits-noise-averaged", D::area, S::amount, false,
               access::measured(&NodeGap::fit_area));
}

/// Every field, in the order in which they are written.
std::vector<Listed> listed() {
  List to;
  gap_fields(to), reinforcement_fields(to), opening_fields(to), front_fields(to), air_fields(to), after_fields(to),
      limit_fields(to);
  return std::move(to.all);
}

bool any_known(const std::vector<double>& values) {
  return std::any_of(values.begin(), values.end(), [](double v) { return std::isfinite(v); });
}

/// In doubt only what was measured is there: the gap as registered, and what its uncertainty is made of.
bool withheld(const Inspection& r, const std::string& id) {
  static const std::set<std::string> kept{"gap_mm",     "gap_along_normal_mm", "nominal_mm",        "deviation_mm",
                                          "U_mm",       "limit_low_mm",        "limit_high_mm",     "u_lower_mm",
                                          "u_upper_mm", "u_instrument_mm",     "u_registration_mm", "u_temperature_mm"};
  return r.doubt && kept.count(id) == 0;
}

}  // namespace

std::vector<Field> fields(const Inspection& r) {
  std::vector<Field> all;
  for (Listed& known : listed()) {
    Field& f = all.emplace_back(std::move(known.field));
    if (!withheld(r, f.id)) f.values = known.access.get(r);
    if (f.values.size() != r.sheet.size()) f.values.assign(r.sheet.size(), kNone);
    for (double& v : f.values)
      if (!std::isfinite(v)) v = kNone;
  }
  set_decimals(all, r);
  return all;
}

bool in_files(const Field& f) { return !f.asked_for || any_known(f.values); }

bool put_fields(const std::vector<Field>& all, Inspection& r) {
  bool any = false;
  for (const Listed& known : listed()) {
    const auto& values = find_field(all, known.field.id).values;
    if (!any_known(values)) continue;
    known.access.set(r, values);
    any = true;
  }
  return any;
}

const Field& find_field(const std::vector<Field>& all, const std::string& id) {
  for (const auto& f : all)
    if (f.id == id) return f;
  throw std::logic_error("no field " + id);
}

double median_U(const std::vector<Field>& all) {
  std::vector<double> known;
  for (const double u : find_field(all, "U_mm").values)
    if (std::isfinite(u)) known.push_back(u);
  return known.empty() ? kNone : median(std::move(known));
}

std::string field_list() {
  Inspection none_yet;  // of no node: only the names and meanings are wanted
  std::string out;
  for (const auto& f : fields(none_yet)) out += f.id + "\t" + say(f.title) + ": " + say(f.meaning) + "\n";
  return out;
}

}  // namespace gapfront::report
