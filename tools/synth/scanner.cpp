// The scanner: points spread evenly over the true faces, with noise, drop-out, clutter and holes.
#include <cmath>
#include "synth/plan.hpp"
#include "synth/synth.hpp"

namespace gapfront::synth {

// std::mt19937_64 is fixed by the standard to the last bit; the library's distributions are not.
double Random::uniform() { return static_cast<double>(engine_() >> 11) * 0x1p-53; }

double Random::gauss() {
  if (has_kept_) {
    has_kept_ = false;
    return kept_;
  }
  const double r = std::sqrt(-2 * std::log(1 - uniform())), a = 2 * M_PI * uniform();
  kept_ = r * std::sin(a);
  has_kept_ = true;
  return r * std::cos(a);
}

namespace {

/// Walks the outline of the dish at plan distance `walk` from its edge; gives the place at distance `s` beside it.
Vec2 dish_outline(const Shape& shape, double along, double walk, double s) {
  const double a = shape.half_x - shape.corner, b = shape.half_y - shape.corner;
  const double side[] = {2 * b, 2 * a, 2 * b, 2 * a};
  const Vec2 corner[] = {{a, -b}, {a, b}, {-a, b}, {-a, -b}};  // start of each side
  const double arc = M_PI / 2 * (shape.corner + walk);
  for (int i = 0;; i = (i + 1) % 4) {
    const double f = i * M_PI / 2;
    const Vec2 out(std::cos(f), std::sin(f)), ahead(-std::sin(f), std::cos(f));
    if (along < side[i]) return corner[i] + along * ahead + (shape.corner + s) * out;
    along -= side[i];
    if (along < arc) {
      const double g = f + along / (shape.corner + walk);
      return corner[(i + 1) % 4] + (shape.corner + s) * Vec2(std::cos(g), std::sin(g));
    }
    along -= arc;
  }
}

/// The same for the rib, at radius `walk` from its axis; place at radius r.
Vec2 rib_outline(const Shape& shape, double along, double walk, double r) {
  for (int i = 0;; i = 1 - i) {
    const double sign = i == 0 ? 1 : -1;
    if (along < 2 * shape.rib_x) return Vec2(sign * (along - shape.rib_x), shape.rib_y - sign * r);
    along -= 2 * shape.rib_x;
    if (along < M_PI * walk) {
      const double f = along / walk - M_PI / 2;
      return Vec2(sign * (shape.rib_x + r * std::cos(f)), shape.rib_y + sign * r * std::sin(f));
    }
    along -= M_PI * walk;
  }
}

}  // namespace

std::vector<Sample> sample_face(const Mold& mold, Face face, double spacing, double jitter, std::uint64_t seed) {
  const Shape& shape = mold.shape;
  const double offset = face == Face::upper ? mold.nominal : 0;
  Random random(seed);
  std::vector<Sample> out;
  const auto add = [&](double x, double y) {
    const Foot foot = mold.foot_at(x, y);
    const Vec3 p = mold.face_point(face, foot);
    out.push_back({p, mold.normal(face, p)});
  };
  const auto shake = [&] { return jitter * spacing * random.symmetric(); };
  const Profile dish = dish_profile(shape), rib = rib_profile(shape);

  // Levels: rows of a triangular grid over the base and the top of the rib. Rows keep the mean density 1/spacing².
  const double row = spacing * std::sqrt(std::sqrt(0.75)), step = spacing / std::sqrt(std::sqrt(0.75));
  const double bx = shape.half_x + dish.s1, by = shape.half_y + dish.s1;
  int parity = 0;
  for (double y = -by; y < by; y += row, parity ^= 1)
    for (double x = -bx + parity * step / 2; x < bx; x += step) {
      const Vec2 p{x + shake(), y + shake()};
      const double to_rib = plan_rib(shape, p).distance;
      if (plan_edge(shape, p).distance < dish.s1 && (to_rib < rib.s1 || to_rib > 0)) add(p.x(), p.y());
    }

  // Slopes and flange: rows along the outlines, spaced by the length of the cross-section of this very face.
  const double end = dish.length(offset) + shape.flange;
  const int rows = static_cast<int>(std::lround(end / row));
  for (int i = 0; i < rows; ++i) {
    const double u0 = (i + 0.5) * end / rows;
    const ProfileFoot at = dish.at(u0, offset);
    const double walk = at.point.x() + offset * at.normal.x();
    const double around = 4 * (shape.half_x + shape.half_y - 2 * shape.corner) + 2 * M_PI * (shape.corner + walk);
    const int n = static_cast<int>(std::lround(around / step));
    const double start = (i % 2) * 0.5;
    for (int k = 0; k < n; ++k) {
      const double s = dish.at(std::clamp(u0 + shake(), 0.0, end), offset).point.x();
      const double t = (k + start) * around / n + shake();
      const Vec2 p = dish_outline(shape, std::fmod(t + around, around), walk, s);
      add(p.x(), p.y());
    }
  }
  const double slope = rib.length(offset);
  const int rib_rows = static_cast<int>(std::lround(slope / row));
  for (int i = 0; i < rib_rows; ++i) {
    const double u0 = (i + 0.5) * slope / rib_rows;
    const ProfileFoot at = rib.at(u0, offset);
    const double walk = shape.rib_half_top - (at.point.x() + offset * at.normal.x());
    const double around = 4 * shape.rib_x + 2 * M_PI * walk;
    const int n = static_cast<int>(std::lround(around / step));
    for (int k = 0; k < n; ++k) {
      const double s = rib.at(std::clamp(u0 + shake(), 0.0, slope), offset).point.x();
      const double t = (k + (i % 2) * 0.5) * around / n + shake();
      const Vec2 p = rib_outline(shape, std::fmod(t + around, around), walk, shape.rib_half_top - s);
      add(p.x(), p.y());
    }
  }
  return out;
}

namespace {

/// The views of a half that lies open, turned into the tool frame: the upper half lies face up, that is upside down.
std::vector<Vec3> views_of(const Scanner& scanner, Face face) {
  std::vector<Vec3> out;
  for (const Vec3& v : scanner.views) {
    const Vec3 u = v.normalized();
    out.push_back(face == Face::upper ? Vec3(u.x(), -u.y(), -u.z()) : u);
  }
  return out;
}

bool returns(const Vec3& normal, const std::vector<Vec3>& views, const Scanner& scanner, Random& random) {
  double best = -1;
  for (const Vec3& v : views) best = std::max(best, v.dot(normal));
  const double angle = std::acos(std::clamp(best, -1.0, 1.0)) * 180 / M_PI;
  return random.uniform() >= (angle - scanner.grazing_from) / (scanner.grazing_to - scanner.grazing_from);
}

/// The point as measured.
Vec3 disturbed(const Vec3& p, const Vec3& normal, const Scanner& scanner, Random& random) {
  Vec3 out = p + scanner.noise * random.gauss() * normal;
  if (scanner.lateral_noise > 0) {
    const Vec3 t = normal.unitOrthogonal();
    out += scanner.lateral_noise * random.gauss() * t;
    out += scanner.lateral_noise * random.gauss() * normal.cross(t);
  }
  return out;
}

/// Half a millimetre above the flange the scanner still tells ball and flange apart.
bool is_proud(const Mold& mold, const Vec3& p, Face face) {
  const double height = mold.nominal_foot(p).distance;
  return face == Face::lower ? height > 0.5 : height < mold.nominal - 0.5;
}

/// Ball seated in this half: its free cap, standing proud of the flange.
void add_ball(const Mold& mold, const Ball& ball, Face face, const Scanner& scanner, const std::vector<Vec3>& views,
              Random& random, std::vector<Vec3>& out) {
  const double r = ball.diameter / 2;
  // Evenly spread points on the sphere by the golden angle; the turn about the axis is drawn.
  const int n = static_cast<int>(4 * M_PI * r * r / (scanner.ball_spacing * scanner.ball_spacing));
  const double turn = random.uniform() * 2 * M_PI, golden = M_PI * (3 - std::sqrt(5.0));
  for (int i = 0; i < n; ++i) {
    const double z = 1 - 2 * (i + 0.5) / n, w = std::sqrt(1 - z * z), f = turn + golden * i;
    const Vec3 normal(w * std::cos(f), w * std::sin(f), z);
    const Vec3 p = ball.centre + r * normal;
    if (!is_proud(mold, p, face) || !returns(normal, views, scanner, random)) continue;
    out.push_back(disturbed(p, normal, scanner, random));
  }
}

/// The same as a mesh of rings about its pole, in the mold's frame.
void add_ball(const Mold& mold, const Ball& ball, Face face, const Scanner& scanner, Random& random, Mesh& out) {
  const double r = ball.diameter / 2, up = face == Face::lower ? 1 : -1;
  const int rings = std::max(6, static_cast<int>(M_PI * r / scanner.ball_spacing)), around = 2 * rings;
  const int first = static_cast<int>(out.points.size());
  std::vector<char> proud;
  for (int k = 0; k <= rings; ++k)
    for (int i = 0; i < around; ++i) {
      const double t = M_PI * k / rings, f = 2 * M_PI * i / around;
      const Vec3 normal(std::sin(t) * std::cos(f), std::sin(t) * std::sin(f), up * std::cos(t));
      const Vec3 p = ball.centre + r * normal;
      proud.push_back(is_proud(mold, p, face));
      out.points.push_back(p + scanner.noise * random.gauss() * normal);
    }
  const auto add = [&](int a, int b, int c) {
    if (!proud[a] || !proud[b] || !proud[c]) return;
    if (up > 0)
      out.triangles.push_back({first + a, first + b, first + c});
    else
      out.triangles.push_back({first + a, first + c, first + b});
  };
  for (int k = 0; k < rings; ++k)
    for (int i = 0; i < around; ++i) {
      const int a = k * around + i, b = k * around + (i + 1) % around;
      if (k > 0) add(a, a + around, b);  // at the pole a ring is one point
      add(b, a + around, b + around);
    }
}

void add_clutter(const Mold& mold, Face face, const Scanner& scanner, Random& random, std::vector<Vec3>& out) {
  const double up = face == Face::lower ? 1 : -1;
  for (int i = 0; i < scanner.islands; ++i) {
    // Something the size of a clamp, a hand's breadth or two outside the flange.
    const double f = random.uniform() * 2 * M_PI, reach = 1.25 + 0.25 * random.uniform();
    const Vec3 c((mold.shape.half_x + mold.shape.flange) * reach * std::sqrt(2.0) * std::cos(f),
                 (mold.shape.half_y + mold.shape.flange) * reach * std::sqrt(2.0) * std::sin(f), -up * 30);
    for (int k = 0; k < 150; ++k) out.push_back(c + Vec3(12, 8, 4).cwiseProduct(random.triple()));
  }
  for (int i = 0; i < scanner.outliers; ++i)
    out.push_back(Vec3(260, 210, up * 30).cwiseProduct(random.triple()) + Vec3(0, 0, up * 45));
}

bool in_hole(const Vec3& p, Face face, const Scanner& scanner) {
  for (const Hole& h : scanner.holes)
    if (h.face == face && (p - h.centre).norm() < h.radius) return true;
  return false;
}

bool under_ball(const Vec3& p, const Mold& mold) {
  for (const Ball& b : mold.balls)
    if ((p - b.centre).norm() < b.diameter / 2 + 1) return true;  // the seat's edge hides in the ball's shadow
  return false;
}

std::uint64_t seed_of(const Scanner& scanner, Face face) { return scanner.seed * 2 + (face == Face::upper ? 1 : 0); }

}  // namespace

Poses make_poses(std::uint64_t seed) {
  Random random(seed * 7919 + 17);
  const auto pose = [&](double flip) {
    const Vec3 axis = random.triple().normalized();
    const double tip = 0.35 * random.uniform(), turn = 2 * M_PI * random.uniform();
    Rigid out = Rigid::Identity();
    out.linear() =
        (Eigen::AngleAxisd(tip, axis) * Eigen::AngleAxisd(turn, Vec3::UnitZ()) * Eigen::AngleAxisd(flip, Vec3::UnitX()))
            .toRotationMatrix();
    out.translation() = Vec3(400, 400, 200).cwiseProduct(random.triple()) + Vec3(0, 0, 600);
    return out;
  };
  Poses poses;
  poses.lower = pose(0);
  poses.upper = pose(M_PI);  // lies face up beside the lower half
  return poses;
}

std::vector<Vec3> scan(const Mold& mold, Face face, const Scanner& scanner, const Rigid& pose) {
  const std::uint64_t seed = seed_of(scanner, face);
  Random random(seed + 1000003);
  const std::vector<Vec3> views = views_of(scanner, face);
  std::vector<Vec3> out;
  for (const Sample& s : sample_face(mold, face, scanner.spacing, scanner.jitter, seed)) {
    if (in_hole(s.point, face, scanner) || under_ball(s.point, mold) || !returns(s.normal, views, scanner, random))
      continue;
    out.push_back(disturbed(s.point, s.normal, scanner, random));
  }
  for (const Ball& b : mold.balls) add_ball(mold, b, face, scanner, views, random, out);
  add_clutter(mold, face, scanner, random, out);
  for (Vec3& p : out) p = pose * p;
  return out;
}

Mesh scan_mesh(const Mold& mold, Face face, const Scanner& scanner, const Rigid& pose) {
  Random random(seed_of(scanner, face) + 2000003);
  const double x1 = mold.shape.half_x + mold.shape.flange, y1 = mold.shape.half_y + mold.shape.flange;
  const int nx = static_cast<int>(2 * x1 / scanner.spacing) + 1, ny = static_cast<int>(2 * y1 / scanner.spacing) + 1;
  Mesh mesh;
  std::vector<char> hidden;
  for (int j = 0; j < ny; ++j)
    for (int i = 0; i < nx; ++i) {
      const Vec3 p = mold.face_point(face, mold.foot_at(-x1 + 2 * x1 * i / (nx - 1), -y1 + 2 * y1 * j / (ny - 1)));
      hidden.push_back(under_ball(p, mold));
      mesh.points.push_back(p + scanner.noise * random.gauss() * mold.normal(face, p));
    }
  const auto add = [&](int a, int b, int c) {
    if (hidden[a] || hidden[b] || hidden[c]) return;
    if (face == Face::lower)
      mesh.triangles.push_back({a, b, c});
    else
      mesh.triangles.push_back({a, c, b});
  };
  for (int j = 0; j + 1 < ny; ++j)
    for (int i = 0; i + 1 < nx; ++i) {
      const int a = j * nx + i, b = a + 1, c = a + nx, d = c + 1;
      add(a, b, d);
      add(a, d, c);
    }
  for (const Ball& b : mold.balls) add_ball(mold, b, face, scanner, random, mesh);
  for (Vec3& p : mesh.points) p = pose * p;
  return mesh;
}

}  // namespace gapfront::synth
