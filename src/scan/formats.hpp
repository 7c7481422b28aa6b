// One reader per file format; each takes the file from its first byte and fills the sink.
#pragma once
#include <Eigen/Geometry>
#include <cmath>
#include <cstring>
#include <optional>
#include <string>
#include "gapfront/scan.hpp"
#include "scan/input.hpp"

namespace gapfront::reading {

/// A coordinate beyond a thousand kilometres, mm, is no place but a broken number, and is dropped like one that is not
/// finite; sums of squares of what is kept stay far from overflow.
constexpr double kFarthest = 1e9;

/// Collects points: applies the unit, leaves out non-finite ones, reports progress.
class Sink {
 public:
  Sink(Scan& scan, double unit, const Progress& progress, const Input& in)
      : scan_(scan), unit_(unit), progress_(progress), in_(in) {}

  /// The unit that the file itself names; `named`: it does, so it need not be declared.
  void set_unit(double unit, bool named) { unit_ = scan_.unit = unit, scan_.unit_declared |= named; }
  /// Room for n points; `fits` is how many the file could hold, so that a false header cannot exhaust memory.
  void reserve(std::uint64_t n, std::uint64_t fits, bool normals);
  void add(const Vec3& p) {
    tick();
    const Vec3 at = p * unit_;
    if (!(at.array().abs() <= kFarthest).all()) {  // NaN fails as well
      ++scan_.nonfinite_dropped;
      return;
    }
    scan_.cloud.points.push_back(at);
  }
  void add(const Vec3& p, const Vec3f& n) {
    const std::size_t before = scan_.cloud.points.size();
    add(p);
    if (scan_.cloud.points.size() == before) return;
    const float length = n.norm();
    if (!(length > 0) || !std::isfinite(length)) usable_normals_ = false;
    if (usable_normals_) scan_.cloud.normals.push_back(n / length);
  }
  /// A point touched on what has this name.
  void add(const std::string& feature, const Vec3& p, const Vec3f& n);
  /// x y z, and nx ny nz behind them where the file has normals.
  void add(const double* v, bool normals) {
    if (normals)
      add({v[0], v[1], v[2]}, Vec3f(float(v[3]), float(v[4]), float(v[5])));
    else
      add({v[0], v[1], v[2]});
  }
  std::uint64_t seen() const { return seen_; }
  /// Normals are all or nothing: one per point, else none.
  void close();

  Scan& scan() { return scan_; }

 private:
  void tick() {
    // Often enough for a lively bar and a prompt cancellation (some ms), too seldom to cost time.
    if ((++seen_ & 0xffff) == 0) report_progress(progress_, "read", in_.fraction());
  }
  Scan& scan_;
  double unit_;
  const Progress& progress_;
  const Input& in_;
  std::uint64_t seen_ = 0;
  bool usable_normals_ = true;
};

void read_ply(Input&, Sink&);
void read_pcd(Input&, Sink&);
void read_stl(Input&, Sink&);
void read_obj(Input&, Sink&);
void read_text(Input&, Sink&, const ReadOptions&);
/// Each scan of the file that holds points; the file is read by itself, in its own order.
std::vector<Scan> read_e57(Input&, const ReadOptions&, const Progress&);
PlaceValues read_values(Input&, double unit);

/// The number formats of binary point files.
enum class Number : char { i8, u8, i16, u16, i32, u32, f32, f64, i64, u64 };
std::size_t size_of(Number);
/// number_at() of any type.
double any_number_at(const char* p, Number type, bool swap);
/// The number at p (any alignment), with its bytes reversed if `swap`.
inline double number_at(const char* p, Number type, bool swap) {
  if (type != Number::f32 || swap) return any_number_at(p, type, swap);
  float value;  // what nearly all scanners write
  std::memcpy(&value, p, sizeof value);
  return value;
}

/// Whether the file has the length that the header of a binary STL promises. "solid" starts text files, and the comment
/// of some binary ones too.
bool is_binary_stl(Input&);

/// Files have some six digits: what is farther from a rotation than this was never one.
constexpr double kNoRotation = 1e-3;
/// Its rotation; nothing for a quaternion of another length than 1.
std::optional<Eigen::Matrix3d> rotation_of(const Eigen::Quaterniond&);

/// Splits at runs of blanks.
std::vector<std::string_view> words(std::string_view line);
/// A whole word as a number ("+1.5", "nan", "inf" too); false when it is not one.
bool parse_number(std::string_view word, double& value);

}  // namespace gapfront::reading
