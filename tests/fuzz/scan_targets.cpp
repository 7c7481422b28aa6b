// Scans of each format, read and cleaned as a program would; meshes; values at places.
#include "fuzz/as_file.hpp"
#include "fuzz/e57_checksums.hpp"
#include "gapfront/scan.hpp"

namespace fuzz {
namespace {

using namespace gapfront;

Outcome scan_outcome(std::string_view bytes, const std::string& extension) {
  const AsFile file(bytes, extension);
  return outcome_of([&] {
    Scan s = scan::read_scan(file.path);
    const CleanReport cleaned = scan::clean(s);
    scan::look(s, cleaned);
  });
}

Outcome mesh_outcome(std::string_view bytes, const std::string& extension) {
  const AsFile file(bytes, extension);
  return outcome_of([&] { scan::read_mesh(file.path); });
}

}  // namespace

Outcome ply(std::string_view bytes) { return scan_outcome(bytes, ".ply"); }
Outcome pcd(std::string_view bytes) { return scan_outcome(bytes, ".pcd"); }
Outcome stl(std::string_view bytes) { return scan_outcome(bytes, ".stl"); }
Outcome obj(std::string_view bytes) { return scan_outcome(bytes, ".obj"); }
Outcome text(std::string_view bytes) { return scan_outcome(bytes, ".xyz"); }
Outcome e57(std::string_view bytes) {
  std::string mended(bytes);
  mend_checksums(mended);  // else every change of a byte ends at its page
  return scan_outcome(mended, ".e57");
}
Outcome mesh_stl(std::string_view bytes) { return mesh_outcome(bytes, ".stl"); }
Outcome mesh_obj(std::string_view bytes) { return mesh_outcome(bytes, ".obj"); }

Outcome painted(std::string_view bytes) {
  const AsFile file(bytes, ".ply");
  return outcome_of([&] { scan::read_painted_mesh(file.path); });
}

Outcome places(std::string_view bytes) {
  const AsFile file(bytes, ".csv");
  return outcome_of([&] { scan::read_place_values(file.path); });
}

}  // namespace fuzz
