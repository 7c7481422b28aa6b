#include <algorithm>
#include <cctype>
#include <cstdint>
#include <filesystem>
#include <fstream>
#include <iterator>

#include "gapfront/error.hpp"
#include "job/sections.hpp"
#include "job/toml_text.hpp"

namespace gapfront::job {
namespace {

// A hundred times the longest job anyone wrote; a scan given by mistake is not read into memory.
constexpr std::uintmax_t kLongest = 16u << 20;

std::string slurp(const std::filesystem::path& file) {
  if (std::filesystem::is_directory(file))
    throw Error(Fault::input, file.string() + ": is a folder; give the job file itself");
  std::error_code unknown;
  if (std::filesystem::exists(file, unknown) && !std::filesystem::is_regular_file(file, unknown))
    throw Error(Fault::input, file.string() + ": is not an ordinary file; name a job file");
  if (std::filesystem::file_size(file, unknown) > kLongest && !unknown)
    throw Error(Fault::input, file.string() + ": is too long for a job file (over 16 MB); name a job file, not a scan");
  std::ifstream in(file, std::ios::binary);
  if (!in)
    throw Error(Fault::input,
                file.string() + ": cannot be opened; check the path, or make one: gapfront new LOWER UPPER");
  std::string text{std::istreambuf_iterator<char>(in), {}};
  if (text.find_first_not_of(" \t\r\n") == std::string::npos)
    throw Error(Fault::input, file.string() + ": is empty; make a job file: gapfront new LOWER UPPER");
  return text;
}

toml::table parse(const std::string& text, const std::filesystem::path& file) {
  refuse_text_that_harms(text, file);
  try {
    return toml::parse(text, file.string());
  } catch (const toml::parse_error& e) {
    throw Error(Fault::input, file.string() + ":" + std::to_string(e.source().begin.line) +
                                  ": not readable as a job file: " + std::string(e.description()) +
                                  "; text goes in quotes, name = \"…\"");
  }
}

constexpr const char* kTwice = "names the same scan twice; name each scan of this half once";

bool names(const HalfInput& half, const std::filesystem::path& scan) {
  return half.file == scan ||
         std::any_of(half.more.begin(), half.more.end(), [&](const PatchInput& p) { return p.file == scan; });
}

PatchInput read_patch(Table& t, const std::filesystem::path& folder, const HalfInput& half) {
  PatchInput p;
  const auto path = [&](const char* key, const std::string& name) {
    if (name.empty()) t.fail(key, "must name a file");
    return (folder / name).lexically_normal();
  };
  p.file = path("file", t.need("file", t.text("file"), "\"scan-2.ply\""));
  if (names(half, p.file)) t.fail("file", kTwice);
  if (const auto pose = t.text("pose")) p.pose = path("pose", *pose);
  p.u = t.quantity("u", Dimension::length, Sign::positive).value_or(0);
  if (p.u > 0 && p.pose.empty())
    t.fail("u", "is of the pose, and there is none; add pose = \"scan-2.txt\", or leave u out");
  t.done();
  return p;
}

HalfInput read_half(Table t, const std::filesystem::path& folder) {
  HalfInput half;
  const auto files = t.texts("file");
  t.need("file", files.empty() ? std::optional<std::string>() : files.front(), "\"scan.ply\"");
  for (const std::string& file : files) {
    if (file.empty()) t.fail("file", "must name the scan of this half, or several scans of it");
    const auto path = (folder / file).lexically_normal();
    if (names(half, path)) t.fail("file", kTwice);
    if (half.file.empty())
      half.file = path;
    else
      half.more.push_back({path, {}, 0});
  }
  for (Table& patch : t.tables("patch")) half.more.push_back(read_patch(patch, folder, half));
  if (const auto unit = t.text("unit")) {
    half.read.unit = length_unit(*unit);
    if (!half.read.unit) t.refuse_word("unit", *unit, length_units());
  }
  half.read.columns = t.text("columns").value_or("");
  half.read.decimal_comma = t.flag("decimal_comma");
  if (const auto separator = t.text("separator")) {
    const std::string s = *separator == "\\t" ? "\t" : *separator;
    if (s.size() != 1) t.fail("separator", "must be one sign, e.g. \";\"");
    half.read.separator = s[0];
  }
  half.read.tip_radius = t.quantity("tip_radius", Dimension::length, Sign::positive).value_or(0);
  t.done();
  return half;
}

void read_job_section(Table t, Job& out, const std::filesystem::path& folder, const toml::table& file) {
  out.name = t.text("name").value_or(out.name);
  out.tool = t.text("tool").value_or("");
  // It names the history's file, and with ".history" stays below what file systems take (255 bytes).
  constexpr std::size_t kLongest = 100;
  if (out.tool.size() > kLongest) t.fail("tool", "is longer than 100 bytes; give the short name that is on the tool");
  if (out.tool.find_first_of("/\\\n\t") != std::string::npos || out.tool.starts_with('.'))
    t.fail("tool", "is a name, not a path: no /, no \\, no point in front; another place is [history] file");
  out.date = t.text("date").value_or("");
  if (!out.date.empty() && !day_number(out.date))
    t.fail("date",
           "\"" + out.date + "\" is no day of the calendar; write year-month-day (ISO 8601), e.g. \"2026-03-02\"");
  out.note = t.text("note").value_or("");
  if (const auto photo = t.text("photo")) {
    if (photo->empty()) t.fail("photo", "must name a photo of the tool, a JPEG or PNG file");
    out.photo = (folder / *photo).lexically_normal();
  }
  out.invented = t.flag("invented").value_or(false);
  out.cycles = t.number("cycles", Sign::not_negative).value_or(0);
  const std::string units = t.word("units", {"mm", "inch"}, "mm");
  out.units = units == "mm" ? UnitSystem::mm : UnitSystem::inch;
  if (const auto output = t.text("output")) {
    if (output->empty()) t.fail("output", "must name a folder");
    out.output = (folder / *output).lexically_normal();
  }
  job::read_unconfirmed(file, t.texts("unconfirmed"), t, out);
  t.done();
}

void read_report(Table t, Job& out) {
  out.language = t.word("language", {languages.begin(), languages.end()}, out.language);
  t.done();
}

void read_clean(Table t, CleanOptions& clean) {
  clean.outliers = t.flag("outliers").value_or(clean.outliers);
  clean.outlier_sigma = t.number("outlier_sigma", Sign::positive).value_or(clean.outlier_sigma);
  t.done();
}

Table need_section(Table& root, const std::string& name) {
  auto section = root.table(name);
  if (!section) root.fail("the section [" + name + "] is missing; gapfront new LOWER UPPER writes a complete job file");
  return *std::move(section);
}

}  // namespace

Job job_of(const toml::table& parsed, const std::filesystem::path& file, std::string text, const std::string& said_of) {
  Job out;
  out.file = file;
  out.text = std::move(text);
  out.name = file.stem().string();
  out.output = std::filesystem::path("reports") / file.stem();
  const auto folder = file.parent_path();

  Table root(parsed, said_of, "");
  // Every section is asked for before any is read, so that a misspelt one is named as such.
  auto section_job = root.table("job"), clean = root.table("clean"), align = root.table("align"),
       correct = root.table("correct"), lower = root.table("lower"), upper = root.table("upper"),
       cavity = root.table("cavity"), laminate = root.table("laminate"), flow = root.table("flow"),
       history = root.table("history"), closing = root.table("closing"), instrument = root.table("instrument"),
       report = root.table("report"), prices = root.table("prices");
  root.done();

  if (section_job) read_job_section(*section_job, out, folder, parsed);
  if (report) read_report(*report, out);
  out.lower = read_half(need_section(root, "lower"), folder);
  out.upper = read_half(need_section(root, "upper"), folder);
  if (clean) read_clean(*clean, out.clean);
  job::read_align(need_section(root, "align"), out);
  const Table section_cavity = need_section(root, "cavity");
  const bool u_given = section_cavity.has("u_instrument");
  job::read_cavity(section_cavity, out);
  if (instrument) job::read_instrument(*instrument, u_given, out);
  job::read_laminate(need_section(root, "laminate"), out);
  if (closing) job::read_closing(*closing, out);
  job::read_flow(need_section(root, "flow"), out, laminate->has("clamping"));
  const toml::table nothing;  // the sets and the paper follow the units, given or not
  job::read_correct(correct ? *correct : Table(nothing, said_of, "correct"), out);
  if (prices) job::read_prices(*prices, out.correct.prices);
  if (history) job::read_history(*history, out, folder);
  return out;
}

JobText read_text(const std::filesystem::path& file) {
  std::string extension = file.extension().string();
  for (char& c : extension) c = static_cast<char>(std::tolower(static_cast<unsigned char>(c)));
  for (const char* scan : {".ply", ".pcd", ".stl", ".obj", ".e57"})
    if (extension == scan)
      throw Error(Fault::input, file.string() + ": is a scan; give the job file that names it, or make one with " +
                                    "gapfront new LOWER UPPER -o job.toml");
  std::string text = slurp(file);
  toml::table parsed = parse(text, file);
  return {std::move(text), std::move(parsed)};
}

Job read_job(const std::filesystem::path& file) {
  JobText read = read_text(file);
  return job_of(read.parsed, file, std::move(read.text), file.string());
}

}  // namespace gapfront::job
