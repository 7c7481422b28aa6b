// Which format a file is in: by its first bytes, with the extension as the second witness.
#include <algorithm>
#include "gapfront/check.hpp"
#include "scan/formats.hpp"

namespace gapfront {
namespace {
using namespace reading;

bool starts_a_line(std::string_view head, std::string_view word) {
  for (std::size_t at = head.find(word); at != head.npos; at = head.find(word, at + 1))
    if (at == 0 || head[at - 1] == '\n') return true;
  return false;
}

bool looks_like_text(std::string_view head) {
  // Control characters do not occur in text; a byte above 127 may (UTF-8 in a remark).
  return std::none_of(head.begin(), head.end(),
                      [](unsigned char c) { return c < 32 && c != '\n' && c != '\r' && c != '\t' && c != '\f'; });
}

/// "PLY", "PCD", "STL", "OBJ", "E57", "text", or "" for unknown binary content.
std::string content_format(Input& in, const std::string& extension) {
  // Long enough for any header's telling lines.
  const std::string_view head = in.peek(4096);
  if (head.starts_with("ply\n") || head.starts_with("ply\r\n")) return "PLY";
  if (head.starts_with("# .PCD") || (starts_a_line(head, "FIELDS") && starts_a_line(head, "POINTS"))) return "PCD";
  if (head.starts_with("ASTM-E57")) return "E57";
  if (is_binary_stl(in)) return "STL";
  if (head.starts_with("solid") && (head.find("facet") != head.npos || head.find("endsolid") != head.npos))
    return "STL";
  if (head.starts_with("\x1f\x8b") || head.starts_with("PK\x03\x04"))
    in.fail_file("is a compressed archive; unpack it and name the scan inside");
  if (!looks_like_text(head)) return extension == ".stl" && head.size() >= 84 ? "STL" : "";
  if (starts_a_line(head, "v ") && (extension == ".obj" || starts_a_line(head, "f ") || starts_a_line(head, "vn ")))
    return "OBJ";
  return extension == ".obj" && head.find("\nv") != head.npos ? "OBJ" : "text";
}

std::string extension_format(const std::string& extension) {
  if (extension == ".ply") return "PLY";
  if (extension == ".pcd") return "PCD";
  if (extension == ".stl") return "STL";
  if (extension == ".obj") return "OBJ";
  if (extension == ".e57") return "E57";
  for (const char* text : {".xyz", ".asc", ".csv", ".tsv", ".txt", ".pts"})
    if (extension == text) return "text";
  return "";
}

/// Files of this program's own that are given as a scan by mistake.
bool is_job_file(std::string_view head, const std::string& extension) {
  return looks_like_text(head) &&
         (extension == ".toml" || starts_a_line(head, "[job]") || starts_a_line(head, "[lower]"));
}

/// The format by the first bytes; refuses those of none, or of another than the file's name says.
std::string format_of(Input& in) {
  const std::string extension = in.extension();
  if (is_job_file(in.peek(4096), extension))
    in.fail_file("is a job file and no scan; give the scans that it names, or the job to gapfront inspect");
  std::string content = content_format(in, extension);
  const std::string named = extension_format(extension);
  if (content.empty())
    in.fail_file((named.empty() ? "is not a scan format this program reads"
                                : "its first bytes are not those of " +
                                      (named == "text" ? "a text" : (named == "E57" ? "an " : "a ") + named) +
                                      " file, as " + extension + " says") +
                 "; export PLY, PCD, STL, OBJ, E57 or delimited text");
  if (!named.empty() && named != content)
    in.fail_file("its extension " + extension + " says " + named + ", its content is " + content +
                 "; rename the file or export it again");
  return content;
}

}  // namespace

void check_input_file(const std::filesystem::path& file) { Input opened(file); }

void check_scan_file(const std::filesystem::path& file) {
  Input in(file);
  format_of(in);
}

namespace {

/// A file of one scan, in any format but E57.
Scan read_one(Input& in, const std::string& format, const ReadOptions& options, const Progress& progress) {
  Scan scan;
  scan.path = in.name();
  scan.unit_declared = options.unit.has_value();
  scan.unit = options.unit.value_or(1.0);
  Sink sink(scan, scan.unit, progress, in);
  if (format == "PLY") read_ply(in, sink);
  if (format == "PCD") read_pcd(in, sink);
  if (format == "STL") read_stl(in, sink);
  if (format == "OBJ") read_obj(in, sink);
  if (format == "text") read_text(in, sink, options);
  sink.close();
  if (scan.cloud.points.empty())
    in.fail_file(scan.nonfinite_dropped > 0 ? "all " + std::to_string(scan.nonfinite_dropped) +
                                                  " points are NaN or infinite; export the scan again"
                                            : "no points found; export the scan again");
  return scan;
}

void take_off_tip(Scan& scan, double radius) {
  if (radius > 0 && scan.cloud.normals.empty()) scan.tip_radius = radius;
  if (radius > 0)
    for (std::size_t i = 0; i < scan.cloud.normals.size(); ++i)
      scan.cloud.points[i] -= radius * scan.cloud.normals[i].cast<double>();
  for (ScanFeature& f : scan.features)
    for (std::size_t i = 0; i < f.normals.size(); ++i) f.points[i] -= radius * f.normals[i].cast<double>();
}

}  // namespace

std::vector<Scan> scan::read_scans(const std::filesystem::path& file, const ReadOptions& options,
                                   const Progress& progress) {
  Input in(file);
  const std::string format = format_of(in);
  report_progress(progress, "read", 0);
  std::vector<Scan> scans;
  if (format == "E57")
    scans = read_e57(in, options, progress);
  else
    scans.push_back(read_one(in, format, options, progress));
  const std::string digest = in.finish();
  for (Scan& s : scans) take_off_tip(s, options.tip_radius), s.sha256 = digest;
  report_progress(progress, "read", 1);
  return scans;
}

Scan scan::read_scan(const std::filesystem::path& file, const ReadOptions& options, const Progress& progress) {
  std::vector<Scan> scans = read_scans(file, options, progress);
  if (scans.size() == 1) return std::move(scans.front());
  std::size_t points = 0;
  for (const Scan& s : scans) points += s.cloud.points.size();
  Scan all = std::move(scans.front());
  all.path = file.string(), all.format = "E57, " + std::to_string(scans.size()) + " scans";
  all.cloud.points.reserve(points);
  for (std::size_t k = 1; k < scans.size(); ++k) {
    all.cloud.points.insert(all.cloud.points.end(), scans[k].cloud.points.begin(), scans[k].cloud.points.end());
    all.declared_points += scans[k].declared_points;
    all.nonfinite_dropped += scans[k].nonfinite_dropped;
    scans[k].cloud = {};
  }
  return all;
}

PlaceValues scan::read_place_values(const std::filesystem::path& file, double unit) {
  Input in(file);
  if (!looks_like_text(in.peek(4096))) in.fail_file("is not a text file; give x, y, z and the thickness line by line");
  PlaceValues out = read_values(in, unit);
  // A plane through them is what they are interpolated by.
  if (out.values.size() < 3)
    in.fail_file("has fewer than 3 places with a thickness; where it is the same everywhere, cavity.nominal says so");
  return out;
}

}  // namespace gapfront
