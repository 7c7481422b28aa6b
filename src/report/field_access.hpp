// Where the values of each field stand in an inspection: a getter and a setter of one thing, side by side.
#pragma once
#include <algorithm>
#include <cmath>
#include <functional>
#include <limits>
#include <utility>
#include <vector>

#include "gapfront/inspection.hpp"

namespace gapfront::report::access {

inline constexpr double kNone = std::numeric_limits<double>::quiet_NaN();

/// Taken from there, and put back there when a file was read.
struct Access {
  std::function<std::vector<double>(const Inspection&)> get;              ///< per node; NaN or infinite: none
  std::function<void(Inspection&, const std::vector<double>&)> set = {};  ///< of values that are NaN where none is
};

/// One list of numbers, which `of` finds in an inspection. `otherwise`: what stands in it where the field has none.
template <class Of>
Access list(Of of, double otherwise = kNone) {
  return {[of](const Inspection& r) { return of(r); },
          [of, otherwise](Inspection& r, std::vector<double> v) {
            for (double& x : v)
              if (!std::isfinite(x)) x = otherwise;
            of(r) = std::move(v);
          }};
}

/// A member of each item of a list; `blank`: an item of which nothing is known yet.
template <class Of, class Item>
Access member(Of of, double Item::*m, const Item& blank = {}) {
  return {[of, m](const Inspection& r) {
            std::vector<double> out;
            for (const Item& item : of(r)) out.push_back(item.*m);
            return out;
          },
          [of, m, blank](Inspection& r, const std::vector<double>& v) {
            of(r).resize(v.size(), blank);
            for (std::size_t i = 0; i < v.size(); ++i)
              if (std::isfinite(v[i])) of(r)[i].*m = v[i];
          }};
}
inline Access limit(double NodeLimits::*m) {
  return member([](auto& r) -> auto& { return r.verdict.limits; }, m, {kNone, kNone, kNone});
}
inline Access reinforcement(double NodeLaminate::*m) {
  return member(
      [](auto& r) -> auto& { return r.laminate.nodes; }, m);
}

/// Of the gap: only where it is measured.
inline Access measured(double NodeGap::*m) {
  Access out = member(
      [](auto& r) -> auto& { return r.gap.nodes; }, m);
  out.get = [m](const Inspection& r) {
    std::vector<double> values;
    for (const NodeGap& n : r.gap.nodes) values.push_back(n.measured ? n.*m : kNone);
    return values;
  };
  return out;
}
inline Access the_gap() {
  Access out = measured(&NodeGap::gap);
  out.set = [set = out.set](Inspection& r, const std::vector<double>& v) {
    set(r, v);
    for (std::size_t i = 0; i < v.size(); ++i) r.gap.nodes[i].measured = std::isfinite(v[i]);
  };
  return out;
}

/// Words of an enumeration from 0 to `last`. `otherwise`: what stands in the list where the field has none.
template <class Of, class Word>
Access classes(Of of, Word otherwise, Word last) {
  return {[of](const Inspection& r) {
            std::vector<double> out;
            for (const Word c : of(r)) out.push_back(static_cast<double>(c));
            return out;
          },
          [of, otherwise, last](Inspection& r, const std::vector<double>& v) {
            of(r).assign(v.size(), otherwise);
            for (std::size_t i = 0; i < v.size(); ++i)
              if (v[i] >= 0 && v[i] <= static_cast<int>(last)) of(r)[i] = static_cast<Word>(static_cast<int>(v[i]));
          }};
}
template <class Of>
Access decisions(Of of) {
  return classes(of, Conformity::not_measured, Conformity::not_measured);
}

template <class Of>
Access passing(Of filling) {
  Access out = list(
      [filling](auto& r) -> auto& { return filling(r).arrival; }, std::numeric_limits<double>::infinity());
  out.get = [filling](const Inspection& r) {
    std::vector<double> times;
    for (std::size_t i = 0; i < filling(r).arrival.size(); ++i) times.push_back(flow::passing_time(filling(r), i));
    return times;
  };
  return out;
}

inline Access nominal() {
  return {[](const Inspection& r) { return r.verdict.nominal; },
          [](Inspection& r, const std::vector<double>& v) {
            r.verdict.nominal = v;
            limit(&NodeLimits::nominal).set(r, v);
          }};
}

/// The remainder and the gap after the corrections are computed where nothing is measured as well; that is not told.
template <class Of>
Access where_measured(Of of) {
  Access out = list(of);
  out.get = [of](const Inspection& r) {
    std::vector<double> v = of(r);
    for (std::size_t i = 0; i < std::min(v.size(), r.gap.nodes.size()); ++i)
      if (!r.gap.nodes[i].measured) v[i] = kNone;
    return v;
  };
  return out;
}

inline Access reinforcement_state() {
  return {[](const Inspection& r) {
            std::vector<double> out;
            for (const NodeLaminate& g : r.laminate.nodes)
              out.push_back(g.over_packed ? 2 : g.under_filled ? 1 : g.weight_out ? 3 : 0);
            return out;
          },
          [](Inspection& r, const std::vector<double>& v) {
            r.laminate.nodes.resize(v.size());
            for (std::size_t i = 0; i < v.size(); ++i) {
              NodeLaminate& g = r.laminate.nodes[i];
              g.under_filled = v[i] == 1, g.over_packed = v[i] == 2, g.weight_out = v[i] == 3;
            }
          }};
}

/// What the resin meets; its difference from the gap as scanned is a field of its own, and stands before it.
inline Access gap_under_resin() {
  return {[](const Inspection& r) {
            std::vector<double> out;
            if (r.flow_gap.size() == r.breathing.filling.move.size())
              out = flow::under_filling(r.flow_gap, r.breathing);
            return out;
          },
          [](Inspection& r, const std::vector<double>& v) {
            r.flow_gap = v;
            for (std::size_t i = 0; i < std::min(v.size(), r.breathing.filling.move.size()); ++i)
              r.flow_gap[i] -= r.breathing.filling.move[i];
          }};
}

}  // namespace gapfront::report::access
