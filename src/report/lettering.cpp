#include "report/lettering.hpp"

#include <Eigen/Core>
#include <algorithm>
#include <cmath>
#include <string_view>

#include "core/letters.hpp"

namespace gapfront::report {
namespace {

using Vec2 = Eigen::Vector2d;
using Stroke = std::vector<Vec2>;

// Own shapes on a grid: pairs of digits are x and y of a corner, a blank lifts the pen. Baseline 2, small letters to 6,
// capitals to 8, tails down to 0.
constexpr double kBase = 2, kCapital = 6, kGap = 1.7, kWordGap = 2.2;
constexpr const char* kShapes =
    "\n"
    "A 022842 1434\nB 02083847463505 3544433202\nC 4738180703123243\nD 02082846442202\nE 48080242 0535\n"
    "F 480802 0535\nG 47381807031232434525\nH 0208 4248 0545\nI 0208\nJ 3833221203\nK 0208 480542\nL 080242\n"
    "M 0208254842\nN 02084248\nO 183847433212030718\nP 02083847463505\nQ 183847433212030718 2442\n"
    "R 02083847463505 2542\nS 473818070615354443321203\nT 0848 2228\nU 080312324348\nV 082248\nW 0812253248\n"
    "X 0248 0842\nY 082548 2522\nZ 08480242\na 36160503122233 3632\nb 0802 0312223335261605\n"
    "c 3526160503122233\nd 3832 3322120305162635\ne 04343526160503122233\nf 281712 0626\n"
    "g 3631201001 3322120305162635\nh 0802 0516263532\ni 0206 0808\nj 161100 1818\nk 0802 3604 1532\nl 0802\n"
    "m 0206 05162522 25364542\nn 0206 0516263532\no 162635332212030516\np 0600 0516263533221203\n"
    "q 3630 3526160503122233\nr 0206 041626\ns 3616051424332202\nt 181322 0626\nu 0603122233 3632\nv 062246\n"
    "w 0612253246\nx 0236 0632\ny 0622 462210\nz 06360232\n0 182837332212030718\n1 071812\n2 07182837360232\n"
    "3 071828373625 15253433221203\n4 22280434\n5 380805253433221203\n6 3728180703122233342505\n7 083812\n"
    "8 182837362515060718 1504031222333425\n9 3515060718283733221203\n. 0202\n, 0201\n: 0202 0505\n"
    "; 0201 0505\n% 0248 0708181707 3233434232\n/ 0238\n+ 0444 2226\n- 0424\n− 0434\n– 0434\n( 18070312\n"
    ") 08171302\n' 0807\n’ 0807\n\" 0807 1817\n° 0708181707\n· 0505\n× 0336 0633\n= 0535 0333\n_ 0141\n"
    "! 0804 0202\n? 071828373624 2222\nß 0207182837362534332212\n○ 162635332212030516\nª 0708181707\n"
    "º 0708181707\n";

/// The shape of a letter (UTF-8); of one that there is none of, a box.
std::string shape_of(const std::string& letter) {
  const std::string_view all = kShapes;
  const std::size_t at = all.find("\n" + letter + " ");
  if (at == std::string_view::npos) return "0208484202";
  const std::size_t from = at + letter.size() + 2;
  return std::string(all.substr(from, all.find('\n', from) - from));
}

std::string as_utf8(char32_t c) {
  if (c < 0x80) return {static_cast<char>(c)};
  if (c < 0x800) return {static_cast<char>(0xc0 | c >> 6), static_cast<char>(0x80 | (c & 0x3f))};
  return {static_cast<char>(0xe0 | c >> 12), static_cast<char>(0x80 | (c >> 6 & 0x3f)),
          static_cast<char>(0x80 | (c & 0x3f))};
}

/// A letter with a mark: the letter, and the mark over its middle; 'i' loses its dot.
struct Marked {
  char32_t letter, mark;
};
Marked taken_apart(char32_t c) {
  static const std::u32string letters = U"ÁÀÂÃÄÅÉÈÊËÍÌÎÏÓÒÔÕÖÚÙÛÜÇÑáàâãäåéèêëíìîïóòôõöúùûüçñ",
                              plain = U"AAAAAAEEEEIIIIOOOOOUUUUCNaaaaaaeeeeiiiiooooouuuucn",
                              marks = U"´`^~¨°´`^¨´`^¨´`^~¨´`^¨,~´`^~¨°´`^¨´`^¨´`^~¨´`^¨,~";
  const auto at = letters.find(c);
  return at == std::u32string::npos ? Marked{c, 0} : Marked{plain[at], marks[at]};
}

std::vector<Stroke> mark_strokes(char32_t mark, double middle, double top) {
  const auto at = [&](double dx, double dy) { return Vec2(middle + dx, top + dy); };
  switch (mark) {
    case U'´':
      return {{at(-0.3, 1), at(0.8, 2)}};
    case U'`':
      return {{at(0.3, 1), at(-0.8, 2)}};
    case U'^':
      return {{at(-1, 1), at(0, 2), at(1, 1)}};
    case U'~':
      return {{at(-1.2, 1.1), at(-0.5, 1.7), at(0.5, 1.1), at(1.2, 1.7)}};
    case U'¨':
      return {{at(-0.9, 1.4), at(-0.9, 1.4)}, {at(0.9, 1.4), at(0.9, 1.4)}};
    case U'°':
      return {{at(-0.5, 1), at(-0.5, 2), at(0.5, 2), at(0.5, 1), at(-0.5, 1)}};
    default:
      return {{Vec2(middle, kBase), Vec2(middle, 1.2), Vec2(middle - 0.8, 0.6)}};  // a cedilla
  }
}

/// The strokes of a letter on the grid, and how wide it is.
double strokes_of(char32_t c, std::vector<Stroke>& out) {
  if (c == ' ' || c == 0xa0) return kWordGap;
  const Marked m = taken_apart(c);
  const std::string shape = shape_of(as_utf8(m.letter));
  double wide = 0;
  const std::size_t before = out.size();
  out.emplace_back();
  for (std::size_t k = 0; k + 1 < shape.size();) {
    if (shape[k] == ' ') {
      out.emplace_back();
      ++k;
      continue;
    }
    out.back().emplace_back(shape[k] - '0', shape[k + 1] - '0');
    wide = std::max(wide, out.back().back().x()), k += 2;
  }
  if (!m.mark) return wide;
  if (m.letter == 'i') out.pop_back();
  const double top = m.letter >= 'a' ? 6 : 8;
  double shift = std::max(0.0, 0.9 - 0.5 * wide);  // a mark may be wider than an i
  for (std::size_t k = before; k < out.size(); ++k)
    for (Vec2& p : out[k]) p.x() += shift;
  for (Stroke& s : mark_strokes(m.mark, 0.5 * wide + shift, top)) out.push_back(std::move(s));
  return wide + 2 * shift;
}

double distance(const Vec2& p, const Vec2& a, const Vec2& b) {
  const Vec2 d = b - a;
  const double t = d.squaredNorm() > 0 ? std::clamp((p - a).dot(d) / d.squaredNorm(), 0.0, 1.0) : 0;
  return (p - a - t * d).norm();
}

void draw_stroke(Plate& plate, const Vec2& a, const Vec2& b, double stroke, int steps) {
  const double r = 0.5 * stroke;
  const Vec2 low = a.cwiseMin(b) - Vec2::Constant(r + 1), high = a.cwiseMax(b) + Vec2::Constant(r + 1);
  for (int y = std::max(0, static_cast<int>(low.y())); y <= std::min(plate.height - 1, static_cast<int>(high.y())); ++y)
    for (int x = std::max(0, static_cast<int>(low.x())); x <= std::min(plate.width - 1, static_cast<int>(high.x()));
         ++x) {
      const double covered = std::clamp(r + 0.5 - distance(Vec2(x + 0.5, y + 0.5), a, b), 0.0, 1.0);
      auto& pixel = plate.pixels[static_cast<std::size_t>(y) * plate.width + x];
      pixel = std::max(pixel, static_cast<std::uint8_t>(std::lround(covered * steps)));
    }
}

}  // namespace

double width_of(const std::string& words, double size) {
  double wide = -kGap;
  std::vector<Stroke> unused;
  for (const char32_t c : letters_of(words)) wide += strokes_of(c, unused) + kGap;
  return std::max(0.0, wide) * size / kCapital;
}

void letter(Plate& plate, const Lettering& how, const std::string& words, int steps) {
  const double unit = how.size / kCapital;
  double x = how.x - 0.5 * width_of(words, how.size);
  for (const char32_t c : letters_of(words)) {
    std::vector<Stroke> strokes;
    const double wide = strokes_of(c, strokes);
    const auto on = [&](const Vec2& p) { return Vec2(x + p.x() * unit, how.baseline - (p.y() - kBase) * unit); };
    for (const Stroke& s : strokes)
      for (std::size_t k = 0; k < s.size(); ++k)
        if (k + 1 < s.size() || s.size() == 1)
          draw_stroke(plate, on(s[k]), on(s[std::min(k + 1, s.size() - 1)]), how.stroke, steps);
    x += (wide + kGap) * unit;
  }
}

}  // namespace gapfront::report
