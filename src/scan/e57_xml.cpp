#include "scan/e57_xml.hpp"
#include <algorithm>
#include <bit>
#include <charconv>
#include <pugixml.hpp>

namespace gapfront::reading {
namespace {

constexpr std::string_view kSpherical[] = {"sphericalRange", "sphericalAzimuth", "sphericalElevation"};

std::string_view trimmed(std::string_view text) {
  const auto from = text.find_first_not_of(" \t\r\n");
  if (from == text.npos) return {};
  return text.substr(from, text.find_last_not_of(" \t\r\n") - from + 1);
}

/// Reads the XML of one scan; what is wrong is said with the scan's number.
struct PartReader {
  const Input& in;
  std::string scan;  // "scan 2"

  [[noreturn]] void fail(const std::string& fault) const { in.fail_file(scan + ": " + fault); }

  double number(const pugi::xml_node& node, const char* name, double otherwise) const {
    const auto child = node.child(name);
    if (!child) return otherwise;
    // An empty element is nought.
    return number_in(trimmed(child.text().get()), 0, name);
  }
  double number_in(std::string_view text, double otherwise, const std::string& name) const {
    double v = 0;
    if (text.empty()) return otherwise;
    if (!parse_number(text, v) || !std::isfinite(v))
      fail(name + " is " + quote(text) + ", no number; export the file again");
    return v;
  }
  template <class T>
  T whole(const pugi::xml_node& node, const char* name, T otherwise) const {
    const auto attribute = node.attribute(name);
    if (!attribute) return otherwise;
    const std::string_view text = trimmed(attribute.value());
    T v{};
    const auto [end, error] = std::from_chars(text.data(), text.data() + text.size(), v);
    if (error != std::errc() || end != text.data() + text.size())
      fail(std::string(name) + " is " + quote(text) + ", no whole number; export the file again");
    return v;
  }

  Rigid pose(const pugi::xml_node& node) const {
    Rigid out = Rigid::Identity();
    if (const auto r = node.child("rotation")) {
      const auto turn = rotation_of({number(r, "w", 0), number(r, "x", 0), number(r, "y", 0), number(r, "z", 0)});
      if (!turn) fail("its rotation (w, x, y, z) is none, of another length than 1; export the file again");
      out.linear() = *turn;
    }
    if (const auto t = node.child("translation"))
      out.translation() = Vec3(number(t, "x", 0), number(t, "y", 0), number(t, "z", 0));
    return out;
  }

  E57Field field(const pugi::xml_node& node) const {
    E57Field f;
    const std::string_view type = node.attribute("type").value();
    if (type == "Float") {
      const bool single = std::string_view(node.attribute("precision").value()) == "single";
      f.kind = single ? E57Field::f32 : E57Field::f64, f.bits = single ? 32 : 64;
      return f;
    }
    if (type != "Integer" && type != "ScaledInteger")
      fail(std::string("its record has a field ") + quote(node.name()) + " of the type " + quote(type) +
           ", which this program does not read; export the points alone");
    const auto least = whole<std::int64_t>(node, "minimum", INT64_MIN);
    const auto most = whole<std::int64_t>(node, "maximum", INT64_MAX);
    if (most < least) fail(std::string(node.name()) + " has a maximum below its minimum; export the file again");
    f.kind = E57Field::whole, f.minimum = std::uint64_t(least);
    f.bits = std::bit_width(std::uint64_t(most) - std::uint64_t(least));
    if (type == "Integer") return f;
    f.scale = number_in(trimmed(node.attribute("scale").value()), 1, "scale");
    f.offset = number_in(trimmed(node.attribute("offset").value()), 0, "offset");
    return f;
  }

  void fields(const pugi::xml_node& points, E57Part& part) const {
    int round[3] = {-1, -1, -1}, round_invalid = -1;
    for (const auto& node : points.child("prototype").children()) {
      if (node.type() != pugi::node_element) continue;
      const std::string_view name = node.name();
      for (int k = 0; k < 3; ++k) {
        if (name == std::string("cartesian") + "XYZ"[k]) part.at[k] = int(part.fields.size());
        if (name == kSpherical[k]) round[k] = int(part.fields.size());
      }
      if (name == "cartesianInvalidState") part.invalid = int(part.fields.size());
      if (name == "sphericalInvalidState") round_invalid = int(part.fields.size());
      part.fields.push_back(field(node));
      // The packets count their streams with 16 bits.
      if (part.fields.size() > 65535) fail("its record has more than 65535 fields; export the points alone");
    }
    const auto lacks = [](const int* at) { return *std::min_element(at, at + 3) < 0; };
    // Of points that are given in both ways the cartesian ones are those that somebody has looked at.
    part.spherical = lacks(part.at) && !lacks(round);
    if (part.spherical) std::copy(round, round + 3, part.at), part.invalid = round_invalid;
    if (lacks(part.at))
      fail(
          "its points have neither cartesianX, cartesianY and cartesianZ nor sphericalRange, sphericalAzimuth and "
          "sphericalElevation; export cartesian coordinates");
    int bits = 0;
    for (const int k : part.at) bits += part.fields[k].bits;
    // Eight bits each would place a metre to 4 mm. Below, a small file could hold points without end.
    if (bits < 24)
      fail("its coordinates have " + std::to_string(bits) +
           " bits for all three, too few for a scan; export it with floating-point coordinates");
  }

  /// False when the scan holds no records.
  bool read(const pugi::xml_node& node, E57Part& part) const {
    const auto points = node.child("points");
    part.records = whole<std::uint64_t>(points, "recordCount", 0);
    if (part.records == 0) return false;
    if (!points.attribute("fileOffset")) fail("its points have no fileOffset; export the file again");
    part.offset = whole<std::uint64_t>(points, "fileOffset", 0);
    part.name = trimmed(node.child("name").text().get());
    std::replace(part.name.begin(), part.name.end(), '/', ' ');  // it stands behind the file's name
    part.pose = pose(node.child("pose"));
    for (const auto& codec : points.child("codecs").children())
      if (codec.type() == pugi::node_element && !codec.child("bitPackCodec"))
        fail("its points are packed in a way that this program does not read; export them without compression");
    fields(points, part);
    return true;
  }
};

}  // namespace

std::vector<E57Part> e57_parts(const Input& in, std::string& xml) {
  pugi::xml_document document;
  const auto parsed = document.load_buffer_inplace(xml.data(), xml.size(), pugi::parse_default, pugi::encoding_utf8);
  if (!parsed)
    in.fail_file("its XML part cannot be read (" + std::string(parsed.description()) + ", at byte " +
                 std::to_string(parsed.offset) + " of it); copy or export the file again");
  const auto scans = document.child("e57Root").child("data3D");
  if (!scans) in.fail_file("its XML part lists no scans (e57Root, data3D); export the scan again");
  std::vector<E57Part> out;
  std::size_t number = 0;
  for (const auto& node : scans.children("vectorChild")) {
    E57Part part;
    if (PartReader{in, "scan " + std::to_string(++number)}.read(node, part)) out.push_back(std::move(part));
  }
  return out;
}

}  // namespace gapfront::reading
