// Checks of the generator against itself and against brute force.
#include <Eigen/QR>
#include <algorithm>
#include <cmath>
#include <cstdio>
#include <filesystem>
#include <fstream>
#include <iterator>
#include "synth/plan.hpp"
#include "synth/synth.hpp"

namespace gapfront::synth {
namespace {

struct Checks {
  int failed = 0;
  void below(const char* what, double value, double limit, const char* unit) {
    const bool ok = value <= limit;
    std::printf("%s  %-72s %.3g %s (limit %.3g)\n", ok ? "ok  " : "FAIL", what, value, unit, limit);
    if (!ok) ++failed;
  }
};

std::vector<Sample> inside(const Mold& mold, double spacing, std::uint64_t seed) {
  std::vector<Sample> out;
  for (const Sample& s : sample_face(mold, Face::lower, spacing, 0.25, seed))
    if (mold.inside_seal(s.point)) out.push_back(s);
  return out;
}

/// Distance from x to a face by searching its parametrisation over the plan ever more finely; no normals, no iteration
/// along the surface: a method of its own.
double brute_distance(const Mold& mold, Face face, const Vec3& x) {
  Vec2 best(x.x(), x.y());
  double d2 = 1e300;
  for (double reach = 6; reach > 1e-6; reach /= 2.5) {
    const Vec2 middle = best;
    for (int i = -5; i <= 5; ++i)
      for (int k = -5; k <= 5; ++k) {
        const Vec2 p = middle + reach / 5 * Vec2(i, k);
        const double e = (mold.face_point(face, mold.foot_at(p.x(), p.y())) - x).squaredNorm();
        if (e < d2) d2 = e, best = p;
      }
  }
  return std::sqrt(d2);
}

double brute_gap(const Mold& mold, const Vec3& on_lower) {
  const Vec3 n = mold.lower_normal(on_lower);
  double low = 0, high = 3 * mold.nominal;
  for (int i = 0; i < 36; ++i) {
    const double r = (low + high) / 2;
    (brute_distance(mold, Face::upper, on_lower + r * n) > r ? low : high) = r;
  }
  return low + high;
}

void nominal_everywhere(Checks& checks) {
  const Mold mold = make_mold();
  double ball = 0, along = 0;
  std::size_t walls = 0;
  for (const Sample& s : inside(mold, 5, 1)) {
    ball = std::max(ball, std::abs(mold.gap_ball(s.point) - mold.nominal));
    along = std::max(along, std::abs(mold.gap_along_normal(s.point) - mold.nominal));
    if (s.normal.z() < 0.95) ++walls;
  }
  checks.below("undefected mold: ball gap from nominal, all places", ball * 1000, 1e-3, "um");
  checks.below("undefected mold: gap along the normal from nominal", along * 1000, 1e-3, "um");
  checks.below("places on radii and walls among them (short of 1000)", 1000.0 - static_cast<double>(walls), 0, "");
}

void against_brute_force(Checks& checks) {
  double worst = 0;
  for (const std::string& name : scenario_names()) {
    const Mold mold = scenario(name).back().mold;
    std::vector<Vec3> places;
    for (const Defect& d : mold.defects)
      for (const double dx : {0.0, 13.0, -70.0}) {
        const Vec3 p = d.centre + Vec3(dx, 0.2 * dx, 0);
        if (mold.inside_seal(p)) places.push_back(p);
      }
    const std::vector<Sample> all = inside(mold, 25, 3);
    for (std::size_t i = 0; i < all.size(); i += 29) places.push_back(all[i].point);
    for (const Vec3& p : places) {
      const Vec3 q = mold.project_lower(p);
      worst = std::max(worst, std::abs(mold.gap_ball(q) - brute_gap(mold, q)));
    }
  }
  checks.below("defective molds: ball gap against brute-force search", worst * 1000, 0.05, "um");
}

void defects_as_stated(Checks& checks) {
  const auto change = [](const Mold& m, const Defect& d) { return m.gap_along_normal(d.centre) - m.nominal; };
  const Mold fresh = scenario("new-tool").back().mold;
  Mold low = fresh;
  low.closing.setIdentity();
  checks.below("low area: gap change at its centre from the stated one",
               1000 * std::abs(change(low, low.defects[0]) - low.defects[0].gap_change), 0.01, "um");
  double tilt = 0;
  for (const Station& s : fresh.stations)
    tilt = std::max(tilt, std::abs(fresh.gap_along_normal(s.at) - fresh.nominal - s.high));
  checks.below("high corner: flange gap at the stations from the stated one", 1000 * tilt, 1, "um");
  const Mold track = scenario("dry-spot").back().mold;
  checks.below("race-track: gap change at its middle from the bisector formula",
               1000 * std::abs(change(track, track.defects[0]) - track.defects[0].gap_change), 0.01, "um");
  double wear = 0;
  for (const Truth& t : scenario("worn-tool"))
    wear = std::max(wear, std::abs(change(t.mold, t.mold.defects[0]) - t.mold.defects[0].per_cycle * t.mold.cycles));
  checks.below("wear: gap change from rate times cycles", 1000 * wear, 0.01, "um");
}

void corrections_undo_defects(Checks& checks) {
  Mold mold = scenario("new-tool").back().mold;
  const Defect d = mold.defects[0];
  mold.added_lower.push_back([d](const Vec3& foot) {
    const double r2 = (foot - d.centre).squaredNorm() / (d.radius * d.radius);
    return r2 < 1 ? d.gap_change * (1 - r2) * (1 - r2) : 0.0;
  });
  mold.closing.setIdentity();
  double worst = 0;
  for (const Sample& s : inside(mold, 12, 4)) worst = std::max(worst, std::abs(mold.gap_ball(s.point) - mold.nominal));
  checks.below("build-up that mirrors the low area brings the gap to nominal", worst * 1000, 1e-3, "um");
}

void sampling(Checks& checks) {
  // Density of points per true area, by zone: plane (base, flange) and slopes. Areas from the cross-section.
  const Mold mold = make_mold();
  const Profile dish = dish_profile(mold.shape);
  for (const Face face : {Face::lower, Face::upper}) {
    const double off = face == Face::upper ? mold.nominal : 0, spacing = 1.5;
    std::size_t slope = 0, on_face = 0;
    const std::vector<Sample> samples = sample_face(mold, face, spacing, 0.25, 5);
    for (const Sample& s : samples) {
      if (std::abs(mold.level(face, s.point)) < 1e-9) ++on_face;
      const double e = mold.edge_distance(mold.nominal_foot(s.point).point);
      if (e > dish.s1 && e < 0) ++slope;
    }
    double area = 0;
    const int steps = 4000;
    for (int i = 0; i < steps; ++i) {
      const ProfileFoot f = dish.at((i + 0.5) * dish.length(off) / steps, off);
      const double walk = f.point.x() + off * f.normal.x();
      const Shape& s = mold.shape;
      area += dish.length(off) / steps * (4 * (s.half_x + s.half_y - 2 * s.corner) + 2 * M_PI * (s.corner + walk));
    }
    const double expected = area / (spacing * spacing);
    checks.below(face == Face::lower ? "points per area on the lower slopes, from 1/spacing^2"
                                     : "points per area on the upper slopes, from 1/spacing^2",
                 100 * std::abs(static_cast<double>(slope) / expected - 1), 3, "%");
    checks.below("sample points off their face", static_cast<double>(samples.size() - on_face), 0, "points");
  }
}

void noise(Checks& checks) {
  Truth t = scenario("new-tool").back();
  t.scanner.islands = t.scanner.outliers = 0;
  const Rigid back = t.poses.upper.inverse();
  double sum = 0, n = 0;
  for (const Vec3& p : scan(t.mold, Face::upper, t.scanner, t.poses.upper)) {
    const Vec3 q = back * p;
    bool ball = false;
    for (const Ball& b : t.mold.balls) ball = ball || (q - b.centre).norm() < b.diameter / 2 + 0.9;
    if (ball) continue;
    sum += std::pow(t.mold.level(Face::upper, q), 2), n += 1;
  }
  checks.below("noise of the scanned points from the stated sigma",
               100 * std::abs(std::sqrt(sum / n) / t.scanner.noise - 1), 2, "%");
}

/// Centre of the algebraic least-squares sphere.
Vec3 sphere_centre(const std::vector<Vec3>& points, const Vec3& about) {
  Eigen::MatrixXd a(points.size(), 4);
  Eigen::VectorXd b(points.size());
  for (std::size_t i = 0; i < points.size(); ++i) {
    const Vec3 p = points[i] - about;
    a.row(static_cast<Eigen::Index>(i)) << 2 * p.transpose(), 1;
    b[static_cast<Eigen::Index>(i)] = p.squaredNorm();
  }
  return about + a.colPivHouseholderQr().solve(b).head<3>();
}

void balls(Checks& checks) {
  const Truth t = scenario("new-tool").back();
  double worst = 0, fewest = 1e9;
  for (const Face face : {Face::lower, Face::upper}) {
    const Rigid& pose = face == Face::lower ? t.poses.lower : t.poses.upper;
    const std::vector<Vec3> points = scan(t.mold, face, t.scanner, pose);
    for (const Ball& ball : t.mold.balls) {
      const Vec3 c = pose * ball.centre;
      std::vector<Vec3> near;
      for (const Vec3& p : points)
        if (std::abs((p - c).norm() - ball.diameter / 2) < 0.2) near.push_back(p);
      worst = std::max(worst, (sphere_centre(near, c) - c).norm());
      fewest = std::min(fewest, static_cast<double>(near.size()));
    }
  }
  // Cap of about 2 pi R^2 (1 - 1/10) at 0.8 mm: some 900 points; centre good to about 3 sigma / sqrt(n) = 2 um per
  // axis.
  checks.below("ball centres fitted from the scans, from the stated places", 1000 * worst, 10, "um");
  checks.below("points on the worst seen ball (short of 800)", 800 - fewest, 0, "points");
}

std::string bytes(const std::filesystem::path& p) {
  std::ifstream in(p, std::ios::binary);
  return {std::istreambuf_iterator<char>(in), {}};
}

void files(Checks& checks) {
  const std::filesystem::path a = std::filesystem::temp_directory_path() / "synth-selfcheck-a";
  const std::filesystem::path b = std::filesystem::temp_directory_path() / "synth-selfcheck-b";
  double differing = 0, moved = 0;
  for (const Format f : {Format::ply, Format::pcd, Format::asc, Format::stl}) {
    Overrides o;
    o.format = f, o.spacing = 6;
    write_scenario("new-tool", b.string(), o);
    for (const std::string& file : write_scenario("new-tool", a.string(), o))
      if (bytes(a / file).empty() || bytes(a / file) != bytes(b / file)) ++differing;
  }
  checks.below("files that differ between two runs", differing, 0, "files");
  const Mold made = scenario("new-tool").back().mold, read = load_truth((a / "new-tool-truth.json").string()).mold;
  for (const Sample& s : inside(made, 20, 6))
    moved = std::max(moved, std::abs(made.gap_ball(s.point) - read.gap_ball(s.point)));
  checks.below("gap by a truth file read back", moved * 1000, 1e-6, "um");
  std::filesystem::remove_all(a);
  std::filesystem::remove_all(b);
}

}  // namespace

int selfcheck() {
  Checks checks;
  nominal_everywhere(checks);
  against_brute_force(checks);
  defects_as_stated(checks);
  corrections_undo_defects(checks);
  sampling(checks);
  noise(checks);
  balls(checks);
  files(checks);
  std::printf("%s\n", checks.failed ? "failed" : "all good");
  return checks.failed;
}

}  // namespace gapfront::synth
