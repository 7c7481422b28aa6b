// The mold: faces as offsets of one exact distance field, and the truth read from them.
#include <algorithm>
#include <cmath>
#include "synth/plan.hpp"
#include "synth/synth.hpp"

namespace gapfront::synth {
namespace {

// Step of the central differences for normals: the faces vary over millimetres, so the truncation error is
// (1e-4)²/radius ≈ 1e-9, and rounding (1e-13/1e-4) is of the same size.
constexpr double kStep = 1e-4;

double smooth(double t) {
  t = std::clamp(t, 0.0, 1.0);
  return t * t * t * (t * (6 * t - 15) + 10);
}

double round_patch(const Defect& d, const Vec3& foot) {
  const double r2 = (foot - d.centre).squaredNorm() / (d.radius * d.radius);
  return r2 >= 1 ? 0 : d.gap_change * (1 - r2) * (1 - r2);
}

/// Height of the face with another fillet radius over the nominal one, along the nominal normal.
double lane(const Shape& shape, const Defect& d, double offset, const Foot& foot) {
  if (foot.point.y() > -(shape.half_y - shape.corner)) return 0;
  const double along = std::abs(foot.point.x() - d.centre.x());
  const double weight = smooth((d.length / 2 + d.taper / 2 - along) / d.taper);
  if (weight == 0 || std::abs(foot.point.x()) > shape.half_x - shape.corner) return 0;
  const Profile changed(shape.depth, shape.bottom_radius + weight * d.radius_change, shape.top_radius, turn(shape));
  const Vec2 q(-foot.point.y() - shape.half_y, foot.point.z()), n(-foot.normal.y(), foot.normal.z());
  double b = 0;
  // Newton on an exact distance field; the slope is the cosine between the two normals, at least 0.9 here.
  for (int i = 0; i < 50; ++i) {
    const ProfileFoot f = changed.foot(q + (offset + b) * n);
    const double step = (f.distance - offset) / f.normal.dot(n);
    b -= step;
    if (std::abs(step) < 1e-12) break;
  }
  return b;
}

std::string numbered(char letter, std::size_t i) { return std::string(1, letter).append(std::to_string(i)); }

Vec3 gradient(const Mold& mold, Face face, const Vec3& x) {
  Vec3 g;
  for (int k = 0; k < 3; ++k) {
    Vec3 e = Vec3::Zero();
    e[k] = kStep;
    g[k] = (mold.level(face, x + e) - mold.level(face, x - e)) / (2 * kStep);
  }
  return g;
}

}  // namespace

const char* to_string(Face face) { return face == Face::lower ? "lower" : "upper"; }

const char* to_string(DefectKind kind) {
  switch (kind) {
    case DefectKind::tilt:
      return "tilt";
    case DefectKind::local:
      return "local";
    case DefectKind::wear:
      return "wear";
    case DefectKind::radius:
      return "radius";
  }
  return "";
}

double Mold::edge_distance(const Vec3& p) const { return plan_edge(shape, Vec2(p.x(), p.y())).distance; }

Foot Mold::nominal_foot(const Vec3& x) const {
  const Vec2 p(x.x(), x.y());
  const PlanFoot rib = plan_rib(shape, p);
  const Profile rib_profile = synth::rib_profile(shape);
  // Both cross-sections end in the same flat base; between them either gives the same answer.
  if (rib.distance > rib_profile.s1) {
    const double level = -shape.depth + shape.rib_height;
    const ProfileFoot f = rib_profile.foot(Vec2(rib.distance, x.z() - level));
    const Vec2 shift = (f.point.x() - rib.distance) * rib.direction;
    return {Vec3(p.x() + shift.x(), p.y() + shift.y(), f.point.y() + level),
            Vec3(f.normal.x() * rib.direction.x(), f.normal.x() * rib.direction.y(), f.normal.y()), f.distance};
  }
  const PlanFoot edge = plan_edge(shape, p);
  const ProfileFoot f = dish_profile(shape).foot(Vec2(edge.distance, x.z()));
  const Vec2 shift = (f.point.x() - edge.distance) * edge.direction;
  return {Vec3(p.x() + shift.x(), p.y() + shift.y(), f.point.y()),
          Vec3(f.normal.x() * edge.direction.x(), f.normal.x() * edge.direction.y(), f.normal.y()), f.distance};
}

Foot Mold::foot_at(double x, double y) const {
  const Vec2 p(x, y);
  const double rib = plan_rib(shape, p).distance;
  const Profile profile = rib_profile(shape);
  const double z = rib > profile.s1 ? profile.z(rib) - shape.depth + shape.rib_height
                                    : dish_profile(shape).z(plan_edge(shape, p).distance);
  return nominal_foot(Vec3(x, y, z));
}

double Mold::height(Face face, const Foot& foot) const {
  const bool upper = face == Face::upper;
  const double base = upper ? nominal : 0;
  double h = base;
  for (const Defect& d : defects) {
    if (d.face != face) continue;
    if (d.kind == DefectKind::local || d.kind == DefectKind::wear) h += (upper ? 1 : -1) * round_patch(d, foot.point);
    if (d.kind == DefectKind::radius) h += lane(shape, d, base, foot);
  }
  for (const auto& f : upper ? added_upper : added_lower) h += (upper ? -1 : 1) * f(foot.point);
  return h;
}

Vec3 Mold::face_point(Face face, const Foot& foot) const {
  const Vec3 p = foot.point + height(face, foot) * foot.normal;
  return face == Face::upper ? closing * p : p;
}

double Mold::level(Face face, const Vec3& x) const {
  const Foot foot = nominal_foot(face == Face::upper ? closing.inverse() * x : x);
  return foot.distance - height(face, foot);
}

Vec3 Mold::nearest(Face face, const Vec3& x) const {
  Vec3 y = face_point(face, nominal_foot(face == Face::upper ? closing.inverse() * x : x));
  // Slide the foot along the tangent plane and drop it back on the face. The error shrinks by curvature × distance
  // (at most 0.3 here) each time.
  for (int i = 0; i < 60; ++i) {
    const Vec3 n = gradient(*this, face, y).normalized();
    const Vec3 away = x - y;
    const Vec3 slide = away - away.dot(n) * n;
    y += slide;
    for (int k = 0; k < 3; ++k) {
      const double g = level(face, y);
      y -= g * n;
      if (std::abs(g) < 1e-11) break;
    }
    if (slide.squaredNorm() < 1e-18) break;
  }
  return y;
}

Vec3 Mold::normal(Face face, const Vec3& on_face) const {
  return (face == Face::upper ? -1 : 1) * gradient(*this, face, on_face).normalized();
}

double Mold::distance(Face face, const Vec3& x) const {
  const double d = (x - nearest(face, x)).norm();
  const bool in_cavity = face == Face::upper ? level(face, x) < 0 : level(face, x) > 0;
  return in_cavity ? d : -d;
}

double Mold::gap_ball(const Vec3& at) const {
  const Vec3 p = project_lower(at), n = lower_normal(p);
  double r = nominal / 2;
  // distance(upper) falls by nearly one and r grows by one per mm of the centre: halving the difference is Newton.
  for (int i = 0; i < 60; ++i) {
    const double change = (distance(Face::upper, p + r * n) - r) / 2;
    r += change;
    if (std::abs(change) < 1e-9) break;
  }
  return 2 * r;
}

double Mold::gap_along_normal(const Vec3& at) const {
  const Vec3 p = project_lower(at), n = lower_normal(p);
  double t = nominal;
  for (int i = 0; i < 60; ++i) {
    const double g = level(Face::upper, p + t * n);
    t -= g;
    if (std::abs(g) < 1e-10) break;
  }
  return t;
}

std::vector<Vec3> Mold::seal_polygon() const {
  std::vector<Vec3> out;
  const double a = shape.half_x - shape.corner, b = shape.half_y - shape.corner, r = shape.corner + shape.seal;
  // Seven chords per corner outlier from the arc by r(1 − cos(90°/14)) < 0.5 mm: well below a sheet edge.
  const int chords = 7;
  const double sx[] = {1, -1, -1, 1}, sy[] = {1, 1, -1, -1};
  for (int c = 0; c < 4; ++c)
    for (int k = 0; k <= chords; ++k) {
      const double f = (c + static_cast<double>(k) / chords) * M_PI / 2;
      out.emplace_back(sx[c] * a + r * std::cos(f), sy[c] * b + r * std::sin(f), 0);
    }
  return out;
}

Mold make_mold() {
  Mold mold;
  const Shape& s = mold.shape;
  const double x = s.half_x + 30, y = s.half_y + 30;  // the middle of the flange outside the seal
  // Spread unevenly, so that no turn or mirror image of the pattern fits it.
  const std::vector<Vec2> places{{-95, -y}, {70, -y}, {x, -40}, {x, 62}, {110, y}, {-40, y}, {-x, 35}};
  for (std::size_t i = 0; i < places.size(); ++i)
    mold.balls.push_back({numbered('B', i + 1), Vec3(places[i].x(), places[i].y(), mold.nominal / 2), 20});
  const double r = (s.corner + 30) * std::sqrt(0.5), cx = s.half_x - s.corner + r, cy = s.half_y - s.corner + r;
  const double sx[] = {-1, 1, 1, -1}, sy[] = {-1, -1, 1, 1};
  for (std::size_t i = 0; i < 4; ++i)
    mold.stations.push_back({numbered('S', i + 1), Vec3(sx[i] * std::round(cx), sy[i] * std::round(cy), 0), 0});
  return mold;
}

void lift_corner(Mold& mold, double high) {
  const Vec3 s1 = mold.stations[0].at;
  const Vec3 turn(high / 4 / s1.y(), -high / 4 / s1.x(), 0);
  mold.closing = Eigen::Translation3d(0, 0, high / 2) * Eigen::AngleAxisd(turn.norm(), turn.normalized());
  const double fraction[] = {1, 0.5, 0, 0.5};
  for (int i = 0; i < 4; ++i) mold.stations[i].high = fraction[i] * high;
  Defect d;
  d.name = "corner S1 high";
  d.kind = DefectKind::tilt;
  d.face = Face::upper;
  d.centre = s1;
  d.gap_change = high;
  mold.defects.push_back(d);
}

Defect local_area(const Mold& mold, const std::string& name, Face face, double x, double y, double radius,
                  double gap_change) {
  Defect d;
  d.name = name;
  d.face = face;
  d.centre = mold.foot_at(x, y).point;
  d.radius = radius;
  d.gap_change = gap_change;
  return d;
}

Defect wear_patch(const Mold& mold, const std::string& name, double x, double y, double radius, double per_cycle) {
  Defect d = local_area(mold, name, Face::lower, x, y, radius, per_cycle * mold.cycles);
  d.kind = DefectKind::wear;
  d.per_cycle = per_cycle;
  return d;
}

Defect radius_lane(const Mold& mold, const std::string& name, double x, double length, double taper,
                   double radius_change) {
  Defect d;
  d.name = name;
  d.kind = DefectKind::radius;
  d.face = Face::upper;
  d.radius_change = radius_change;
  d.length = length;
  d.taper = taper;
  const Profile profile = dish_profile(mold.shape);
  const ProfileFoot middle = profile.at(profile.concave * profile.turn / 2, 0);
  d.centre = Vec3(x, -mold.shape.half_y - middle.point.x(), middle.point.y());
  // Fillets of radii r and r′ in a corner that turns by θ lie (r′ − r)(1/cos(θ/2) − 1) apart on the bisector.
  d.gap_change = radius_change * (1 / std::cos(profile.turn / 2) - 1);
  return d;
}

}  // namespace gapfront::synth
