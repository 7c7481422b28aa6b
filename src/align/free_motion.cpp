#include "align/free_motion.hpp"

#include <cmath>
#include <cstdio>
#include <utility>

#include "core/linear.hpp"

namespace gapfront::align {
namespace {

constexpr double kLine = 0.01;  // see free_motion_of: spread across over spread along

std::string axis_word(const Vec3& d) {
  const char* names[] = {"X", "Y", "Z"};
  int largest;
  d.cwiseAbs().maxCoeff(&largest);
  if (std::abs(d(largest)) > std::cos(10 * M_PI / 180)) return names[largest];  // within 10 degrees reads as the axis
  char text[64];
  std::snprintf(text, sizeof text, "the direction (%.2f, %.2f, %.2f)", d.x(), d.y(), d.z());
  return text;
}

std::string joined(const std::vector<std::string>& parts) {
  std::string out;
  for (std::size_t i = 0; i < parts.size(); ++i)
    out += (i == 0 ? "" : i + 1 == parts.size() ? " and " : ", ") + parts[i];
  return out;
}

}  // namespace

std::string free_motion_of(const std::vector<NamedPlace>& places) {
  if (places.empty()) return "free to move in every direction and to turn about every axis";
  Vec3 centre = Vec3::Zero();
  for (const NamedPlace& p : places) centre += p.at / places.size();
  Eigen::Matrix3d scatter = Eigen::Matrix3d::Zero();
  for (const NamedPlace& p : places) scatter += (p.at - centre) * (p.at - centre).transpose();
  const auto axes = spectrum_of(scatter);
  if (std::sqrt(std::max(0.0, axes.eigenvalues()(2))) < 1e-9)
    return "free to turn in every direction about " + places.front().name;
  if (axes.eigenvalues()(1) > kLine * kLine * axes.eigenvalues()(2)) return {};
  // The two at the ends name the line best.
  const NamedPlace *first = &places.front(), *last = first;
  const Vec3 along = axes.eigenvectors().col(2);
  for (const NamedPlace& p : places) {
    if (along.dot(p.at) < along.dot(first->at)) first = &p;
    if (along.dot(p.at) > along.dot(last->at)) last = &p;
  }
  if (first > last) std::swap(first, last);
  return "free to turn about the line through " + first->name + " and " + last->name;
}

std::string free_motion_of(const Matrix6& information, const Vec3& pivot, double size, double limit) {
  Matrix6 scaled = information;  // turns as the path they make at the tool's edge, so all six are mm
  scaled.rightCols<3>() /= size;
  scaled.bottomRows<3>() /= size;
  const auto spectrum = spectrum_of(scaled);
  std::vector<std::string> words;
  for (int k = 0; k < 6; ++k) {
    if (spectrum.eigenvalues()(k) * limit * limit > 1) continue;
    const Vec3 slide = spectrum.eigenvectors().col(k).head<3>(), turn = spectrum.eigenvectors().col(k).tail<3>();
    if (slide.norm() >= turn.norm()) {
      words.push_back("to slide along " + axis_word(slide.normalized()));
    } else {
      char at[96];
      std::snprintf(at, sizeof at, " through (%.0f, %.0f, %.0f) mm", pivot.x(), pivot.y(), pivot.z());
      words.push_back("to turn about " + axis_word(turn.normalized()) + at);
    }
  }
  return words.empty() ? std::string{} : "free " + joined(words);
}

}  // namespace gapfront::align
