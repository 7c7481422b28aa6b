#include "scan/formats.hpp"
#include <algorithm>
#include <bit>
#include <charconv>
#include <cstring>

namespace gapfront::reading {
namespace {
static_assert(std::endian::native == std::endian::little, "binary readers assume a little-endian machine");

template <class T>
double load(const char* p, bool swap) {
  char bytes[sizeof(T)];
  std::memcpy(bytes, p, sizeof(T));
  if (swap) std::reverse(bytes, bytes + sizeof(T));
  T value;
  std::memcpy(&value, bytes, sizeof(T));
  return static_cast<double>(value);
}
}  // namespace

void Sink::reserve(std::uint64_t n, std::uint64_t fits, bool normals) {
  n = std::min(n, fits);
  // Indices of points are 32-bit further on; a single scan of that many points would need 100 GB.
  if (n >= 0xffffffffu) in_.fail_file("more than 4 billion points; thin the scan first");
  scan_.cloud.points.reserve(n);
  if (normals) scan_.cloud.normals.reserve(n);
}

void Sink::add(const std::string& feature, const Vec3& p, const Vec3f& n) {
  tick();
  const Vec3 at = p * unit_;
  if (!(at.array().abs() <= kFarthest).all()) {
    ++scan_.nonfinite_dropped;
    return;
  }
  auto found =
      std::find_if(scan_.features.begin(), scan_.features.end(), [&](const auto& f) { return f.name == feature; });
  if (found == scan_.features.end()) {
    // More names than a person gives: another column was taken for theirs.
    if (scan_.features.size() == 500)
      in_.fail_line("more than 500 names in column feature; give that title to the column of names, or to none");
    found = scan_.features.insert(found, {feature, {}, {}});
  }
  found->points.push_back(at);
  const float length = n.norm();
  if (length > 0 && std::isfinite(length)) found->normals.push_back(n / length);
}

void Sink::close() {
  if (scan_.cloud.normals.size() != scan_.cloud.points.size()) scan_.cloud.normals = {};
  for (ScanFeature& f : scan_.features)
    if (scan_.cloud.normals.empty() || f.normals.size() != f.points.size()) f.normals = {};
}

std::size_t size_of(Number type) {
  switch (type) {
    case Number::i8:
    case Number::u8:
      return 1;
    case Number::i16:
    case Number::u16:
      return 2;
    case Number::i32:
    case Number::u32:
    case Number::f32:
      return 4;
    default:
      return 8;
  }
}

double any_number_at(const char* p, Number type, bool swap) {
  switch (type) {
    case Number::i8:
      return load<std::int8_t>(p, false);
    case Number::u8:
      return load<std::uint8_t>(p, false);
    case Number::i16:
      return load<std::int16_t>(p, swap);
    case Number::u16:
      return load<std::uint16_t>(p, swap);
    case Number::i32:
      return load<std::int32_t>(p, swap);
    case Number::u32:
      return load<std::uint32_t>(p, swap);
    case Number::f32:
      return load<float>(p, swap);
    case Number::f64:
      return load<double>(p, swap);
    case Number::i64:
      return load<std::int64_t>(p, swap);
    default:
      return load<std::uint64_t>(p, swap);
  }
}

bool is_binary_stl(Input& in) {
  const std::string_view head = in.peek(84);
  return head.size() == 84 && in.size() == 84 + 50 * std::uint64_t(number_at(head.data() + 80, Number::u32, false));
}

std::optional<Eigen::Matrix3d> rotation_of(const Eigen::Quaterniond& turn) {
  if (!(std::abs(turn.norm() - 1) < kNoRotation)) return std::nullopt;
  return turn.normalized().toRotationMatrix();
}

std::vector<std::string_view> words(std::string_view line) {
  std::vector<std::string_view> out;
  std::size_t i = 0;
  while (i < line.size()) {
    while (i < line.size() && (line[i] == ' ' || line[i] == '\t' || line[i] == '\r')) ++i;
    const std::size_t from = i;
    while (i < line.size() && line[i] != ' ' && line[i] != '\t' && line[i] != '\r') ++i;
    if (i > from) out.push_back(line.substr(from, i - from));
  }
  return out;
}

bool parse_number(std::string_view word, double& value) {
  if (!word.empty() && word.front() == '+') word.remove_prefix(1);
  const auto [end, error] = std::from_chars(word.data(), word.data() + word.size(), value);
  if (error == std::errc::result_out_of_range) {  // 1e-400 or 1e400: from_chars leaves the value alone
    value = word.find("e-") != word.npos || word.find("E-") != word.npos ? 0.0 : HUGE_VAL;
    return end == word.data() + word.size();
  }
  return error == std::errc() && end == word.data() + word.size() && !word.empty();
}

}  // namespace gapfront::reading
