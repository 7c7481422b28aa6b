// A little simulator of a two-half mold and of the scanner that measures it, with exact truth.
// All data made by it is invented. Lengths are mm; coordinates are of the tool frame, mold closed, unless said.
#pragma once
#include <cstdint>
#include <functional>
#include <random>
#include <string>
#include <vector>
#include "gapfront/geometry.hpp"

namespace gapfront::synth {

enum class Face { lower, upper };
enum class DefectKind {
  tilt,    ///< the upper half sits high at one corner; the motion itself is Mold::closing
  local,   ///< smooth round low or high area on one face
  wear,    ///< the same, its depth grown with the cycles
  radius,  ///< over a stretch of one side the bottom fillet of one face has another radius (a race-track)
};
const char* to_string(Face);
const char* to_string(DefectKind);

/// A planted error. `centre` lies on the nominal lower face; `gap_change` is the greatest change of the gap along
/// the normal, positive where the gap is wide.
struct Defect {
  std::string name;
  DefectKind kind = DefectKind::local;
  Face face = Face::lower;
  Vec3 centre = Vec3::Zero();
  double gap_change = 0;
  double radius = 0;     ///< local, wear: change = gap_change·(1 − r²)² with r = distance from the centre / radius
  double per_cycle = 0;  ///< wear: gap_change per cycle, mm
  double radius_change = 0;  ///< radius: fillet radius of the face minus its nominal one, mm
  double length = 0;         ///< radius: length of the stretch at half effect, along the side, mm
  double taper = 0;          ///< radius: length over which each end fades out, mm
};

/// A dished panel pressed down from a flange at z = 0: flat base, draft walls, concentric radii, plan-view corners,
/// and a rib (stadium in plan) that stands up from the base.
struct Shape {
  double half_x = 180, half_y = 130;           ///< to the edge of the dish (end of the top radius)
  double corner = 60;                          ///< plan radius at that edge
  double depth = 45, draft_deg = 20;           ///< draft measured from the vertical
  double bottom_radius = 18, top_radius = 16;  ///< lower face; the upper face differs by the nominal gap
  double flange = 48, seal = 12;               ///< width of the flange, and of its part inside the seal line
  double rib_x = 50, rib_y = 48;               ///< rib axis from (−rib_x, rib_y) to (rib_x, rib_y)
  double rib_height = 8, rib_half_top = 12, rib_radius = 15;
};

/// Foot of a place on the nominal lower face.
struct Foot {
  Vec3 point, normal;  ///< normal points into the cavity
  double distance;     ///< signed, positive on the cavity side
};

struct Ball {
  std::string name;
  Vec3 centre;
  double diameter = 20;
};
struct Station {
  std::string name;
  Vec3 at;
  double high = 0;
};  ///< high: flange gap there minus nominal, mm

/// The mold as it closes. Plain data; copy it, change it, ask again.
struct Mold {
  Shape shape;
  double nominal = 3;
  double tolerance = 0.3;
  double cycles = 0;
  std::vector<Defect> defects;
  Rigid closing = Rigid::Identity();  ///< motion of the upper face from its nominal closed place
  std::vector<Ball> balls;            ///< the same tool-frame places for both halves, closed
  std::vector<Station> stations;
  /// Corrections to try: thickness of material added (negative: taken away), as a function of the foot on the
  /// nominal lower face. Not written to the truth file.
  std::vector<std::function<double(const Vec3&foot)>> added_lower, added_upper;

  Foot nominal_foot(const Vec3&) const;
  /// Height of the face over the nominal lower face, along its normal, at a foot; before `closing`.
  double height(Face, const Foot&) const;
  /// Point of the face that belongs to a foot.
  Vec3 face_point(Face, const Foot&) const;
  /// Zero on the face, negative below and positive above it; not a distance.
  double level(Face, const Vec3&) const;
  /// Nearest point of the face, by iteration to 1e-9 mm; right within about 10 mm of it.
  Vec3 nearest(Face, const Vec3&) const;
  /// Unit normal of the face at a point of it, into the cavity.
  Vec3 normal(Face, const Vec3& on_face) const;
  /// Distance to the face; negative on the tool's side of it.
  double distance(Face, const Vec3&) const;

