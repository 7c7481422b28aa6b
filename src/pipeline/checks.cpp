#include "pipeline/checks.hpp"

#include <algorithm>
#include <cmath>
#include <limits>
#include <numeric>

#include "core/linear.hpp"
#include "gapfront/error.hpp"
#include "pipeline/density.hpp"
#include "units/digits.hpp"
#include "units/words.hpp"

namespace gapfront::pipeline {
namespace {

/// Whether Z of the tool frame means something: then it points from the lower half to the upper. Without datum
/// coordinates the tool frame is the lower scan's own, and any direction is possible.
bool has_datum(const AlignOptions& align) {
  const auto uses = [&](AlignMethod m) { return std::count(align.methods.begin(), align.methods.end(), m) > 0; };
  return uses(AlignMethod::given) || uses(AlignMethod::nominal) || uses(AlignMethod::datum) ||
         std::any_of(align.targets.begin(), align.targets.end(), [](const Target& t) { return t.tool.has_value(); });
}

/// The sheet's normals point to the upper half, wherever that is; over a lower half they mostly point up.
bool upside_down(const Sheet& sheet) {
  double up = 0, all = 0;
  for (std::size_t i = 0; i < sheet.size(); ++i) up += sheet.area[i] * sheet.normals[i].z(), all += sheet.area[i];
  // −0.2: clearly facing down; near zero (a tube, a mold that stands upright) nothing can be said.
  return up < -0.2 * all;
}

/// Greatest and least corner of the box around the points.
struct Box {
  Vec3 low = Vec3::Constant(1e300), high = Vec3::Constant(-1e300);
  explicit Box(const std::vector<Vec3>& points) {
    for (const Vec3& p : points) low = low.cwiseMin(p), high = high.cwiseMax(p);
  }
};

double distance_to_sheet(const Sheet& sheet, const std::vector<Vec3>& path) {
  double d = std::numeric_limits<double>::infinity();
  for (const auto& p : sheet.mesh.points) d = std::min(d, distance_to_path(p, path));
  return d;
}

template <class Port>
[[noreturn]] void refuse_port(const Port& port, const char* kind, double distance, const char* from,
                              const std::string& file) {
  throw Error(Fault::input, file + ": [[flow." + kind + "]] \"" + port.name + "\" lies " +
                                tape_length(distance, UnitSystem::mm) + from +
                                "; give a place on the lower face inside the seal, in tool coordinates");
}

template <class Port>
void settle_port(const Sheet& sheet, Port& port, const char* kind, double edge, const std::string& file,
                 Messages& warnings) {
  if (port.path.empty()) return;
  const double d = distance_to_sheet(sheet, port.path);
  if (d <= port.radius) return;
  if (d > port.radius + edge) refuse_port(port, kind, d, " from the moulding face", file);
  port.radius = d * (1 + 1e-9);
  warnings.push_back(
      Message(kind[0] == 'i' ? "warnings.inlet-narrower-than-sheets" : "warnings.vent-narrower-than-sheets",
              {arg::name(port.name)}));
}

/// From an open path to the area inside a closed line, in plan; 0: they meet.
double distance_in_plan(const std::vector<Vec3>& path, const std::vector<Vec3>& line) {
  const auto flat = [](std::vector<Vec3> points) {
    for (Vec3& p : points) p.z() = 0;
    return points;
  };
  const std::vector<Vec3> way = flat(path), around = flat(line);
  std::vector<Vec3> closed = around;
  closed.push_back(around.front());
  double d = std::numeric_limits<double>::infinity();
  for (const Vec3& p : way) d = std::min(d, inside_polygon_xy(p, around) ? 0 : distance_to_path(p, closed));
  for (const Vec3& p : around) d = std::min(d, distance_to_path(p, way));
  const auto left = [](const Vec3& a, const Vec3& b, const Vec3& p) { return (b - a).cross(p - a).z() > 0; };
  for (std::size_t i = 0; i + 1 < way.size(); ++i)
    for (std::size_t k = 0; k + 1 < closed.size(); ++k)
      if (left(way[i], way[i + 1], closed[k]) != left(way[i], way[i + 1], closed[k + 1]) &&
          left(closed[k], closed[k + 1], way[i]) != left(closed[k], closed[k + 1], way[i + 1]))
        return 0;
  return d;
}

/// How tightly the sheet bends at a node, by its neighbours' normals: the smallest radius, mm.
std::vector<double> bends(const Sheet& sheet) {
  std::vector<double> radius(sheet.size(), std::numeric_limits<double>::infinity());
  for (const auto& t : sheet.mesh.triangles)
    for (int k = 0; k < 3; ++k) {
      const auto a = std::size_t(t[k]), b = std::size_t(t[(k + 1) % 3]);
      const double turn = (sheet.normals[a] - sheet.normals[b]).norm();
      const double r = (sheet.mesh.points[a] - sheet.mesh.points[b]).norm() / std::max(turn, 1e-9);
      radius[a] = std::min(radius[a], r), radius[b] = std::min(radius[b], r);
    }
  return radius;
}

// A fit takes the points within 2.6 spacings at least, and spans no more than 0.4 of the radius that the face bends
// with (cavity/fit.cpp): so points stand no farther apart than this much of that radius.
constexpr double kOfRadius = 0.4 / 2.6;

/// Points too far apart for how the face bends: where, how far they are, and how near they must be.
void refuse_far_apart(const Sheet& sheet, const GapMap& gap, double spacing, int percent) {
  const auto radius = bends(sheet);
  std::vector<std::pair<double, std::size_t>> open;
  for (std::size_t i = 0; i < sheet.size(); ++i)
    if (!gap.nodes[i].measured) open.emplace_back(radius[i], i);
  if (open.empty()) return;
  // A tenth bends more: single nodes at the rim are no measure of a face.
  const auto middle = open.begin() + std::ptrdiff_t(open.size() / 10);
  std::nth_element(open.begin(), middle, open.end());
  const double needed = std::min(kOfRadius * middle->first, 0.5 * spacing);
  throw Error(Fault::measurement,
              "the points are too far apart: a gap was found on only " + std::to_string(percent) +
                  " % of the lower face; around " + spoken_place(sheet.mesh.points[middle->second], UnitSystem::mm, 0) +
                  " they are " + format_length(spacing, UnitSystem::mm) +
                  " apart, and the face bends there with a radius of " + format_length(middle->first, UnitSystem::mm) +
                  "; touch points every " + format_length(needed, UnitSystem::mm) + ", or scan the halves");
}

/// Balls all at one height match a mirrored half as well: it is then turned over.
bool at_one_height(const Alignment& a, Vec3& middle, Vec3& normal) {
  // Higher than a tenth of their extent, a pattern turned over misses by centimetres.
  constexpr double kFlat = 0.1;
  const std::size_t n = a.residuals.size();
  if (n < 3) return false;
  middle = Vec3::Zero();
  for (const TargetResidual& r : a.residuals) middle += r.place / double(n);
  Eigen::Matrix3d spread = Eigen::Matrix3d::Zero();
  for (const TargetResidual& r : a.residuals) spread += (r.place - middle) * (r.place - middle).transpose();
  const auto axes = spectrum_of(spread);
  normal = axes.eigenvectors().col(0);
  return axes.eigenvalues()(0) < kFlat * kFlat * axes.eigenvalues()(1);
}

/// Turned back through the plane of the balls, the upper scan lies where the face opposite should.
void refuse_mirrored(const Measured& m) {
  const Sheet& sheet = m.sheet;
  const Surface& upper = m.halves->upper;
  const double nominal = m.job.tolerance.nominal;
  // Twice as much of the face as chance and steep walls leave to a half that belongs elsewhere; and so much more than
  // lies there as the scan is, which a flat face does either way, and all among sparse points.
  constexpr double kMostOfFace = 0.6, kMoreOfFace = 0.3;
  Vec3 middle, normal;
  if (!at_one_height(m.alignment, middle, normal)) return;
  double faces = 0, as_it_is = 0, all = 0;
  const auto near = [&](const Vec3& p) { return upper.nearest(p).distance < 0.5 * nominal + 2 * upper.spacing(); };
  for (std::size_t i = 0; i < sheet.size(); ++i) {
    const Vec3 expected = sheet.mesh.points[i] + nominal * sheet.normals[i];
    const Vec3 turned = expected - 2 * (expected - middle).dot(normal) * normal;
    all += sheet.area[i];
    faces += near(turned) ? sheet.area[i] : 0, as_it_is += near(expected) ? sheet.area[i] : 0;
  }
  if (faces > kMostOfFace * all && faces - as_it_is > kMoreOfFace * all)
    throw Error(Fault::measurement,
                "one of the two scans is mirrored: turned over through the plane of the targets, which lie all at one "
                "height and cannot tell, the upper scan faces the lower one; export the scans again and see that "
                "writing on the mold can be read in both");
}

}  // namespace

void check_edge(const Surface& lower, const SheetOptions& o, const std::string& file) {
  const Box box(lower.points());
  Vec3 size = box.high - box.low;
  std::sort(size.data(), size.data() + 3);
  // Two million nodes are about a hundred times what a mold needs, and hours of flow.
  const double nodes = size[2] * size[1] / (0.87 * o.edge * o.edge);
  if (nodes > 2e6 || o.edge > 0.5 * size[1])
    throw Error(Fault::input, file + ": [cavity] edge = " + format_length(o.edge, UnitSystem::mm) +
                                  " does not suit a half of " + format_length(size[2], UnitSystem::mm) + " by " +
                                  format_length(size[1], UnitSystem::mm) + "; a hundredth of its length is usual");
}

void check_seal(const Surface& lower, const std::vector<Vec3>& seal, const std::string& file) {
  const Box box(lower.points());
  const Vec3 &low = box.low, &high = box.high;
  const double most = 0.5 * (high - low).head<2>().norm();
  for (const Vec3& p : seal) {
    const double off = (p - p.cwiseMax(low).cwiseMin(high)).head<2>().norm();
    if (off <= most) continue;
    throw Error(Fault::input, file + ": [cavity] seal: its corner " + spoken_place(p, UnitSystem::mm, 2) + " lies " +
                                  tape_length(off, UnitSystem::mm) + " beside the lower scan, which reaches from " +
                                  spoken_place(low, UnitSystem::mm, 2) + " to " +
                                  spoken_place(high, UnitSystem::mm, 2) +
                                  "; correct it, or the tool places of the targets, or scan the rest of the half");
  }
}

void check_faces(const Measured& m) {
  const Sheet& sheet = m.sheet;
  const GapMap& gap = m.gap;
  const double all = std::accumulate(sheet.area.begin(), sheet.area.end(), 0.0);
  if (has_datum(m.job.align) && upside_down(sheet)) {
    Vec3 middle, normal;
    const std::string swapped =
        "the upper half lies below the lower half: the halves are swapped, exchange the files "
        "in [lower] and [upper] (or turn the tool frame, whose Z points from lower to upper)";
    // A pattern at one height, seen in a mirror, is the same pattern turned over.
    throw Error(Fault::measurement, at_one_height(m.alignment, middle, normal)
                                        ? swapped +
                                              "; where each file shows the half that it is named for, both "
                                              "scans are mirrored: export them again"
                                        : swapped);
  }
  if (m.doubt) return;
  double measured = 0, crossing = 0;
  for (std::size_t i = 0; i < sheet.size(); ++i)
    if (gap.nodes[i].measured) {
      measured += gap.judged_area(sheet, i);
      if (gap.nodes[i].gap < 0) crossing += sheet.area[i];
    }
  double missing = 0;
  for (std::size_t i = 0; i < gap.unseen_lower.size(); ++i)
    missing += std::max(gap.unseen_lower[i], gap.unseen_upper[i]);
  const int percent = static_cast<int>(std::lround(100 * measured / std::max(all, 1e-9)));
  // Half of the area: with less, a verdict would speak of a minority of the part.
  if (measured < 0.5 * all) refuse_mirrored(m);
  if (measured < 0.5 * all && missing > 0.5 * (all - measured))
    throw Error(Fault::measurement,
                "the scans cover only " + std::to_string(percent) +
                    " % of the cavity together; scan what is missing again, or export the scans with all "
                    "points if a program thinned them where the face is flat, or correct cavity.seal");
  const double spacing = std::max(m.halves->lower.spacing(), m.halves->upper.spacing());
  if (measured < 0.5 * all && spacing >= kTouchedOneByOne && measured > 0.02 * all)
    refuse_far_apart(sheet, gap, spacing, percent);
  if (measured < 0.5 * all)
    throw Error(Fault::measurement,
                "the halves do not face each other: a gap was found on only " + std::to_string(percent) +
                    " % of the lower face; are [lower] and [upper] swapped, or the targets' places wrong?");
  if (crossing > 0.5 * measured)
    throw Error(Fault::measurement,
                "the halves run through each other over most of the face; are [lower] and [upper] swapped, or the "
                "targets' places wrong?");
}

void settle_ports(const Sheet& sheet, const SheetOptions& options, const std::string& file, FlowOptions& flow,
                  Messages& warnings) {
  for (auto& i : flow.inlets) settle_port(sheet, i, "inlet", options.edge, file, warnings);
  for (auto& v : flow.vents) settle_port(sheet, v, "vent", options.edge, file, warnings);
}

void check_ports(const std::vector<Vec3>& seal, const SheetOptions& options, const std::string& file,
                 const FlowOptions& flow) {
  const auto check = [&](const auto& port, const char* kind) {
    if (port.path.empty()) return;
    const double d = distance_in_plan(port.path, seal);
    if (d > port.radius + options.edge) refuse_port(port, kind, d, " outside the seal line", file);
  };
  for (const auto& i : flow.inlets) check(i, "inlet");
  for (const auto& v : flow.vents) check(v, "vent");
}

}  // namespace gapfront::pipeline
