#include "gapfront/confirm.hpp"

#include <algorithm>
#include <cmath>

#include "core/area_mean.hpp"
#include "core/places.hpp"

namespace gapfront::correct {
namespace {

/// Reads the new gap at a place: linear in the triangle around it, or nothing where the new sheet is not near or not
/// measured.
class Reader {
 public:
  Reader(const Sheet& sheet, const GapMap& gap)
      : sheet_(sheet), gap_(gap), points_(sheet.mesh.points, {.spacing = 1, .noise = 0}) {
    around_.resize(sheet.size());
    for (std::size_t t = 0; t < sheet.mesh.triangles.size(); ++t)
      for (const int i : sheet.mesh.triangles[t]) around_[i].push_back(static_cast<int>(t));
  }
  using Reading = std::vector<std::pair<int, double>>;  ///< node, its share
  Reading at(const Vec3& p) const {
    const Surface::Found near = points_.nearest(p);
    const int i = near.index;
    if (i < 0 || !gap_.nodes[i].measured) return {};
    Reading out{{i, 1.0}};
    double edge = 0;
    bool inside = false;
    for (const int t : around_[i]) {
      const auto& c = sheet_.mesh.triangles[t];
      const Vec3& a = sheet_.mesh.points[c[0]];
      edge = std::max({edge, (sheet_.mesh.points[c[1]] - a).norm(), (sheet_.mesh.points[c[2]] - a).norm()});
      const auto shares = shares_in_triangle(sheet_.mesh, c, p);
      if (inside || !shares || shares->minCoeff() < 0) continue;
      if (!gap_.nodes[c[0]].measured || !gap_.nodes[c[1]].measured || !gap_.nodes[c[2]].measured) continue;
      out = {{c[0], (*shares)[0]}, {c[1], (*shares)[1]}, {c[2], (*shares)[2]}}, inside = true;
    }
    if (near.distance > edge) return {};  // beyond the new sheet
    return out;
  }

 private:
  const Sheet& sheet_;
  const GapMap& gap_;
  Surface points_;
  std::vector<std::vector<int>> around_;
};

/// A result from before fit areas were kept takes their mean over the new scans: mostly the same scanner at work.
GapMap with_fit_areas(GapMap then, const GapMap& now) {
  double sum = 0, count = 0;
  for (const NodeGap& n : now.nodes)
    if (n.measured) sum += n.fit_area, ++count;
  for (NodeGap& n : then.nodes)
    if (!(n.fit_area > 0) && count > 0) n.fit_area = sum / count;
  return then;
}

Message outcome(const Confirmed& c) {
  if (c.En <= 1) return Message("work.did-what-predicted");
  const double moved = c.achieved - c.before, wanted = c.predicted - c.before;
  // Within U nothing moved at all, whatever the sign.
  if (moved * wanted < 0 && std::abs(moved) > c.achieved_U) return Message("work.gap-went-other-way");
  return Message(std::abs(moved) < std::abs(wanted) ? "work.did-less-than-predicted" : "work.did-more-than-predicted");
}

}  // namespace

std::vector<Confirmed> confirm(const Prediction& then, const Sheet& sheet, const GapMap& gap) {
  const GapMap gap_then = with_fit_areas(then.gap, gap);
  const Reader reader(sheet, gap);
  const SharedFits shared_then = shared_fits(then.sheet, gap_then), shared_now = shared_fits(sheet, gap);
  const std::size_t n = then.sheet.size();
  std::vector<char> worked(n, 0);  // by something else than shims
  const auto change = [](const Correction& c, std::size_t i) {
    return i < c.gap_change.size() ? c.gap_change[i] : 0.0;
  };
  for (const int k : then.plan.chosen) {
    const Correction& c = then.plan.candidates[k];
    if (c.kind == Kind::shim) continue;
    for (std::size_t i = 0; i < n; ++i) worked[i] |= change(c, i) != 0;
  }
  std::vector<Confirmed> out;
  const auto test = [&](const Correction& c, const std::string& part, const auto& takes_part) {
    Confirmed r;
    r.correction = c.name, r.part = part, r.kind = c.kind;
    std::vector<double> of_then(n, 0), of_now(sheet.size(), 0);  // weights of the means
    for (std::size_t i = 0; i < n; ++i) {
      if (!takes_part(i) || !std::isfinite(then.before[i]) || !std::isfinite(then.after[i])) continue;
      const auto now = reader.at(then.sheet.mesh.points[i]);
      if (now.empty()) continue;
      const double a = then.sheet.area[i];
      r.area += a, of_then[i] = a;
      r.before += a * then.before[i], r.predicted += a * then.after[i];
      for (const auto& [j, fraction] : now) of_now[j] += a * fraction, r.achieved += a * fraction * gap.nodes[j].gap;
    }
    r.can_tell = r.area > 0;
    if (!r.can_tell) {
      r.says = Message("work.nothing-can-said-two");
    } else {
      r.before /= r.area, r.predicted /= r.area, r.achieved /= r.area;
      for (double& h : of_then) h /= r.area;
      for (double& h : of_now) h /= r.area;
      r.predicted_U = gap.coverage * sum_errors(then.sheet, gap_then, shared_then, of_then).u();
      r.achieved_U = gap.coverage * sum_errors(sheet, gap, shared_now, of_now).u();
      const double U = std::hypot(r.predicted_U, r.achieved_U);
      r.En = std::abs(r.achieved - r.predicted) / std::max(U, 1e-9);
      r.says = outcome(r);
    }
    out.push_back(std::move(r));
  };
  for (const int k : then.plan.chosen) {
    const Correction& c = then.plan.candidates[k];
    if (c.kind == Kind::shim) {
      // Every station by the part of the sheet that is nearest to it: a mean over all would hide a tilt.
      for (const auto& s : c.shims)
        test(c, s.station, [&](std::size_t i) {
          const auto nearest = std::min_element(c.shims.begin(), c.shims.end(), [&](const auto& a, const auto& b) {
            return (a.at - then.sheet.mesh.points[i]).squaredNorm() < (b.at - then.sheet.mesh.points[i]).squaredNorm();
          });
          return !worked[i] && nearest->station == s.station;
        });
      continue;
    }
    double most = 0;
    for (const double g : c.gap_change) most = std::max(most, std::abs(g));
    if (most == 0) {
      Confirmed r;
      r.correction = c.name, r.kind = c.kind;
      r.says = Message("work.leaves-gap-so-gap");
      out.push_back(std::move(r));
      continue;
    }
    // Where at least half of the full depth was to be worked: the feathered edge says little.
    test(c, "", [&](std::size_t i) { return std::abs(change(c, i)) >= 0.5 * most; });
  }
  return out;
}

}  // namespace gapfront::correct
