// Is the gap within tolerance, provably? (ISO 14253-1, JCGM 106)
#pragma once
#include <array>
#include <string>
#include <vector>
#include "gapfront/cavity.hpp"
#include "gapfront/geometry.hpp"

namespace gapfront {

enum class Conformity { conforming, undecided, nonconforming, not_measured };
/// Conforming: LSL + U ≤ y ≤ USL − U; nonconforming: outside by more than U; otherwise undecided.
Conformity decide(double y, double lsl, double usl, double U);
const char* to_string(Conformity);

struct ToleranceZone { std::string name; Region where; double nominal, minus, plus; };
struct ToleranceOptions {
  double nominal = 3, minus = 0.3, plus = 0.3;   ///< mm; limits are nominal − minus, nominal + plus
  std::vector<ToleranceZone> zones;              ///< later zones win
  double min_region_area = 100;                  ///< smaller regions are not listed, mm² (1 cm²)
  double allowed_nonconforming_share = 0;        ///< of the area, for the overall verdict
};

/// A connected part of the sheet that is provably outside, or undecided and adjoining.
struct DeviationRegion {
  std::string name;               ///< "R1", "R2"…, ranked by volume
  bool high = false;              ///< gap too wide
  Vec3 centre = Vec3::Zero();     ///< centroid weighted by |deviation|
  double area = 0, volume = 0, mean = 0, peak = 0;  ///< mm², mm³, mm, mm (signed deviation)
  double mean_U = 0;              ///< expanded uncertainty of the mean (correlated parts kept), mm
  std::vector<int> nodes;
  std::vector<Vec3> outline;      ///< closed, tool coordinates
};

struct Verdict {
  std::vector<double> nominal, deviation;      ///< per node, mm
  std::vector<Conformity> node;
  std::array<double, 4> share{};               ///< area share by Conformity
  Conformity overall = Conformity::undecided;
  std::string headline;                        ///< the verdict in one plain sentence
  std::string would_change;                    ///< what would decide an undecided area
  std::vector<DeviationRegion> regions;
  double mean = 0, sigma = 0, p05 = 0, p50 = 0, p95 = 0, least = 0, greatest = 0;  ///< area-weighted deviation, mm
  std::vector<std::pair<double, double>> histogram;  ///< (deviation bin centre mm, area share)
  double offset = 0; Vec3 tilt = Vec3::Zero();       ///< best-fit rigid motion (mm, rad) along gap directions about `pivot`
  Vec3 pivot = Vec3::Zero();
  double offset_U = 0; Vec3 tilt_U = Vec3::Zero();
  std::vector<double> remainder;               ///< deviation left after that motion, mm (only the surface can cure it)
  double remainder_rms = 0;
};
Verdict judge(const Sheet&, const GapMap&, const ToleranceOptions&);

/// Nominal thickness per node.
std::vector<double> nominal_gap(const Sheet&, const ToleranceOptions&);

}  // namespace gapfront
