#include "report/fields.hpp"

#include <cmath>
#include <cstdio>
#include <limits>
#include <stdexcept>

namespace gapfront::report {
namespace {

constexpr double none = std::numeric_limits<double>::quiet_NaN();

struct Shown {
  double per;  ///< internal units per shown unit
  int decimals;
  const char* unit;
};

Shown shown_as(Dimension d, UnitSystem s) {
  const bool inch = s == UnitSystem::inch;
  switch (d) {
    case Dimension::length:
      return inch ? Shown{25.4, 4, "in"} : Shown{1, 3, "mm"};
    case Dimension::area:
      return inch ? Shown{645.16, 2, "in²"} : Shown{100, 1, "cm²"};
    case Dimension::volume:
      return inch ? Shown{16387.064, 3, "in³"} : Shown{1000, 2, "cm³"};
    case Dimension::pressure:
      return inch ? Shown{6894.757, 2, "psi"} : Shown{1e5, 3, "bar"};
    case Dimension::flow_rate:
      return Shown{1e6 / 60, 2, "L/min"};
    case Dimension::time:
      return Shown{1, 1, "s"};
    case Dimension::fraction:
      return Shown{0.01, 1, "%"};
    default:
      return Shown{1, 3, ""};
  }
}

}  // namespace

std::vector<Field> fields(const Inspection& r) {
  const std::size_t n = r.sheet.size();
  std::vector<Field> all;
  auto add = [&](const char* id, const char* title, const char* meaning, Dimension d, Scale s, bool zero, auto value) {
    Field f{id, title, meaning, d, s, zero, std::vector<double>(n, none)};
    for (std::size_t i = 0; i < n; ++i) {
      const double v = value(i);
      if (std::isfinite(v)) f.values[i] = v;
    }
    all.push_back(std::move(f));
  };
  const auto& gap = r.gap.nodes;
  auto measured = [&](std::size_t i, double v) { return gap[i].measured ? v : none; };
  auto after = [&](std::size_t i) { return r.plan.gap_after.size() == n ? measured(i, r.plan.gap_after[i]) : none; };
  using D = Dimension;
  using S = Scale;
  add("gap_mm", "Gap", "Cavity thickness: diameter of the ball that touches both halves.", D::length, S::viridis, false,
      [&](auto i) { return measured(i, gap[i].gap); });
  add("gap_along_normal_mm", "Gap along the lower normal", "Length from the lower face to the upper along its normal.",
      D::length, S::viridis, false, [&](auto i) { return measured(i, gap[i].along_normal); });
  add("nominal_mm", "Nominal", "Laminate thickness the gap should have.", D::length, S::viridis, false,
      [&](auto i) { return r.verdict.nominal[i]; });
  add("deviation_mm", "Deviation", "Gap minus nominal: orange is too wide, blue too tight.", D::length, S::diverging,
      true, [&](auto i) { return measured(i, r.verdict.deviation[i]); });
  add("U_mm", "Expanded uncertainty U", "The gap is within ± U with about 95 % confidence.", D::length, S::cividis,
      false, [&](auto i) { return measured(i, gap[i].U); });
  add("conformity", "Conformity", "0 conforming, 1 undecided, 2 nonconforming, 3 not measured.", D::mass, S::cividis,
      false, [&](auto i) { return static_cast<double>(r.verdict.node[i]); });
  add("remainder_mm", "Remainder", "Deviation left when the best rigid move of the upper half is taken out.", D::length,
      S::diverging, true,
      [&](auto i) { return r.verdict.remainder.size() == n ? measured(i, r.verdict.remainder[i]) : none; });
  add("fibre_volume_fraction", "Fibre volume fraction", "Share of the cavity that is glass.", D::fraction, S::viridis,
      false, [&](auto i) { return r.laminate.nodes[i].vf; });
  add("weight_fraction", "Glass by weight", "Share of the laminate's weight that is glass.", D::fraction, S::viridis,
      false, [&](auto i) { return r.laminate.nodes[i].weight_fraction; });
  add("channel_mm", "Open channel", "Height that the glass does not fill: resin runs here.", D::length, S::cividis,
      false, [&](auto i) { return r.laminate.nodes[i].channel; });
  add("arrival_nominal_s", "Arrival, nominal gap", "When the front would pass if the gap were right.", D::time,
      S::viridis, false, [&](auto i) { return r.nominal_filling.arrival[i]; });
  add("arrival_s", "Arrival, measured gap", "When the front passes with the gap as measured.", D::time, S::viridis,
      false, [&](auto i) { return r.filling.arrival[i]; });
  add("lead_s", "Lead", "Nominal arrival minus measured arrival: orange is early.", D::time, S::diverging, true,
      [&](auto i) { return r.lead.seconds.size() == n ? r.lead.seconds[i] : none; });
  add("peak_pressure_Pa", "Highest resin pressure", "Absolute, over the whole fill.", D::pressure, S::cividis, false,
      [&](auto i) { return r.filling.peak_pressure.size() == n ? r.filling.peak_pressure[i] : none; });
  add("gap_after_mm", "Gap after the corrections", "Re-computed, not measured.", D::length, S::viridis, false, after);
  add("deviation_after_mm", "Deviation after the corrections", "Re-computed, not measured.", D::length, S::diverging,
      true, [&](auto i) { return after(i) - r.verdict.nominal[i]; });
  return all;
}

const Field& find_field(const std::vector<Field>& all, const std::string& id) {
  for (const auto& f : all)
    if (f.id == id) return f;
  throw std::logic_error("no field " + id);
}

std::string shown(double value, Dimension d, UnitSystem s) {
  if (!std::isfinite(value)) return "–";
  const Shown a = shown_as(d, s);
  char text[40];
  std::snprintf(text, sizeof text, "%.*f", a.decimals, value / a.per);
  std::string out = text;
  if (out[0] == '-') {
    if (out.find_first_not_of("-0.") == std::string::npos) return out.substr(1);  // no negative zero
    out = "−" + out.substr(1);
  }
  return out;
}

std::string shown_unit(Dimension d, UnitSystem s) { return shown_as(d, s).unit; }

}  // namespace gapfront::report
