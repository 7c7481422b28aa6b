// The scales against what they claim. Lightness by CIELAB (ISO/CIE 11664-4) computed backwards from the 8-bit colour;
// one just-noticeable difference is 2.3 in CIELAB (Mahy, Van Eycken & Oosterlinck 1994, from memory).
#include "report/colour.hpp"

#include <Eigen/LU>
#include <catch2/catch.hpp>
#include <cmath>
#include <vector>

using namespace gapfront::report;

namespace {

using Triple = Eigen::Vector3d;
constexpr int kSteps = 64;
constexpr double kNoticeable = 2.3;

Triple linear_light(gapfront::report::Rgb c) {
  Triple out(c.r, c.g, c.b);
  for (double& v : out) v = v / 255 <= 0.04045 ? v / 255 / 12.92 : std::pow((v / 255 + 0.055) / 1.055, 2.4);
  return out;
}

Triple lab_of(const Triple& light) {
  // IEC 61966-2-1, annex: sRGB to XYZ, D65.
  Eigen::Matrix3d m;
  m << 0.4124564, 0.3575761, 0.1804375, 0.2126729, 0.7151522, 0.0721750, 0.0193339, 0.1191920, 0.9503041;
  Triple f = (m * light).cwiseQuotient(Triple(0.95047, 1, 1.08883));
  for (double& v : f) v = v > 216.0 / 24389 ? std::cbrt(v) : (24389.0 / 27 * v + 16) / 116;
  return {116 * f[1] - 16, 500 * (f[0] - f[1]), 200 * (f[1] - f[2])};
}

/// As people with no red, no green or no blue cones see it: Machado, Oliveira & Fernandes 2009, severity 1.
std::vector<Eigen::Matrix3d> blindness() {
  Eigen::Matrix3d red, green, blue;
  red << 0.152286, 1.052583, -0.204868, 0.114503, 0.786281, 0.099216, -0.003882, -0.048116, 1.051998;
  green << 0.367322, 0.860646, -0.227968, 0.280085, 0.672501, 0.047413, -0.011820, 0.042940, 0.968881;
  blue << 1.255528, -0.076749, -0.178779, -0.078411, 0.930809, 0.147602, 0.004733, 0.691367, 0.303900;
  return {red, green, blue};
}

std::vector<Triple> sampled(Scale scale, const Eigen::Matrix3d& seen = Eigen::Matrix3d::Identity()) {
  std::vector<Triple> out;
  for (int i = 0; i <= kSteps; ++i)
    out.push_back(lab_of((seen * linear_light(colour(scale, double(i) / kSteps))).cwiseMax(0).cwiseMin(1)));
  return out;
}

}  // namespace

TEST_CASE("The lightness of the scales runs straight to within one just-noticeable difference") {
  for (const Scale scale : {Scale::sequence, Scale::amount}) {
    const auto lab = sampled(scale);
    for (int i = 0; i <= kSteps; ++i) {
      const double straight = lab[0][0] + (lab[kSteps][0] - lab[0][0]) * i / kSteps;
      CHECK(std::abs(lab[i][0] - straight) < kNoticeable);
    }
    CHECK(lab[kSteps][0] - lab[0][0] > 70);
  }
}

TEST_CASE("Equal steps of a scale look alike: none is twice as wide as another") {
  for (const Scale scale : {Scale::sequence, Scale::amount}) {
    const auto lab = sampled(scale);
    double narrow = 1e9, wide = 0;
    for (int i = 8; i <= kSteps; i += 8) {  // eight steps at once: single ones are rounded to 8 bits
      const double step = (lab[i] - lab[i - 8]).norm();
      narrow = std::min(narrow, step), wide = std::max(wide, step);
    }
    CHECK(wide < 2 * narrow);
  }
}

TEST_CASE("With any colour blindness, and in grey print, a scale still runs from dark to light") {
  for (const auto& seen : blindness())
    for (const Scale scale : {Scale::sequence, Scale::amount}) {
      const auto lab = sampled(scale, seen);
      for (int i = 4; i <= kSteps; i += 4) CHECK(lab[i][0] - lab[i - 4][0] > kNoticeable);
    }
}

TEST_CASE(
    "The diverging scale is near white in the middle, alike in lightness on both sides, and its sides stay apart") {
  const auto lab = sampled(Scale::diverging);
  CHECK(lab[kSteps / 2][0] > 95);
  CHECK(lab[kSteps / 2].tail<2>().norm() < kNoticeable);
  for (int i = 0; i <= kSteps / 2; ++i) CHECK(std::abs(lab[i][0] - lab[kSteps - i][0]) < kNoticeable);
  for (const auto& seen : blindness()) {
    const auto there = sampled(Scale::diverging, seen);
    for (int i = 0; i <= kSteps / 4; ++i) CHECK((there[i] - there[kSteps - i]).norm() > 10 * kNoticeable);
  }
}

TEST_CASE("A value outside the scale takes its end's colour, and one that is no number a colour as well") {
  CHECK(hex(colour(Scale::amount, -1)) == hex(colour(Scale::amount, 0)));
  CHECK(hex(colour(Scale::amount, 7)) == hex(colour(Scale::amount, 1)));
  CHECK(hex(colour(Scale::amount, NAN)) == hex(colour(Scale::amount, 0)));
}
