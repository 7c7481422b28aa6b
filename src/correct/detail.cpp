// What the work order says of a chosen correction: where with a tape, how deep where, and the template.
#include <Eigen/Eigenvalues>
#include <algorithm>
#include <cmath>
#include <map>
#include <optional>
#include <tuple>

#include "core/joined_sets.hpp"
#include "core/outline.hpp"
#include "core/places.hpp"
#include "correct/candidates.hpp"
#include "correct/find_place.hpp"
#include "correct/flatten.hpp"
#include "correct/smooth.hpp"
#include "correct/steps.hpp"

namespace gapfront::correct {
namespace {

// More than this and the paper does not lie on the face (asked for).
constexpr double kMostStretch = 0.02;
// Glass drapes, and its edge lies within some millimetres of where it should: a seam through a patch would be worse
// than a template whose paper is pressed on in folds (own choice).
constexpr double kMostStretchOfGlass = 0.1;
// A template is halved at most so often: sixteen pieces are past what anyone lays out.
constexpr int kMostCuts = 4;
// Pieces below this are crumbs of the cut, mm².
constexpr double kCrumb = 50;
// A cut this short is laid edge to edge by eye, mm.
constexpr double kShortCut = 20;
// A mark lies on the cut, at zero from it but for the rounding and the mesh's corners; another cut's parts are farther.
constexpr double kOnCut = 0.5;
// A depth stop right on a cut is on both parts, lest rounding take it from both, mm.
constexpr double kSlack = 1e-9;

/// Depth on a grid along the two tool axes that lie best in the face, and at the deepest node; in shop steps, and only
/// where that is not nothing.
std::vector<DepthStop> depth_stops(const BenchHalf& face, const Correction& c, const std::vector<double>& depth,
                                   double spacing, double step) {
  Vec3 normal = Vec3::Zero();
  int deepest = -1;
  for (std::size_t i = 0; i < depth.size(); ++i)
    if (c.inside[i] > 0) {
      normal += face.normals[i];
      if (deepest < 0 || depth[i] > depth[deepest]) deepest = static_cast<int>(i);
    }
  if (deepest < 0) return {};
  int drop = 0;
  normal.cwiseAbs().maxCoeff(&drop);
  const int u = (drop + 1) % 3, v = (drop + 2) % 3;
  std::map<std::pair<int, int>, DepthStop> grid;
  for (const auto& t : face.face.triangles) {
    if (std::max({c.inside[t[0]], c.inside[t[1]], c.inside[t[2]]}) <= 0) continue;
    const Vec3 &a = face.face.points[t[0]], &b = face.face.points[t[1]], &d = face.face.points[t[2]];
    const double det = (b[u] - a[u]) * (d[v] - a[v]) - (b[v] - a[v]) * (d[u] - a[u]);
    if (det == 0) continue;
    for (int p = static_cast<int>(std::ceil(std::min({a[u], b[u], d[u]}) / spacing));
         p * spacing <= std::max({a[u], b[u], d[u]}); ++p)
      for (int q = static_cast<int>(std::ceil(std::min({a[v], b[v], d[v]}) / spacing));
           q * spacing <= std::max({a[v], b[v], d[v]}); ++q) {
        const double x = p * spacing - a[u], y = q * spacing - a[v];
        const double s = (x * (d[v] - a[v]) - y * (d[u] - a[u])) / det,
                     w = (y * (b[u] - a[u]) - x * (b[v] - a[v])) / det;
        if (s < 0 || w < 0 || s + w > 1) continue;
        const auto mix = [&](const std::vector<double>& f) {
          return (1 - s - w) * f[t[0]] + s * f[t[1]] + w * f[t[2]];
        };
        if (mix(c.inside) > 0) grid.insert({{q, p}, {a + s * (b - a) + w * (d - a), mix(depth)}});
      }
  }
  std::vector<DepthStop> out{{face.face.points[deepest], depth[deepest]}};
  for (const auto& [key, stop] : grid) out.push_back(stop);
  for (auto& stop : out) stop.depth = in_steps(stop.depth, step);
  out.erase(std::remove_if(out.begin(), out.end(), [](const auto& s) { return s.depth == 0; }), out.end());
  for (std::size_t k = 0; k < out.size(); ++k) out[k].number = static_cast<int>(k) + 1;
  return out;
}

/// The levels of the contours: whole steps below the greatest depth, each of whole shop steps.
std::vector<double> levels(double most, double contour, double shop) {
  const double step = std::max(shop, in_steps(contour, shop));
  std::vector<double> out;
  for (int k = 1; k * step < most; ++k) out.push_back(k * step);
  return out;
}

struct Patch {
  Mesh mesh;
  std::vector<Vec3> normals;
  std::vector<int> node;  ///< of the sheet, per point
};

/// The connected parts of the triangles where `g` is somewhere positive.
std::vector<Patch> patches(const BenchHalf& face, const std::vector<double>& g) {
  std::vector<int> owner(g.size(), -1);
  std::vector<std::array<int, 3>> used;
  for (const auto& t : face.face.triangles) {
    if (std::max({g[t[0]], g[t[1]], g[t[2]]}) <= 0) continue;
    used.push_back(t);
    for (int i : t)
      if (owner[i] < 0) owner[i] = i;
    for (int k = 0; k < 2; ++k) join(owner, t[k], t[k + 1]);
  }
  std::map<int, Patch> parts;
  std::vector<int> index(g.size(), -1);
  for (auto t : used) {
    Patch& p = parts[root(owner, t[0])];
    for (int& i : t) {
      if (index[i] < 0) {
        index[i] = static_cast<int>(p.node.size());
        p.node.push_back(i), p.mesh.points.push_back(face.face.points[i]), p.normals.push_back(face.normals[i]);
      }
      i = index[i];
    }
    p.mesh.triangles.push_back(t);
  }
  std::vector<Patch> out;
  for (auto& [key, p] : parts) out.push_back(std::move(p));
  return out;
}

/// Where a place on the patch lies once that is flat: the same share of the flat triangle, and of `field` there.
/// Nothing when the place is in none of its triangles.
std::optional<std::pair<Vec3, double>> on_paper(const Patch& p, const std::vector<Vec3>& flat,
                                                const std::vector<double>& field, const Vec3& at) {
  for (const auto& t : p.mesh.triangles) {
    const Vec3 &a = p.mesh.points[t[0]], n = (p.mesh.points[t[1]] - a).cross(p.mesh.points[t[2]] - a);
    if (std::abs((at - a).dot(n)) > 1e-6 * n.norm()) continue;  // in another plane
    const auto shares = shares_in_triangle(p.mesh, t, at);
    if (!shares || shares->minCoeff() < -1e-9) continue;
    const double v = (*shares)[1], w = (*shares)[2];
    const auto mix = [&](const auto& f) { return f[t[0]] + v * (f[t[1]] - f[t[0]]) + w * (f[t[2]] - f[t[0]]); };
    return std::pair(Vec3(flat[t[0]] + v * (flat[t[1]] - flat[t[0]]) + w * (flat[t[2]] - flat[t[0]])), mix(field));
  }
  return std::nullopt;
}

/// Two places on the cut where `side` is zero, a quarter of its length from either end, inside the outline.
std::vector<Vec3> places_on_cut(const Patch& p, const std::vector<double>& side, const std::vector<double>& inside) {
  std::vector<Vec3> out;
  for (const auto& line : level_lines(p.mesh, side, 0)) {
    std::vector<Vec3> kept;
    std::vector<double> run{0};
    for (const Vec3& q : line) {
      const auto there = on_paper(p, p.mesh.points, inside, q);
      if (!there || there->second <= 0) continue;
      if (!kept.empty()) run.push_back(run.back() + (q - kept.back()).norm());
      kept.push_back(q);
    }
    // A shorter meeting needs no two marks, and has no room for them.
    if (run.back() < kShortCut) continue;
    for (const double fraction : {0.25, 0.75}) {
      const auto k = std::lower_bound(run.begin() + 1, run.end(), fraction * run.back()) - run.begin();
      const double s = (fraction * run.back() - run[k - 1]) / (run[k] - run[k - 1]);
      out.push_back(kept[k - 1] + s * (kept[k] - kept[k - 1]));
    }
  }
  return out;
}

/// Turned and shifted so that the tool axis that lies best in the patch runs along the paper's x at the origin. The
/// mark at the origin is the middle of the work, which the tapes find, where the patch has it; else the middle of the
/// patch.
void set_down(const Patch& p, const Vec3& centre, int middle, std::vector<Vec3>& flat, Template& t) {
  std::size_t nearest = 0;
  for (std::size_t i = 1; i < flat.size(); ++i)
    if ((p.mesh.points[i] - centre).squaredNorm() < (p.mesh.points[nearest] - centre).squaredNorm()) nearest = i;
  for (std::size_t i = 0; i < flat.size(); ++i)
    if (p.node[i] == middle) nearest = i;
  t.origin = p.mesh.points[nearest];
  const Vec3 shift = flat[nearest];
  Eigen::Matrix2d spread = Eigen::Matrix2d::Zero();
  Eigen::Matrix<double, 2, 3> along = Eigen::Matrix<double, 2, 3>::Zero();
  for (std::size_t i = 0; i < flat.size(); ++i) {
    const Eigen::Vector2d f = (flat[i] - shift).head<2>();
    spread += f * f.transpose(), along += f * (p.mesh.points[i] - t.origin).transpose();
  }
  // Least squares: where each tool coordinate grows on the paper. x, unless it points mostly out of the face.
  const Eigen::Matrix<double, 2, 3> grow = spread.inverse() * along;
  const int axis = grow.col(0).norm() > 0.5 || grow.col(0).norm() > grow.col(1).norm() ? 0 : 1;
  t.along = "xy"[axis];
  const Eigen::Vector2d x = grow.col(axis).normalized();
  for (auto& f : flat) {
    const Vec3 d = f - shift;
    f = Vec3(d.x() * x.x() + d.y() * x.y(), d.y() * x.x() - d.x() * x.y(), 0);
  }
}

std::vector<double> pick(const std::vector<double>& f, const std::vector<int>& node) {
  std::vector<double> out;
  for (const int i : node) out.push_back(f[i]);
  return out;
}

/// The parts of a template, what each was laid flat from, and the places on the cuts between them.
struct Sheets {
  struct Source {
    Patch patch;
    std::vector<Vec3> flat;
    std::vector<double> inner;  ///< mm inside outline and cuts
  };
  std::vector<Template> parts;
  std::vector<Source> sources;
  std::vector<Vec3> marks;
};

/// Gives each depth stop to the parts that it lies in: two right on a cut. Where cuts cross, the parts' corners are
/// rounded off by the mesh; a stop there goes to the nearest part, lest it be lost.
void place_stops(Sheets& s, const std::vector<DepthStop>& stops) {
  for (const auto& stop : stops) {
    double best = -1e300;
    std::vector<std::tuple<double, std::size_t, Vec3>> on;
    for (std::size_t k = 0; k < s.parts.size(); ++k)
      if (const auto at = on_paper(s.sources[k].patch, s.sources[k].flat, s.sources[k].inner, stop.at))
        on.emplace_back(at->second, k, at->first), best = std::max(best, at->second);
    for (const auto& [inside, k, at] : on)
      if (inside >= std::min(best, -kSlack)) s.parts[k].stops.push_back({at, stop.depth, stop.number});
  }
}

/// Gives the marks to the parts that meet there, by the letters a, b, c…
void join(Sheets& s) {
  int named = 0;
  for (const Vec3& mark : s.marks) {
    std::vector<std::pair<std::size_t, Eigen::Vector2d>> on;
    for (std::size_t k = 0; k < s.parts.size(); ++k)
      if (const auto at = on_paper(s.sources[k].patch, s.sources[k].flat, s.sources[k].inner, mark);
          at && at->second > -kOnCut)
        on.emplace_back(k, at->first.head<2>());
    if (on.size() < 2) continue;  // the other part was a crumb
    const std::string name(1, static_cast<char>('a' + named++ % 26));
    for (const auto& [k, at] : on) s.parts[k].joins.push_back({name, at});
  }
}

/// The directions in which the tapes leave the mark, on the paper: what a step on the face around the mark is there.
std::vector<PaperRay> rays_from(const Patch& p, const std::vector<Vec3>& flat, int middle, const Correction& c) {
  const auto it = std::find(p.node.begin(), p.node.end(), middle);
  if (it == p.node.end()) return {};
  const int at = static_cast<int>(it - p.node.begin());
  std::vector<int> near;
  for (const auto& t : p.mesh.triangles)
    if (std::count(t.begin(), t.end(), at))
      for (const int i : t)
        if (i != at) near.push_back(i);
  Eigen::MatrixXd on_tool(static_cast<long>(near.size()), 3), paper(static_cast<long>(near.size()), 2);
  for (long r = 0; r < on_tool.rows(); ++r) {
    on_tool.row(r) = (p.mesh.points[near[r]] - p.mesh.points[at]).transpose();
    paper.row(r) = (flat[near[r]] - flat[at]).head<2>().transpose();
  }
  const Vec3 normal = p.normals[at];
  std::vector<PaperRay> out;
  for (const auto& t : c.tape) {
    if (t.way == Way::along_edge || t.line.size() < 2) continue;
    std::size_t back = t.line.size() - 2;
    while (back > 0 && (t.line[back] - t.line.back()).norm() < 1) --back;
    Vec3 d = t.line[back] - t.line.back();
    d -= d.dot(normal) * normal;
    // Least squares by the face's own plane: the normal has no share in it.
    const Eigen::Matrix3d square = on_tool.transpose() * on_tool + normal * normal.transpose();
    const Eigen::Vector2d towards = (square.inverse() * on_tool.transpose() * paper).transpose() * d;
    if (towards.norm() > 1e-9) out.push_back({t.from, towards.normalized()});
  }
  return out;
}

/// Lays what `cut` leaves of the correction flat; where it would stretch too much, both halves of it.
bool add_templates(const BenchHalf& face, const Correction& c, const std::vector<double>& depth,
                   const std::vector<double>& steps, const std::vector<double>& cut, int cuts, int middle,
                   Sheets& out) {
  std::vector<double> work(cut.size()), core(cut.size());
  for (std::size_t i = 0; i < cut.size(); ++i) {
    core[i] = std::min(c.inside[i], cut[i]);
    work[i] = std::min(c.inside[i] + c.blend, cut[i]);
  }
  for (const Patch& p : patches(face, work)) {
    double area = 0;
    Vec3 centre = Vec3::Zero();
    for (const auto& t : p.mesh.triangles) {
      const Vec3 &a = p.mesh.points[t[0]], &b = p.mesh.points[t[1]], &d = p.mesh.points[t[2]];
      const double one = 0.5 * (b - a).cross(d - a).norm();
      area += one, centre += one / 3 * (a + b + d);
    }
    const auto inner = pick(core, p.node);
    if (area < kCrumb || *std::max_element(inner.begin(), inner.end()) <= 0) continue;
    centre /= area;
    Flat flat = lay_flat(p.mesh, p.normals);
    Template t;
    t.stretch = flat.stretch;
    if (t.stretch > (c.kind == Kind::reinforcement_patch ? kMostStretchOfGlass : kMostStretch)) {
      if (cuts == 0) return false;
      Eigen::Matrix3d spread = Eigen::Matrix3d::Zero();
      for (const Vec3& q : p.mesh.points) spread += (q - centre) * (q - centre).transpose();
      const Vec3 across = Eigen::SelfAdjointEigenSolver<Eigen::Matrix3d>(spread).eigenvectors().col(2);
      // Only this part: nodes of the others are cut off.
      std::vector<double> here(cut.size(), -1), there(cut.size(), -1), sides;
      for (const int i : p.node) {
        const double side = across.dot(face.face.points[i] - centre);
        sides.push_back(side);
        here[i] = std::min(cut[i], side), there[i] = std::min(cut[i], -side);
      }
      for (const Vec3& q : places_on_cut(p, sides, inner)) out.marks.push_back(q);
      if (!add_templates(face, c, depth, steps, here, cuts - 1, middle, out) ||
          !add_templates(face, c, depth, steps, there, cuts - 1, middle, out))
        return false;
      continue;
    }
    set_down(p, centre, middle, flat.at, t);
    t.rays = rays_from(p, flat.at, middle, c);
    const Mesh paper{flat.at, p.mesh.triangles};
    for (const Vec3& q : smooth(outline_of(paper, inner))) t.outline.emplace_back(q.head<2>());
    const auto add_lines = [&](const std::vector<double>& f, double level, double shown) {
      for (const auto& line : level_lines(paper, f, level)) t.contours.push_back({shown, smooth(line)});
    };
    const auto d = pick(depth, p.node);
    for (const double level : steps) add_lines(d, level, level);
    if (c.blend > 0) add_lines(pick(c.inside, p.node), -c.blend, 0);
    out.parts.push_back(std::move(t));
    out.sources.push_back({p, flat.at, inner});
  }
  return true;
}

}  // namespace

std::vector<Reference> tape_references(const CorrectOptions& o) {
  std::vector<Reference> out = o.references;
  for (const auto& s : o.stations)
    if (!s.proposed) out.push_back({s.name, s.at, 0, Mark::station});  // nothing marks a proposed one on the tool
  return out;
}

void add_details(const CorrectInput& in, const CorrectOptions& o, Correction& c) {
  const BenchHalf face = half_of(in, c.face == "upper");
  const int middle = middle_node(face, c);
  if (c.kind == Kind::vent_enlarge) {
    c.facing = middle >= 0 ? face.normals[middle] : c.facing;  // about the vent's own middle, which no tape has to find
  } else if (c.kind != Kind::shim && middle >= 0) {
    c.centre = face.face.points[middle];
    c.facing = face.normals[middle];
    const Surroundings around(face, face.upper ? in.upper_scan : in.lower_scan);
    Finding found = find_place(face, around, tape_references(o), middle);
    c.tape = std::move(found.tape), c.tape_side = found.side;
  }
  if (c.inside.size() != in.sheet.size()) return;
  std::vector<double> depth(in.sheet.size(), 0);
  for (std::size_t i = 0; i < depth.size(); ++i) depth[i] = std::abs(c.gap_change[i]);
  const std::vector<double> steps = levels(*std::max_element(depth.begin(), depth.end()), o.contour_step, o.shop_step);
  for (const double level : steps)
    for (const auto& line : level_lines(face.face, depth, level)) c.contours.push_back({level, smooth(line)});
  if (c.kind == Kind::build_up || c.kind == Kind::relief)
    c.stops = depth_stops(face, c, depth, o.stop_spacing, o.shop_step);
  if (c.kind == Kind::radius_packing) {
    c.no_template = Message("order.roving-packed-along-radius");
    return;
  }
  Sheets sheets;
  if (add_templates(face, c, depth, steps, std::vector<double>(in.sheet.size(), 1e9), kMostCuts, middle, sheets)) {
    place_stops(sheets, c.stops);
    join(sheets);
    c.templates = std::move(sheets.parts);
  } else {
    c.no_template = Message("order.face-curved-so-much", {arg::fraction(kMostStretch, 0), 1L << kMostCuts});
  }
  if (c.templates.size() > 1)
    for (std::size_t k = 0; k < c.templates.size(); ++k) c.templates[k].part = static_cast<int>(k + 1);
}

}  // namespace gapfront::correct
