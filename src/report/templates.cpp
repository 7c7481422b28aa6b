#include "report/templates.hpp"

#include <algorithm>
#include <cmath>
#include <cstdio>

#include "core/letters.hpp"
#include "gapfront/error.hpp"
#include "gapfront/report.hpp"
#include "report/html.hpp"
#include "report/paper.hpp"
#include "report/template_drawing.hpp"
#include "report/work_sketches.hpp"
#include "units/inch.hpp"
#include "units/words.hpp"

namespace gapfront::report {

Message work_words(const Correction& c) {
  const bool lower = c.face == "lower";
  if (c.kind == Kind::build_up) return Message(lower ? "order.build-up-lower-face" : "order.build-up-upper-face");
  if (c.kind == Kind::relief) return Message(lower ? "order.relief-lower-face" : "order.relief-upper-face");
  return word_of(c.kind);
}

Message template_name(const Correction& c, const Template& t) {
  if (t.part == 0) return Message("list.plain", {arg::name(c.name)});
  return Message("order.part", {arg::name(c.name), static_cast<long>(t.part)});
}

std::string template_file(const Correction& c, const Template& t, const char* extension) {
  std::string file = "template-" + c.name + (t.part > 0 ? "-part-" + std::to_string(t.part) : "") + extension;
  std::replace(file.begin(), file.end(), ' ', '-');
  return file;
}

namespace {

using Vec2 = Eigen::Vector2d;

// Printers leave about 5 mm at the edges; the sheets overlap by as much as glue needs.
constexpr double kMargin = 12, kOverlap = 10;
constexpr double kBar = 100;                    // mm, and 4 in beside it
constexpr double kPoint = 72.0 / inch;          // PDF units per mm (ISO 32000: 1/72 in)
constexpr double kCross = 3;                    // half a mark, mm
constexpr double kAtStop = 3.5, kOnLine = 2.5;  // letters of depths, mm: at depth stops, on lines of equal depth
constexpr int kMostSheets = 400;                // four by six metres of A4; nobody joins more
constexpr std::size_t kLetters = 105;           // in a line of 3.2 mm on the narrower paper

void bar(TemplateDrawing& d, const Vec2& at, double length, const std::string& words) {
  d.line({at, at + Vec2(length, 0)}, 0.3);
  for (const double x : {0.0, length}) d.line({at + Vec2(x, -2), at + Vec2(x, 2)}, 0.3);
  d.text(at + Vec2(2, 1), 3, words);
}

std::vector<Vec2> flat(const std::vector<Vec3>& line) {
  std::vector<Vec2> out;
  for (const Vec3& p : line) out.emplace_back(p.head<2>());
  return out;
}

Argument axis_of(const Template& t) { return arg::name(std::string(1, t.along)); }

constexpr double kArrow = 20, kHead = 1;  // mm
constexpr double kCaption = 3;            // letters, mm
constexpr double kAside = 1;              // of a caption from its line, mm

void keep_off_mark(TemplateWords& words) {
  const Vec2 o = Vec2::Zero();
  words.keep_off(o - Vec2(2 * kCross, 0.5), o + Vec2(2 * kCross, 0.5));
  words.keep_off(o - Vec2(0.5, 2 * kCross), o + Vec2(0.5, 2 * kCross));
  words.keep_off(o - Vec2(0, 0.5), o + Vec2(kArrow, 0.5));
  words.keep_off(Vec2(kArrow - 2, -kHead), Vec2(kArrow, kHead));
}

/// The middle of the work, with the arrow along the tool's axis.
void draw_mark(TemplateDrawing& d, TemplateWords& words, const Template& t, const Voice& v) {
  const Vec2 o = Vec2::Zero();
  d.cross(o, 2 * kCross, 0.3);
  d.line({o, Vec2(kArrow, 0)}, 0.3), d.line({Vec2(kArrow - 2, kHead), Vec2(kArrow, 0), Vec2(kArrow - 2, -kHead)}, 0.3);
  const std::string arrow = say(Message("order.tool", {axis_of(t)}), v);
  const Vec2 half = 0.5 * size_of(arrow, kCaption);
  const double x = 2 * kCross + kAside + half.x(), y = kHead + kAside + half.y();
  words.put({Vec2(x, y), Vec2(x, -y), Vec2(-x, y), Vec2(-x, -y)}, kCaption, arrow, true, true);
}

/// Beside a ray, from its end inwards, then outwards until it is past the end.
std::vector<Vec2> centres_by_ray(const Vec2& towards, double reach, const Vec2& half) {
  const Vec2 aside(-towards.y(), towards.x());
  const auto extent = [&](const Vec2& along) {
    return std::abs(along.x()) * half.x() + std::abs(along.y()) * half.y();
  };
  const double off = extent(aside) + kAside, past = reach + extent(towards) + kAside;
  std::vector<Vec2> out;
  for (double s = reach; s > 0.3 * reach; s -= 2)
    for (const double side : {off, -off}) out.push_back(s * towards + side * aside);
  for (double s = reach; s < past; s += 2)
    for (const double side : {off, -off}) out.push_back(s * towards + side * aside);
  out.push_back(past * towards);
  return out;
}

/// From the mark to past the outline, towards what the tapes are held to: they turn the template the right way. What
/// the captions must not cover is drawn and kept free before the first is placed; they may go beside the work.
void draw_rays(TemplateDrawing& d, TemplateWords& words, const Template& t, const Voice& v) {
  double reach = 15;
  for (const Vec2& p : t.outline) reach = std::max(reach, p.norm() + 5);
  constexpr double kBeside = 300;
  TemplateWords captions(d, d.low - Vec2::Constant(kBeside), d.high + Vec2::Constant(kBeside));
  keep_off_mark(captions), keep_off_line(captions, t.outline);
  for (const auto& ray : t.rays) {
    const std::vector<Vec2> line{2.5 * kCross * ray.towards, reach * ray.towards};
    d.line(line, 0.25, true);
    keep_off_line(captions, line), keep_off_line(words, line);
  }
  for (const auto& s : t.stops)
    captions.keep_off(s.at.head<2>() - Vec2::Constant(1), s.at.head<2>() + Vec2::Constant(1));
  for (const auto& ray : t.rays) {
    const std::string text = say(Message("bench.to-1", {arg::message(ray.to)}), v);
    const Vec2 half = 0.5 * size_of(text, kCaption) + Vec2::Constant(0.2);
    const auto at = captions.place(centres_by_ray(ray.towards, reach, half), kCaption, text, true);
    captions.write(*at, kCaption, text, true), words.keep_off(*at - half, *at + half);
  }
}

/// The work itself: outline, contours, stops, and what joins it to other parts. A contour too small for its number
/// goes without.
void draw_work(TemplateDrawing& d, const Template& t, const Voice& v) {
  d.line(t.outline, 0.5);
  for (const auto& l : t.contours) d.line(flat(l.line), 0.18, l.depth == 0), d.lines.back().under = true;
  TemplateWords words(d);
  keep_off_mark(words);
  for (const auto& s : t.stops)
    words.keep_off(s.at.head<2>() - Vec2::Constant(0.6), s.at.head<2>() + Vec2::Constant(0.6));
  for (const auto& j : t.joins) d.cross(j.at, kCross, 0.3), words.put_beside(j.at, 4, j.name, true);
  draw_rays(d, words, t, v);
  draw_mark(d, words, t, v);
  for (const auto& s : t.stops) {
    d.cross(s.at.head<2>(), 1, 0.15);
    words.put_beside(s.at.head<2>(), kAtStop, depth_mark(s.depth, v));
  }
  for (const auto& l : t.contours)
    if (l.depth > 0) words.put(centres_on(flat(l.line)), kOnLine, depth_mark(l.depth, v), true);
}

/// Below the work, in lines that fit a sheet of paper.
void write_lines(TemplateDrawing& d, Vec2 at, const std::vector<std::string>& texts) {
  for (const std::string& text : texts) {
    std::string line;
    const auto end_line = [&] { d.text(Vec2(at.x(), at.y() -= 5), 3.2, line), line.clear(); };
    for (std::size_t from = 0; from < text.size();) {
      const std::size_t to = std::min(text.find(' ', from), text.size());
      if (!line.empty() && line.size() + to - from > kLetters) end_line();
      line += (line.empty() ? "" : " ") + text.substr(from, to - from);
      from = to + 1;
    }
    if (!line.empty()) end_line();
  }
}

/// What to know of the template: what it is, how it lies, what its lines mean.
std::vector<std::string> template_words(const Inspection& r, const Correction& c, const Template& t, const Voice& v) {
  Text said = bench_words(c);
  said.push_back(Message("bench.printed-side-up", {axis_of(t)}));
  if (!t.rays.empty()) said.push_back(Message("bench.mark-lies-middle-tapes"));
  said.push_back(Message("order.mark-lies-2", {arg::place(t.origin)}));
  said.push_back(Message(t.stops.empty() ? "order.outline-alone" : "order.thick-line-outline"));
  const auto deep = [](const auto& l) { return l.depth > 0; };
  if (!t.stops.empty() || std::any_of(t.contours.begin(), t.contours.end(), deep))
    said.push_back(Message(t.stops.empty() ? "order.numbers-depth" : "order.numbers-depth-larger-at-crosses",
                           {arg::name(depth_unit(v.units))}));
  if (!t.joins.empty()) said.push_back(Message("order.letters-lay-this-part"));
  said.push_back(Message("order.laid-flat-no-length", {arg::fraction(t.stretch, 2)}));
  said.push_back(Message("order.print-100-not-fitted"));
  std::vector<std::string> out{
      say(Message("list.named", {arg::message(template_name(c, t)), arg::message(work_words(c))}), v), r.job.name};
  for (const Message& m : said) out.push_back(say(m, v));
  return out;
}

TemplateDrawing draw(const Inspection& r, const Correction& c, const Template& t) {
  const Voice v = voice_of(r.job);
  TemplateDrawing d;
  draw_work(d, t, v);
  const Vec2 below(d.low.x(), d.low.y() - 12);
  const auto measures = [&](const char* length) {
    return say(Message("order.this-bar-measures", {arg::name(length)}), v);
  };
  bar(d, below, kBar, measures("100 mm"));
  bar(d, below - Vec2(0, 10), 4 * inch, measures("4 in"));
  write_lines(d, below - Vec2(0, 10), template_words(r, c, t, v));
  return d;
}

std::string svg(const TemplateDrawing& d, const std::string& title) {
  const Vec2 low = d.low - Vec2::Constant(5), size = d.high - d.low + Vec2::Constant(10);
  const auto x = [&](double v) { return fixed(v - low.x(), 3); };
  const auto y = [&](double v) { return fixed(low.y() + size.y() - v, 3); };
  std::string out = "<svg xmlns=\"http://www.w3.org/2000/svg\" width=\"" + fixed(size.x(), 3) + "mm\" height=\"" +
                    fixed(size.y(), 3) + "mm\" viewBox=\"0 0 " + fixed(size.x(), 3) + " " + fixed(size.y(), 3) +
                    "\"><title>" + escape(title) + "</title>\n";
  const auto paths = [&](bool under) {
    out += "<g fill=\"none\" stroke=\"#000\">\n";
    for (const DrawnLine& l : d.lines) {
      if (l.under != under) continue;
      out += "<path stroke-width=\"" + fixed(l.width, 2) + (l.dashed ? "\" stroke-dasharray=\"2 1.5" : "") + "\" d=\"";
      for (std::size_t k = 0; k < l.points.size(); ++k)
        out += (k ? "L" : "M") + x(l.points[k].x()) + " " + y(l.points[k].y());
      out += "\"/>\n";
    }
    out += "</g>\n";
  };
  paths(true);
  out += "<g fill=\"#fff\">\n";
  for (const auto& [a, b] : d.blanks)
    out += "<rect x=\"" + x(a.x()) + "\" y=\"" + y(b.y()) + "\" width=\"" + fixed(b.x() - a.x(), 3) + "\" height=\"" +
           fixed(b.y() - a.y(), 3) + "\"/>\n";
  out += "</g>\n";
  paths(false);
  out += "<g font-family=\"sans-serif\">\n";
  for (const DrawnWords& t : d.texts)
    out += "<text x=\"" + x(t.at.x()) + "\" y=\"" + y(t.at.y()) + "\" font-size=\"" + fixed(t.size, 1) + "\">" +
           escape(t.text) + "</text>\n";
  return out + "</g>\n</svg>\n";
}

/// A PDF string in WinAnsi; what that cannot hold becomes a hyphen (dashes) or a question mark.
std::string pdf_text(const std::string& utf8) {
  std::string out = "(";
  for (char32_t code : letters_of(utf8)) {
    if (code == 0x2212 || code == 0x2013) code = '-';
    if (code < 32 || code > 255 || (code > 126 && code < 160)) code = '?';
    if (code == '(' || code == ')' || code == '\\') out += '\\';
    out += static_cast<char>(code);
  }
  return out + ")";
}

/// A page of the file.
struct PdfPage {
  std::string content;
  Paper paper;
};

std::string pdf_drawing(const TemplateDrawing& d, const Vec2& shift) {
  const auto at = [&](const Vec2& p) {
    return fixed((p.x() + shift.x()) * kPoint, 3) + " " + fixed((p.y() + shift.y()) * kPoint, 3);
  };
  std::string out;
  const auto paths = [&](bool under) {
    for (const DrawnLine& l : d.lines) {
      if (l.under != under) continue;
      out += fixed(l.width * kPoint, 3) + " w " + (l.dashed ? "[5.67 4.25] 0 d\n" : "[] 0 d\n");
      for (std::size_t k = 0; k < l.points.size(); ++k) out += at(l.points[k]) + (k ? " l\n" : " m\n");
      out += "S\n";
    }
  };
  paths(true);
  for (const auto& [a, b] : d.blanks)
    out += "1 g " + at(a) + " " + fixed((b.x() - a.x()) * kPoint, 3) + " " + fixed((b.y() - a.y()) * kPoint, 3) +
           " re f 0 g\n";
  paths(false);
  for (const DrawnWords& t : d.texts)
    out += "BT /F " + fixed(t.size * kPoint, 2) + " Tf " + at(t.at) + " Td " + pdf_text(t.text) + " Tj ET\n";
  return out;
}

/// How a drawing is cut into sheets of one paper.
struct Tiling {
  Paper paper;
  Vec2 window, step;
  int nx = 1, ny = 1;
  std::vector<std::pair<int, int>> used = {};  ///< column and row of the sheets with something on them
};

bool anything_in(const TemplateDrawing& d, const Vec2& low, const Vec2& high) {
  const auto meets = [&](const Vec2& a, const Vec2& b) {
    return (a.cwiseMin(b).array() <= high.array()).all() && (a.cwiseMax(b).array() >= low.array()).all();
  };
  for (const DrawnLine& l : d.lines)
    for (std::size_t k = 1; k < l.points.size(); ++k)
      if (meets(l.points[k - 1], l.points[k])) return true;
  return std::any_of(d.texts.begin(), d.texts.end(), [&](const DrawnWords& t) {
    return meets(t.at, t.at + Vec2(0.52 * t.size * t.text.size(), t.size));
  });
}

Tiling tile(const TemplateDrawing& d, const Paper& paper, const std::string& name) {
  const Vec2 window(paper.width - 2 * kMargin, paper.height - 2 * kMargin), size = d.high - d.low;
  Tiling t{paper, window, window - Vec2::Constant(kOverlap)};
  const auto count = [&](int axis) { return std::max(1.0, std::ceil((size[axis] - kOverlap) / t.step[axis])); };
  if (!(count(0) * count(1) <= kMostSheets))
    throw Error(Fault::input,
                words("template %s: %.1f m by %.1f m would take %.0f sheets, more than %d; let corrections "
                      "be smaller, or inspect the tool in parts",
                      name.c_str(), size.x() / 1e3, size.y() / 1e3, count(0) * count(1), kMostSheets));
  t.nx = static_cast<int>(count(0)), t.ny = static_cast<int>(count(1));
  for (int j = 0; j < t.ny; ++j)
    for (int i = 0; i < t.nx; ++i) {
      const Vec2 low(d.low.x() + i * t.step.x(), d.high.y() - j * t.step.y() - window.y());
      if (anything_in(d, low, low + window)) t.used.emplace_back(i, j);
    }
  return t;
}

/// The sheets of one drawing, upright or across, whichever needs fewer; blank ones are left out. Row by row from the
/// top left, each named by row letter and column number.
void add_pages(const TemplateDrawing& d, const Message& name, const Paper& upright, const Voice& v,
               std::vector<PdfPage>& pages) {
  Tiling t = tile(d, upright, say(name, v));
  if (Tiling across = tile(d, upright.turned(), say(name, v)); across.used.size() < t.used.size())
    t = std::move(across);
  TemplateDrawing marks;  // in the middle of the overlaps, the same on the sheets that share one
  for (int i = 0; i <= t.nx; ++i)
    for (int j = 0; j <= t.ny; ++j)
      if (t.nx * t.ny > 1)
        marks.cross(Vec2(d.low.x() + i * t.step.x() + kOverlap / 2, d.high.y() - j * t.step.y() - kOverlap / 2), kCross,
                    0.2);
  for (std::size_t n = 0; n < t.used.size(); ++n) {
    const auto [i, j] = t.used[n];
    const Vec2 corner(d.low.x() + i * t.step.x(), d.high.y() - j * t.step.y() - t.window.y());
    const Vec2 shift = Vec2::Constant(kMargin) - corner;
    std::string page = "q " + fixed(kMargin * kPoint, 3) + " " + fixed(kMargin * kPoint, 3) + " " +
                       fixed(t.window.x() * kPoint, 3) + " " + fixed(t.window.y() * kPoint, 3) + " re W n\n" +
                       pdf_drawing(d, shift) + pdf_drawing(marks, shift) + "Q\n";
    TemplateDrawing edge;
    bar(edge, Vec2(kMargin, 6), kBar, "100 mm");
    const std::string sheet = std::string(1, static_cast<char>('A' + j % 26)) + std::to_string(i + 1);
    edge.text(Vec2(kMargin + kBar + 8, 6), 3,
              say(Message("order.sheet", {arg::message(name), arg::name(sheet), arg::number(static_cast<double>(n + 1)),
                                          arg::number(static_cast<double>(t.used.size()))}),
                  v));
    pages.push_back({page + pdf_drawing(edge, Vec2::Zero()), t.paper});
  }
}

std::string pdf_file(const std::vector<PdfPage>& pages) {
  std::string out = "%PDF-1.4\n";
  std::vector<std::size_t> at;
  const auto object = [&](const std::string& body) {
    at.push_back(out.size());
    out += std::to_string(at.size()) + " 0 obj\n" + body + "\nendobj\n";
  };
  object("<< /Type /Catalog /Pages 2 0 R /ViewerPreferences << /PrintScaling /None >> >>");
  std::string kids;
  for (std::size_t k = 0; k < pages.size(); ++k) kids += std::to_string(4 + 2 * k) + " 0 R ";
  object("<< /Type /Pages /Count " + std::to_string(pages.size()) + " /Kids [" + kids + "] >>");
  object("<< /Type /Font /Subtype /Type1 /BaseFont /Helvetica /Encoding /WinAnsiEncoding >>");
  for (std::size_t k = 0; k < pages.size(); ++k) {
    object("<< /Type /Page /Parent 2 0 R /MediaBox [0 0 " + fixed(pages[k].paper.width * kPoint, 3) + " " +
           fixed(pages[k].paper.height * kPoint, 3) + "] /Resources << /Font << /F 3 0 R >> >> /Contents " +
           std::to_string(5 + 2 * k) + " 0 R >>");
    object("<< /Length " + std::to_string(pages[k].content.size()) + " >>\nstream\n" + pages[k].content + "endstream");
  }
  const std::size_t table = out.size();
  out += "xref\n0 " + std::to_string(at.size() + 1) + "\n0000000000 65535 f \n";
  for (const std::size_t a : at) {
    char line[24];
    std::snprintf(line, sizeof line, "%010zu 00000 n \n", a);
    out += line;
  }
  return out + "trailer\n<< /Size " + std::to_string(at.size() + 1) + " /Root 1 0 R >>\nstartxref\n" +
         std::to_string(table) + "\n%%EOF\n";
}

template <class Use>
void each_template(const Inspection& r, Use use) {
  for (const int k : r.plan.chosen)
    for (const auto& t : r.plan.candidates[k].templates) use(r.plan.candidates[k], t);
}

}  // namespace

FileSet template_svgs(const Inspection& r) {
  FileSet out;
  each_template(r, [&](const Correction& c, const Template& t) {
    const Message title("list.named", {arg::message(template_name(c, t)), arg::name(r.job.name)});
    out.push_back({template_file(c, t, ".svg"), svg(draw(r, c, t), say(title, voice_of(r.job)))});
  });
  return out;
}

std::string templates_pdf(const Inspection& r) {
  const Paper paper = paper_of(r);
  std::vector<PdfPage> pages;
  each_template(r, [&](const Correction& c, const Template& t) {
    add_pages(draw(r, c, t), template_name(c, t), paper, voice_of(r.job), pages);
  });
  return pages.empty() ? "" : pdf_file(pages);
}

}  // namespace gapfront::report
