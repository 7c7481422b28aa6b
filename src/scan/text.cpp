// Delimited text: one point a line, columns told apart by blanks, tabs, semicolons or commas, found by looking at
// the first lines unless the user says what they are.
#include <algorithm>
#include <cctype>
#include <charconv>
#include "gapfront/units.hpp"
#include "scan/formats.hpp"

namespace gapfront::reading {
namespace {

// Lines looked at before deciding; a header, a few remarks and some points fit well within.
constexpr int kProbeLines = 60;
// …and at most so many bytes of them.
constexpr std::size_t kProbeBytes = 1 << 15;

struct Layout {
  char separator = ' ';  // ' ' stands for any run of blanks and tabs
  bool decimal_comma = false;
  int at[6] = {0, 1, 2, -1, -1, -1};  // columns of x y z nx ny nz
  int feature = -1;                   // column of the name of what was touched
  std::string unit;                   // that the titles of x, y and z name, or none
  bool approach = false;              // the directions are a probe's, into the material: turned round when read
  bool normals() const { return at[3] >= 0 && at[4] >= 0 && at[5] >= 0; }
  int columns() const { return 1 + std::max(feature, *std::max_element(at, at + (normals() ? 6 : 3))); }
};

std::string_view trim(std::string_view s) {
  while (!s.empty() && (s.front() == ' ' || s.front() == '\t')) s.remove_prefix(1);
  while (!s.empty() && (s.back() == ' ' || s.back() == '\t' || s.back() == '\r')) s.remove_suffix(1);
  return s;
}

/// A remark line; `rest` is what follows its mark.
bool is_remark(std::string_view line, char separator, std::string_view& rest) {
  line = trim(line);
  if (line.starts_with("//")) {
    rest = line.substr(2);
    return true;
  }
  if (line.starts_with('#') || line.starts_with('%') || (line.starts_with(';') && separator != ';')) {
    rest = line.substr(1);
    return true;
  }
  return false;
}

std::vector<std::string_view> split(std::string_view line, char separator) {
  if (separator == ' ') return words(line);
  std::vector<std::string_view> out;
  for (std::size_t from = 0;;) {
    const std::size_t to = line.find(separator, from);
    out.push_back(trim(line.substr(from, to == line.npos ? line.npos : to - from)));
    if (to == line.npos) break;
    from = to + 1;
  }
  while (!out.empty() && out.back().empty()) out.pop_back();  // "x;y;z;" has three columns
  return out;
}

bool number_in(std::string_view word, bool decimal_comma, double& value) {
  if (!decimal_comma || word.find(',') == word.npos) return parse_number(word, value);
  // Longer words are no numbers (17 digits, sign, exponent).
  char copy[64];
  if (word.size() >= sizeof copy) return false;
  std::replace_copy(word.begin(), word.end(), copy, ',', '.');
  return parse_number({copy, word.size()}, value);
}

/// Number of words in the line, or 0 when one of them, but for a feature's name, is not a number.
int numbers_in(std::string_view line, const Layout& l) {
  const auto w = split(line, l.separator);
  double v;
  for (const auto& word : w)
    if (&word - w.data() != l.feature && !number_in(word, l.decimal_comma, v)) return 0;
  return int(w.size());
}

/// A column title without units, quotes and case: "X [mm]" → "x", "Normal_X" → "nx".
std::string role(std::string_view title) {
  std::string s;
  for (char c : trim(title)) {
    if (c == '[' || c == '(') break;
    if (c != '"' && c != '\'' && c != '_' && c != ' ') s += char(std::tolower(static_cast<unsigned char>(c)));
  }
  if (s.ends_with("mm")) s.resize(s.size() - 2);
  for (const char* axis : {"x", "y", "z"}) {
    if (s == std::string("normal") + axis || s == std::string("n") + axis) return std::string("n") + axis;
    if (s == std::string("coord") + axis || s == std::string(axis) + "coord" || s == axis) return axis;
  }
  if (s == "i" || s == "j" || s == "k" || s == "feature") return s;
  return "-";
}

/// The unit of length in a title: "mm" of "X [mm]", "Y (mm)", "z_mm", "Zmm"; empty when it names none.
std::string unit_in(std::string_view title) {
  std::string name;
  const auto open = title.find_first_of("[(");
  if (open != title.npos)
    name = trim(title.substr(open + 1, title.find_first_of("])", open) - open - 1));
  else if (const auto bar = title.find_last_of('_'); bar != title.npos)
    name = title.substr(bar + 1);
  else if (std::string_view bare = trim(title); bare.size() == 3 && (bare.ends_with("mm") || bare.ends_with("MM")))
    name = "mm";
  while (!name.empty() && (name.back() == '"' || name.back() == '\'')) name.pop_back();
  for (char& c : name) c = char(std::tolower(static_cast<unsigned char>(c)));
  return length_unit(name) ? name : "";
}

/// A title may be parted from its unit by a blank: "X [mm] Y [mm]" has two titles.
std::vector<std::string_view> joined(const std::vector<std::string_view>& titles) {
  std::vector<std::string_view> out;
  for (const auto& t : titles)
    if (!out.empty() && (t.starts_with('[') || t.starts_with('(')))
      out.back() = {out.back().data(), std::size_t(t.data() + t.size() - out.back().data())};
    else
      out.push_back(t);
  return out;
}

/// The column of features' names, or −1.
int feature_among(const std::vector<std::string_view>& titles) {
  const auto found = std::find_if(titles.begin(), titles.end(), [](const auto& t) { return role(t) == "feature"; });
  return found == titles.end() ? -1 : int(found - titles.begin());
}

/// Sets the columns, and the unit where the titles name one, from titles; false when x, y and z are not all among them.
bool roles_from(const std::vector<std::string_view>& parts, Layout& l) {
  const auto titles = joined(parts);
  static const char* names[] = {"x", "y", "z", "nx", "ny", "nz"};
  int at[6] = {-1, -1, -1, -1, -1, -1};
  for (int i = 0; i < int(titles.size()); ++i)
    for (int k = 0; k < 6; ++k)
      if (at[k] < 0 && role(titles[i]) == names[k]) at[k] = i;
  if (at[0] < 0 || at[1] < 0 || at[2] < 0) return false;
  static const char* approach[] = {"i", "j", "k"};
  l.approach = at[3] < 0 && at[4] < 0 && at[5] < 0;
  for (int i = 0; l.approach && i < int(titles.size()); ++i)
    for (int k = 0; k < 3; ++k)
      if (at[3 + k] < 0 && role(titles[i]) == approach[k]) at[3 + k] = i;
  std::copy(at, at + 6, l.at);
  l.feature = feature_among(titles);
  l.unit.clear();
  for (int k = 0; k < 3; ++k)  // often only the first title says it
    if (const std::string other = unit_in(titles[at[k]]); !other.empty() && other != l.unit)
      l.unit += (l.unit.empty() ? "" : " and ") + other;
  return true;
}

/// The first complete lines of the file.
std::vector<std::string_view> first_lines(Input& in) {
  std::string_view head = in.peek(kProbeBytes);
  if (head.starts_with("\xEF\xBB\xBF")) head.remove_prefix(3);
  std::vector<std::string_view> lines;
  while (!head.empty() && int(lines.size()) < kProbeLines) {
    const std::size_t end = head.find('\n');
    if (end == head.npos && !lines.empty() && in.size() > kProbeBytes) break;  // cut by the probe, not by the file
    lines.push_back(trim(head.substr(0, end)));
    head.remove_prefix(end == head.npos ? head.size() : end + 1);
  }
  return lines;
}

/// The separator and decimal sign under which the most of the first lines are rows of at least three numbers.
/// Order of trial settles ties: the less exotic reading first.
void detect_separator(const std::vector<std::string_view>& lines, const ReadOptions& options, Layout& l) {
  int best = -1;
  for (char separator : {' ', ';', '\t', ','}) {
    if (options.separator && *options.separator != separator) continue;
    for (bool comma : {false, true}) {
      if (options.decimal_comma && *options.decimal_comma != comma) continue;
      if (comma && separator == ',') continue;
      Layout trial = l;
      trial.separator = separator;
      trial.decimal_comma = comma;
      int rows = 0;
      std::string_view rest;
      // Its words are no numbers, so that it must be known before the rows are counted.
      trial.feature = feature_among(words(options.columns));
      for (const auto line : lines)
        if (trial.feature < 0)
          trial.feature = feature_among(split(is_remark(line, separator, rest) ? rest : line, separator));
      for (const auto line : lines) rows += !is_remark(line, separator, rest) && numbers_in(line, trial) >= 3;
      if (rows > best) {
        best = rows;
        l = trial;
      }
    }
  }
  // A separator of the user's own, such as '|'.
  if (best < 0 && options.separator) {
    l.separator = *options.separator;
    l.decimal_comma = options.decimal_comma.value_or(false);
  }
}

/// Columns 4 to 6 hold normals when they are unit vectors in every row seen: colours and intensities are not.
bool unit_vectors(const std::vector<std::string_view>& lines, const Layout& l) {
  int rows = 0;
  std::string_view rest;
  for (const auto line : lines) {
    if (is_remark(line, l.separator, rest) || numbers_in(line, l) < 6) continue;
    const auto w = split(line, l.separator);
    Vec3 n;
    for (int k = 0; k < 3; ++k) number_in(w[3 + k], l.decimal_comma, n[k]);
    // Normals are written with at least two decimals: their length is off by at most √3 · 0.005.
    if (std::abs(n.norm() - 1) > 0.01) return false;
    ++rows;
  }
  return rows > 0;
}

Layout find_layout(Input& in, const ReadOptions& options, std::string& title) {
  const auto lines = first_lines(in);
  Layout l;
  detect_separator(lines, options, l);
  if (!options.columns.empty()) {
    const auto titles = words(options.columns);
    if (!roles_from(titles, l))
      in.fail_file("columns = " + quote(options.columns) + " does not name x, y and z; write for example \"- x y z\"");
    for (const auto line : lines)  // a title line is passed over, whatever it says
      if (std::string_view rest; !line.empty() && !is_remark(line, l.separator, rest)) {
        if (numbers_in(line, l) == 0 &&
            std::isalpha(static_cast<unsigned char>(trim(line)[0] == '"' ? 'a' : line[0]))) {
          title = line;
          Layout other = l;  // the columns are given; the unit may still stand in the titles
          if (roles_from(split(line, l.separator), other) || roles_from(words(line), other)) l.unit = other.unit;
        }
        break;
      }
    return l;
  }
  bool named = false;
  for (const auto line : lines) {
    std::string_view rest;
    if (line.empty()) continue;
    if (is_remark(line, l.separator, rest)) {
      named = roles_from(split(trim(rest), l.separator), l) || roles_from(words(rest), l) || named;
      continue;
    }
    if (numbers_in(line, l) == 0 && (std::isalpha(static_cast<unsigned char>(line[0])) || line[0] == '"')) {
      // Titles may be parted by something else than the rows, e.g. by commas above blanks.
      named = roles_from(split(line, l.separator), l) || roles_from(split(line, ','), l) || roles_from(words(line), l);
      title = line;
    }
    break;
  }
  if (!named && unit_vectors(lines, l)) {
    if (options.tip_radius > 0)
      in.fail_file(
          "columns 4 to 6 are directions, but not said whether into or out of the material, and the probe's tip goes "
          "off along them; set columns = \"x y z i j k\" (approach, into it) or \"x y z nx ny nz\" (out of it)");
    for (int k = 3; k < 6; ++k) l.at[k] = k;
  }
  return l;
}

/// Millimetres per unit by titles and job together: what both say must be the same.
double unit_of(Input& in, const Layout& l, const std::optional<double>& declared) {
  if (l.unit.empty()) return declared.value_or(1);
  const auto said = length_unit(l.unit);
  if (!said)
    in.fail_file("the titles of its columns give x, y and z different units (" + l.unit + "); export it again");
  if (!declared || *declared == *said) return *said;
  std::string other;
  for (const auto& name : length_units())
    if (*length_unit(name) == *declared) other = " " + name;
  in.fail_file("the titles of its columns say " + l.unit + ", and the unit declared for it is another one," + other +
               "; correct unit (or --unit), or take the unit out of the titles");
}

/// As it is written, without quotes; "-" is nothing.
std::string_view name_in(std::string_view word) {
  word = trim(word);
  if (word.size() >= 2 && (word.front() == '"' || word.front() == '\'') && word.back() == word.front())
    word = trim(word.substr(1, word.size() - 2));
  return word == "-" ? std::string_view() : word;
}

/// One row, without allocations: this is where tens of millions of lines pass.
void read_row(Input& in, std::string_view line, const Layout& l, int columns, bool normals, Sink& sink) {
  double v[6] = {};
  std::string_view feature;
  const char* p = line.data();
  const char* const end = p + line.size();
  for (int column = 0; column < columns; ++column) {
    while (p < end && (*p == ' ' || (*p == '\t' && l.separator != '\t'))) ++p;
    const char* from = p;
    const char* to;
    if (l.separator == ' ') {
      while (p < end && *p != ' ' && *p != '\t') ++p;
      to = p;
    } else {
      while (p < end && *p != l.separator) ++p;
      to = p;
      while (to > from && (to[-1] == ' ' || to[-1] == '\t')) --to;
      if (p < end) ++p;
    }
    const std::string_view word(from, to - from);
    if (column == l.feature) feature = name_in(word);
    int k = 0;
    while (k < 6 && l.at[k] != column) ++k;
    if (k == 6) continue;
    if (!number_in(word, l.decimal_comma, v[k])) {
      static const char* names[] = {"x", "y", "z", "nx", "ny", "nz"};
      in.fail_line(std::string("expected a number for ") + names[k] + " in column " + std::to_string(column + 1) +
                   ", found " + (word.empty() ? "nothing" : quote(word)) + " in " + quote(line) +
                   "; correct or remove the line, or set columns, separator or decimal_comma");
    }
  }
  if (l.approach)
    for (int k = 3; k < 6; ++k) v[k] = -v[k];
  const Vec3f normal = normals ? Vec3f(float(v[3]), float(v[4]), float(v[5])) : Vec3f(Vec3f::Zero());
  if (!feature.empty())
    sink.add(std::string(feature), {v[0], v[1], v[2]}, normal);
  else if (normals)
    sink.add({v[0], v[1], v[2]}, normal);
  else
    sink.add({v[0], v[1], v[2]});
}

}  // namespace

void read_text(Input& in, Sink& sink, const ReadOptions& options) {
  sink.scan().format = "delimited text";
  std::string title;
  const Layout l = find_layout(in, options, title);
  sink.set_unit(unit_of(in, l, options.unit), !l.unit.empty());
  const int columns = l.columns();
  const bool normals = l.normals();
  std::string_view line, rest;
  bool started = false;
  std::uint64_t measured = 0;  // bytes of the rows read so far, to foresee how many there will be
  while (in.line(line)) {
    if (in.line_number() == 1 && line.starts_with("\xEF\xBB\xBF")) line.remove_prefix(3);
    const char first = line.empty() ? ' ' : line.front();
    if (first == ' ' || first == '\t' || first == '#' || first == '/' || first == ';' || first == '%') {
      if (trim(line).empty() || is_remark(line, l.separator, rest)) continue;
    }
    if (!started) {
      if (!title.empty() && trim(line) == title) {
        title.clear();
        continue;
      }
      double count;  // some exports give the number of points first
      const auto w = words(line);
      if (w.size() == 1 && l.separator == ' ' && sink.scan().declared_points == 0 && parse_number(w[0], count) &&
          count >= 1 && count <= 0x1p53 && count == std::floor(count)) {
        sink.scan().declared_points = std::uint64_t(count);
        continue;
      }
      started = true;
    }
    read_row(in, line, l, columns, normals, sink);
    // After a thousand rows their mean length tells how many will come; 2 % more avoids a costly last growth.
    if (sink.seen() <= 1000) {
      measured += line.size() + 1;
      if (sink.seen() == 1000) {
        const std::uint64_t n = 1000 + in.remaining() * 1020 / measured;
        sink.reserve(n, n, normals);
      }
    }
  }
  const std::uint64_t promised = sink.scan().declared_points;
  if (promised > sink.seen())
    in.fail_line("the file ends early: " + std::to_string(promised) + " points promised in its first line, " +
                 std::to_string(sink.seen()) + " present; copy or export the file again");
}

PlaceValues read_values(Input& in, double unit) {
  std::string title;
  const Layout l = find_layout(in, {}, title);
  unit_of(in, l, unit);
  int column = 0;
  while (column == l.at[0] || column == l.at[1] || column == l.at[2]) ++column;
  PlaceValues out;
  std::string_view line, rest;
  while (in.line(line)) {
    if (in.line_number() == 1 && line.starts_with("\xEF\xBB\xBF")) line.remove_prefix(3);
    line = trim(line);
    if (line.empty() || is_remark(line, l.separator, rest)) continue;
    if (out.values.empty() && !title.empty() && line == title) continue;
    const auto w = split(line, l.separator);
    double v[4];
    for (int k = 0; k < 4; ++k) {
      const int at = k < 3 ? l.at[k] : column;
      if (at >= int(w.size()) || !number_in(w[at], l.decimal_comma, v[k]) || !std::isfinite(v[k]))
        in.fail_line("expected x, y, z and a thickness, found " + quote(line) + "; correct or remove the line");
    }
    out.places.push_back(unit * Vec3(v[0], v[1], v[2]));
    out.values.push_back(unit * v[3]);
  }
  return out;
}

}  // namespace gapfront::reading