  /// Diameter of the ball that touches the lower face at the point nearest to `at`, and the upper face.
  double gap_ball(const Vec3& at) const;
  /// Length from that point to the upper face along the lower normal.
  double gap_along_normal(const Vec3& at) const;
  Vec3 project_lower(const Vec3& at) const { return nearest(Face::lower, at); }
  Vec3 lower_normal(const Vec3& on_lower) const { return normal(Face::lower, on_lower); }
  /// Signed distance in plan from the dish edge, positive over the flange.
  double edge_distance(const Vec3&) const;
  bool inside_seal(const Vec3& p) const { return edge_distance(p) <= shape.seal; }
  /// Nominal lower face over a place in plan.
  Foot foot_at(double x, double y) const;
  /// Closed polygon of the seal line.
  std::vector<Vec3> seal_polygon() const;
};

/// The mold without defects: balls in their seats, four stations S1 (−x −y), S2 (+x −y), S3 (+x +y), S4 (−x +y).
Mold make_mold();
/// Lifts the upper half at S1 by `high`, at its two neighbours by half of it, and at S3 by nothing.
void lift_corner(Mold&, double high);
/// A low (gap wide) or high area at a place in plan.
Defect local_area(const Mold&, const std::string& name, Face, double x, double y, double radius, double gap_change);
Defect wear_patch(const Mold&, const std::string& name, double x, double y, double radius, double per_cycle);
/// Race-track in the bottom fillet on the side −y, centred at x: the upper nose has a radius larger by `radius_change`.
Defect radius_lane(const Mold&, const std::string& name, double x, double length, double taper, double radius_change);

// ---- scanner ----

/// Deterministic random numbers, the same with every standard library.
class Random {
 public:
  explicit Random(std::uint64_t seed) : engine_(seed) {}
  double uniform();  ///< in [0, 1)
  double gauss();    ///< standard normal (Box–Muller)
  double symmetric() { return 2 * uniform() - 1; }
  Vec3 triple() { return Vec3{symmetric(), symmetric(), symmetric()}; }  ///< braces: drawn from left to right

 private:
  std::mt19937_64 engine_;
  double kept_ = 0;
  bool has_kept_ = false;
};

struct Hole {
  Face face;
  Vec3 centre;
  double radius;
};

struct Scanner {
  double spacing = 1.5;       ///< mean distance of neighbours on the true surface
  double jitter = 0.25;       ///< largest shift of a point in the surface, in spacings
  double noise = 0.018;       ///< σ along the normal
  double lateral_noise = 0;   ///< σ in the surface
  double ball_spacing = 0.8;  ///< on the tooling balls (a closer pass)
  /// Directions towards the scanner, of a half lying open with its face up.
  std::vector<Vec3> views{{0, 0, 1}, {0.7, 0, 0.7}, {-0.7, 0, 0.7}, {0, 0.7, 0.7}, {0, -0.7, 0.7}};
  double grazing_from = 60,
         grazing_to = 80;   ///< angle from the normal at which returns begin to fail, and all fail, degrees
  int islands = 2;          ///< blobs of clutter (clamps, bench) well away from the half
  int outliers = 25;        ///< lone points in the air around it
  std::vector<Hole> holes;  ///< no returns there
  std::uint64_t seed = 1;
};

struct Poses {
  Rigid lower = Rigid::Identity(), upper = Rigid::Identity();
};  ///< tool frame → scan frame
Poses make_poses(std::uint64_t seed);

/// Points of one half as the scanner gives them, in the scan's own frame.
std::vector<Vec3> scan(const Mold&, Face, const Scanner&, const Rigid& pose);
/// Points on the face only, in the tool frame, with the true normals; no noise, no drop-out.
struct Sample {
  Vec3 point, normal;
};
std::vector<Sample> sample_face(const Mold&, Face, double spacing, double jitter, std::uint64_t seed);
/// Triangulated face over a plan grid, in the scan's frame, with noise.
Mesh scan_mesh(const Mold&, Face, const Scanner&, const Rigid& pose);

// ---- files ----

enum class Format { ply, pcd, asc, stl };
const char* extension(Format);
void write_cloud(const std::string& path, const std::vector<Vec3>&, Format);
void write_stl(const std::string& path, const Mesh&);

/// Everything known about a pair of scans.
struct Truth {
  std::string scenario, story;
  Mold mold;
  Poses poses;
  Scanner scanner;
};
void save_truth(const std::string& path, const Truth&);
/// Throws std::runtime_error when the file cannot be read.
Truth load_truth(const std::string& path);

// ---- scenarios ----

struct Overrides {
  double spacing = 0, noise = -1;
  std::uint64_t seed = 0;
  Format format = Format::ply;
};  ///< 0, −1, 0: as designed
std::vector<std::string> scenario_names();
/// The dates of a scenario, oldest first. Throws std::runtime_error for an unknown name.
std::vector<Truth> scenario(const std::string& name, const Overrides& = {});
/// Writes scans, truth files and job files; returns the names of the files.
std::vector<std::string> write_scenario(const std::string& name, const std::string& folder, const Overrides& = {});

/// Checks the generator against itself; prints figures; number of failures.
int selfcheck();

}  // namespace gapfront::synth
