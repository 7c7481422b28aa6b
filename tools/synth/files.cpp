// Scan files and truth files.
#include <bit>
#include <cstdio>
#include <cstring>
#include <fstream>
#include <iomanip>
#include <nlohmann/json.hpp>
#include <sstream>
#include <stdexcept>
#include "synth/synth.hpp"

namespace gapfront::synth {
namespace {

static_assert(std::endian::native == std::endian::little, "binary files are written as the machine holds them");
using Json = nlohmann::ordered_json;

void save(const std::string& path, const std::string& bytes) {
  std::ofstream out(path, std::ios::binary);
  out.write(bytes.data(), static_cast<std::streamsize>(bytes.size()));
  if (!out.flush()) throw std::runtime_error("cannot write " + path);
}

void put(std::string& out, const Vec3& p) {
  const float f[] = {static_cast<float>(p.x()), static_cast<float>(p.y()), static_cast<float>(p.z())};
  out.append(reinterpret_cast<const char*>(f), sizeof f);
}

Json triple(const Vec3& v) { return Json::array({v.x(), v.y(), v.z()}); }
Vec3 triple(const Json& j) { return Vec3(j.at(0), j.at(1), j.at(2)); }

Json matrix(const Rigid& t) {
  Json rows = Json::array();
  for (int i = 0; i < 3; ++i) {
    Json row = Json::array();
    for (int k = 0; k < 4; ++k) row.push_back(t.matrix()(i, k));
    rows.push_back(row);
  }
  return rows;
}
Rigid matrix(const Json& j) {
  Rigid t = Rigid::Identity();
  for (int i = 0; i < 3; ++i)
    for (int k = 0; k < 4; ++k) t.matrix()(i, k) = j.at(i).at(k);
  return t;
}

/// The numbers of a shape under their names, for writing and for reading.
template <typename S, typename F>
void shape_fields(S& s, F field) {
  field("half_x", s.half_x), field("half_y", s.half_y), field("corner", s.corner), field("depth", s.depth);
  field("draft_deg", s.draft_deg), field("bottom_radius", s.bottom_radius), field("top_radius", s.top_radius);
  field("flange", s.flange), field("seal", s.seal), field("rib_x", s.rib_x), field("rib_y", s.rib_y);
  field("rib_height", s.rib_height), field("rib_half_top", s.rib_half_top), field("rib_radius", s.rib_radius);
}

Face face_named(const std::string& name) { return name == "upper" ? Face::upper : Face::lower; }

DefectKind kind_named(const std::string& name) {
  for (const DefectKind k : {DefectKind::tilt, DefectKind::local, DefectKind::wear, DefectKind::radius})
    if (name == to_string(k)) return k;
  throw std::runtime_error("unknown kind of defect: " + name);
}

Json write_mold(const Mold& mold) {
  Json j;
  j["nominal"] = mold.nominal;
  j["tolerance"] = mold.tolerance;
  j["cycles"] = mold.cycles;
  shape_fields(mold.shape, [&](const char* name, double v) { j["shape"][name] = v; });
  j["closing"] = matrix(mold.closing);
  j["defects"] = Json::array();
  for (const Defect& d : mold.defects)
    j["defects"].push_back({{"name", d.name},
                            {"kind", to_string(d.kind)},
                            {"face", to_string(d.face)},
                            {"centre", triple(d.centre)},
                            {"gap_change", d.gap_change},
                            {"radius", d.radius},
                            {"per_cycle", d.per_cycle},
                            {"radius_change", d.radius_change},
                            {"length", d.length},
                            {"taper", d.taper}});
  j["stations"] = Json::array();
  for (const Station& s : mold.stations)
    j["stations"].push_back({{"name", s.name}, {"at", triple(s.at)}, {"high", s.high}});
  j["seal"] = Json::array();
  for (const Vec3& p : mold.seal_polygon()) j["seal"].push_back(triple(p));
  return j;
}

Mold read_mold(const Json& j) {
  Mold mold;
  mold.nominal = j.at("nominal");
  mold.tolerance = j.at("tolerance");
  mold.cycles = j.at("cycles");
  shape_fields(mold.shape, [&](const char* name, double& v) { v = j.at("shape").at(name); });
  mold.closing = matrix(j.at("closing"));
  for (const Json& d : j.at("defects"))
    mold.defects.push_back({d.at("name"), kind_named(d.at("kind")), face_named(d.at("face")), triple(d.at("centre")),
                            d.at("gap_change"), d.at("radius"), d.at("per_cycle"), d.at("radius_change"),
                            d.at("length"), d.at("taper")});
  for (const Json& s : j.at("stations")) mold.stations.push_back({s.at("name"), triple(s.at("at")), s.at("high")});
  return mold;
}

Json write_scanner(const Scanner& s) {
  Json j = {{"spacing", s.spacing},
            {"jitter", s.jitter},
            {"noise", s.noise},
            {"lateral_noise", s.lateral_noise},
            {"ball_spacing", s.ball_spacing},
            {"grazing_from", s.grazing_from},
            {"grazing_to", s.grazing_to},
            {"islands", s.islands},
            {"strays", s.outliers},
            {"seed", s.seed}};
  j["views"] = Json::array();
  for (const Vec3& v : s.views) j["views"].push_back(triple(v));
  j["holes"] = Json::array();
  for (const Hole& h : s.holes)
    j["holes"].push_back({{"face", to_string(h.face)}, {"centre", triple(h.centre)}, {"radius", h.radius}});
  return j;
}

Scanner read_scanner(const Json& j) {
  Scanner s;
  s.spacing = j.at("spacing"), s.jitter = j.at("jitter"), s.noise = j.at("noise");
  s.lateral_noise = j.at("lateral_noise"), s.ball_spacing = j.at("ball_spacing");
  s.grazing_from = j.at("grazing_from"), s.grazing_to = j.at("grazing_to");
  s.islands = j.at("islands"), s.outliers = j.at("strays"), s.seed = j.at("seed");
  s.views.clear();
  for (const Json& v : j.at("views")) s.views.push_back(triple(v));
  for (const Json& h : j.at("holes"))
    s.holes.push_back({face_named(h.at("face")), triple(h.at("centre")), h.at("radius")});
  return s;
}

}  // namespace

const char* extension(Format format) {
  switch (format) {
    case Format::ply:
      return "ply";
    case Format::pcd:
      return "pcd";
    case Format::asc:
      return "asc";
    case Format::stl:
      return "stl";
  }
  return "";
}

void write_cloud(const std::string& path, const std::vector<Vec3>& points, Format format) {
  const std::string n = std::to_string(points.size());
  std::string out;
  if (format == Format::stl) throw std::runtime_error("a cloud has no triangles to write as STL: " + path);
  if (format == Format::asc) {
    char line[96];
    for (const Vec3& p : points) {
      std::snprintf(line, sizeof line, "%.4f %.4f %.4f\n", p.x(), p.y(), p.z());
      out += line;
    }
    return save(path, out);
  }
  if (format == Format::ply)
    out = "ply\nformat binary_little_endian 1.0\ncomment invented data, mm\nelement vertex " + n +
          "\nproperty float x\nproperty float y\nproperty float z\nend_header\n";
  else
    out = "# .PCD v0.7 - invented data, mm\nVERSION 0.7\nFIELDS x y z\nSIZE 4 4 4\nTYPE F F F\nCOUNT 1 1 1\nWIDTH " +
          n + "\nHEIGHT 1\nVIEWPOINT 0 0 0 1 0 0 0\nPOINTS " + n + "\nDATA binary\n";
  out.reserve(out.size() + 12 * points.size());
  for (const Vec3& p : points) put(out, p);
  save(path, out);
}

void write_stl(const std::string& path, const Mesh& mesh) {
  std::string out = "invented data, mm";
  out.resize(80, ' ');
  const auto count = static_cast<std::uint32_t>(mesh.triangles.size());
  out.append(reinterpret_cast<const char*>(&count), 4);
  for (const auto& t : mesh.triangles) {
    const Vec3 &a = mesh.points[t[0]], &b = mesh.points[t[1]], &c = mesh.points[t[2]];
    put(out, (b - a).cross(c - a).normalized());
    put(out, a), put(out, b), put(out, c);
    out.append(2, '\0');
  }
  save(path, out);
}

void save_truth(const std::string& path, const Truth& truth) {
  Json j;
  j["note"] = "Invented data made by tools/synth: no real tool, no real part. Lengths in mm.";
  j["scenario"] = truth.scenario;
  j["story"] = truth.story;
  j["mold"] = write_mold(truth.mold);
  j["lower_pose"] = matrix(truth.poses.lower);
  j["upper_pose"] = matrix(truth.poses.upper);
  j["balls"] = Json::array();
  for (const Ball& b : truth.mold.balls)
    j["balls"].push_back({{"name", b.name},
                          {"diameter", b.diameter},
                          {"tool", triple(b.centre)},
                          {"lower_scan", triple(Vec3(truth.poses.lower * b.centre))},
                          {"upper_scan", triple(Vec3(truth.poses.upper * b.centre))}});
  j["scanner"] = write_scanner(truth.scanner);
  save(path, j.dump(1) + "\n");
}

Truth load_truth(const std::string& path) {
  std::ifstream in(path);
  if (!in) throw std::runtime_error("cannot read " + path);
  try {
    const Json j = Json::parse(in);
    Truth t;
    t.scenario = j.at("scenario");
    t.story = j.at("story");
    t.mold = read_mold(j.at("mold"));
    t.poses = {matrix(j.at("lower_pose")), matrix(j.at("upper_pose"))};
    for (const Json& b : j.at("balls")) t.mold.balls.push_back({b.at("name"), triple(b.at("tool")), b.at("diameter")});
    t.scanner = read_scanner(j.at("scanner"));
    return t;
  } catch (const Json::exception& e) {
    throw std::runtime_error(path + ": " + e.what());
  }
}

}  // namespace gapfront::synth
