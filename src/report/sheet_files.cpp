// sheet.ply and sheet.pcd (both binary, little-endian) and sheet.vtu (VTK XML, inline base64): open formats, all
// fields.
#include <algorithm>
#include <cstdint>
#include <cstring>
#include <sstream>

#include "core/base64.hpp"
#include "gapfront/report.hpp"
#include "report/fields.hpp"
#include "report/picture.hpp"

namespace gapfront::report {
namespace {

template <class T>
void append(std::string& out, T value) {
  char bytes[sizeof(T)];
  std::memcpy(bytes, &value, sizeof(T));  // Debian's targets for this program are little-endian
  out.append(bytes, sizeof(T));
}

template <class T>
std::string vtu_array(const std::string& type, const std::string& name, int components, const std::vector<T>& data) {
  std::string bytes;
  append(bytes, static_cast<std::uint32_t>(data.size() * sizeof(T)));
  bytes.append(reinterpret_cast<const char*>(data.data()), data.size() * sizeof(T));
  return "<DataArray type=\"" + type + "\" Name=\"" + name + "\" NumberOfComponents=\"" + std::to_string(components) +
         "\" format=\"binary\">" + base64(bytes.data(), bytes.size()) + "</DataArray>\n";
}

std::vector<report::Field> written(const Inspection& r) {
  auto all = report::fields(r);
  all.erase(std::remove_if(all.begin(), all.end(), [](const report::Field& f) { return !report::in_files(f); }),
            all.end());
  return all;
}

}  // namespace

std::string sheet_ply(const Inspection& r) {
  const auto all = written(r);
  const Mesh& mesh = r.sheet.mesh;
  std::ostringstream head;
  head << "ply\nformat binary_little_endian 1.0\ncomment gapfront " << r.version
       << ", lengths in mm, tool frame; NaN: not measured or never reached\n"
       << "element vertex " << mesh.points.size() << "\nproperty double x\nproperty double y\nproperty double z\n";
  for (const auto& f : all) head << "property float " << f.id << "\n";
  head << "element face " << mesh.triangles.size() << "\nproperty list uchar int vertex_indices\nend_header\n";
  std::string out = head.str();
  for (std::size_t i = 0; i < mesh.points.size(); ++i) {
    for (int k = 0; k < 3; ++k) append(out, mesh.points[i][k]);
    for (const auto& f : all) append(out, static_cast<float>(f.values[i]));
  }
  for (const auto& t : mesh.triangles) {
    append(out, std::uint8_t{3});
    for (int v : t) append(out, static_cast<std::int32_t>(v));
  }
  return out;
}

std::string sheet_pcd(const Inspection& r) {
  const auto all = written(r);
  const std::size_t columns = 6 + all.size(), nodes = r.sheet.size();
  const auto repeated = [&](const std::string& word) {
    std::string out;
    for (std::size_t k = 0; k < columns; ++k) out += " " + word;
    return out;
  };
  std::ostringstream head;
  head << "# .PCD v0.7 - Point Cloud Data file format\n# gapfront " << r.version
       << ", lengths in mm, tool frame; NaN: not measured or never reached\nVERSION 0.7\n"
       << "FIELDS x y z normal_x normal_y normal_z";
  for (const auto& f : all) head << " " << f.id;
  // Single precision, coordinates too: PCL's point types hold nothing else.
  head << "\nSIZE" << repeated("4") << "\nTYPE" << repeated("F") << "\nCOUNT" << repeated("1") << "\nWIDTH " << nodes
       << "\nHEIGHT 1\nVIEWPOINT 0 0 0 1 0 0 0\nPOINTS " << nodes << "\nDATA binary\n";
  std::string out = head.str();
  for (std::size_t i = 0; i < nodes; ++i) {
    for (int k = 0; k < 3; ++k) append(out, static_cast<float>(r.sheet.mesh.points[i][k]));
    for (int k = 0; k < 3; ++k) append(out, static_cast<float>(r.sheet.normals[i][k]));
    for (const auto& f : all) append(out, static_cast<float>(f.values[i]));
  }
  return out;
}

std::string sheet_vtu(const Inspection& r) {
  const Mesh& mesh = r.sheet.mesh;
  std::vector<double> xyz;
  for (const auto& p : mesh.points) xyz.insert(xyz.end(), {p.x(), p.y(), p.z()});
  std::vector<std::int64_t> connectivity, offsets;
  for (const auto& t : mesh.triangles) {
    connectivity.insert(connectivity.end(), {t[0], t[1], t[2]});
    offsets.push_back(static_cast<std::int64_t>(connectivity.size()));
  }
  const std::vector<std::uint8_t> types(mesh.triangles.size(), 5);  // VTK_TRIANGLE
  std::string out =
      "<?xml version=\"1.0\"?>\n<VTKFile type=\"UnstructuredGrid\" version=\"0.1\" byte_order=\"LittleEndian\">\n"
      "<UnstructuredGrid>\n<Piece NumberOfPoints=\"" +
      std::to_string(mesh.points.size()) + "\" NumberOfCells=\"" + std::to_string(mesh.triangles.size()) + "\">\n";
  out += "<Points>\n" + vtu_array("Float64", "tool_mm", 3, xyz) + "</Points>\n<Cells>\n" +
         vtu_array("Int64", "connectivity", 1, connectivity) + vtu_array("Int64", "offsets", 1, offsets) +
         vtu_array("UInt8", "types", 1, types) + "</Cells>\n<PointData Scalars=\"deviation_mm\">\n";
  for (const auto& f : written(r))
    out += vtu_array("Float32", f.id, 1, std::vector<float>(f.values.begin(), f.values.end()));
  return out + "</PointData>\n</Piece>\n</UnstructuredGrid>\n</VTKFile>\n";
}

}  // namespace gapfront::report
