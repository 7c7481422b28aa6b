// E57 (ASTM E2807), after its public description (D. Huber, "The ASTM E57 file format for 3D imaging data exchange",
// Proc. SPIE 7864, 2011): a header, sections of packets in pages with checksums, and an XML part that says where the
// sections are and what their bits mean. A packet carries a piece of one stream per field; the streams run on from
// packet to packet. Lengths are metres.
#include <algorithm>
#include <cmath>
#include <cstring>
#include "scan/e57_pages.hpp"
#include "scan/e57_xml.hpp"

namespace gapfront::reading {
namespace {

constexpr double kMetre = 1000;  // mm
constexpr std::uint64_t kSectionHeader = 32;

/// Range in metres, azimuth from x to y and elevation above the xy-plane in radians (ASTM E2807, spherical
/// coordinates).
Vec3 from_spherical(const Vec3& s) {
  return s[0] * Vec3(std::cos(s[2]) * std::cos(s[1]), std::cos(s[2]) * std::sin(s[1]), std::sin(s[2]));
}

/// The bits of one field that have been read and not yet been used.
class BitStream {
 public:
  explicit BitStream(const E57Field& field) : field_(field) {}

  void add(const char* p, std::size_t n) {
    // What is used up goes when it is half of what is held: each byte is moved once on average.
    const std::size_t used = at_ / 8;
    if (used > 4096 && used > bytes_.size() / 2) bytes_.erase(bytes_.begin(), bytes_.begin() + used), at_ -= 8 * used;
    bytes_.insert(bytes_.end(), p, p + n);
  }
  std::uint64_t records() const { return field_.bits == 0 ? ~0ull : (8 * bytes_.size() - at_) / field_.bits; }

  double next() {
    const std::uint64_t raw = bits();
    if (field_.kind == E57Field::f64) return number_at(reinterpret_cast<const char*>(&raw), Number::f64, false);
    if (field_.kind == E57Field::f32) return number_at(reinterpret_cast<const char*>(&raw), Number::f32, false);
    return double(std::int64_t(field_.minimum + raw)) * field_.scale + field_.offset;
  }

 private:
  /// The next number, least significant bit first.
  std::uint64_t bits() {
    std::uint64_t v = 0;
    for (int have = 0; have < field_.bits;) {
      const int from = at_ % 8, n = std::min(8 - from, field_.bits - have);
      const std::uint64_t byte = static_cast<unsigned char>(bytes_[at_ / 8]);
      v |= (byte >> from & ((1u << n) - 1)) << have;
      have += n, at_ += n;
    }
    return v;
  }
  const E57Field& field_;
  std::vector<char> bytes_;
  std::uint64_t at_ = 0;  // in bits
};

/// The points of one scan, packet by packet.
class PointReader {
 public:
  PointReader(const Input& in, E57Pages& pages, const E57Part& part, Sink& sink, const std::string& who)
      : in_(in), pages_(pages), part_(part), sink_(sink), who_(who) {
    for (const E57Field& f : part.fields) streams_.emplace_back(f);
  }

  /// Returns how many bytes the section took.
  std::uint64_t read() {
    const std::uint64_t start = pages_.place_of(part_.offset, who_ + ": its section");
    char h[kSectionHeader];
    pages_.read(start, h, sizeof h);
    if (h[0] != 1) fail("no section of points begins at byte " + std::to_string(part_.offset));
    std::uint64_t length, data;
    std::memcpy(&length, h + 8, 8), std::memcpy(&data, h + 16, 8);
    if (length < kSectionHeader || length > pages_.size() - start)
      fail("its section of " + std::to_string(length) + " bytes does not fit into the file");
    std::uint64_t at = pages_.place_of(data, who_ + ": its first packet");
    const std::uint64_t end = start + length;
    if (at < start + kSectionHeader || at > end) fail("its first packet lies outside of its section");
    std::uint64_t per_point = 0;
    for (const int k : part_.at) per_point += part_.fields[k].bits;
    sink_.reserve(part_.records, 8 * (end - at) / per_point, false);
    while (left_ > 0) {
      if (at >= end)
        fail("promises " + std::to_string(part_.records) + " points and holds " +
             std::to_string(part_.records - left_));
      at += packet(at, end - at);
    }
    return length;
  }

 private:
  [[noreturn]] void fail(const std::string& fault) const {
    in_.fail_file(who_ + ": " + fault + "; copy or export the file again");
  }

  /// Its length.
  std::uint64_t packet(std::uint64_t at, std::uint64_t room) {
    char h[6] = {};
    pages_.read(at, h, 4);
    std::uint16_t less_one, count;
    std::memcpy(&less_one, h + 2, 2);
    const std::size_t length = std::size_t(less_one) + 1;
    if (length < 4 || length > room) fail("a packet reaches beyond its section");
    const int type = static_cast<unsigned char>(h[0]);
    if (type == 0 || type == 2) return length;  // an index, or nothing
    if (type != 1) fail("a packet of the unknown kind " + std::to_string(type));
    packet_.resize(length);
    pages_.read(at, packet_.data(), length);
    std::size_t from = 6 + 2 * part_.fields.size();
    if (from > length) fail("a packet is too short for its streams");
    std::memcpy(&count, packet_.data() + 4, 2);
    if (count != part_.fields.size())
      fail("a packet has " + std::to_string(count) + " streams in place of " + std::to_string(part_.fields.size()));
    for (std::size_t k = 0; k < part_.fields.size(); ++k) {
      std::uint16_t n;
      std::memcpy(&n, packet_.data() + 6 + 2 * k, 2);
      if (n > length - from) fail("a packet is too short for its streams");
      if (wanted(int(k))) streams_[k].add(packet_.data() + from, n);
      from += n;
    }
    use();
    return length;
  }

  bool wanted(int k) const { return k == part_.invalid || std::find(part_.at, part_.at + 3, k) != part_.at + 3; }

  /// Makes points of what all streams hold.
  void use() {
    std::uint64_t n = left_;
    for (std::size_t k = 0; k < streams_.size(); ++k)
      if (wanted(int(k))) n = std::min(n, streams_[k].records());
    left_ -= n;
    for (; n > 0; --n) {
      const bool valid = part_.invalid < 0 || streams_[part_.invalid].next() == 0;
      Vec3 v;
      for (int k = 0; k < 3; ++k) v[k] = streams_[part_.at[k]].next();
      if (valid)
        sink_.add(part_.pose * (part_.spherical ? from_spherical(v) : v));
      else
        ++sink_.scan().nonfinite_dropped;
    }
  }

  const Input& in_;
  E57Pages& pages_;
  const E57Part& part_;
  Sink& sink_;
  std::string who_;
  std::uint64_t left_ = part_.records;
  std::vector<BitStream> streams_;
  std::vector<char> packet_;
};

}  // namespace

std::vector<Scan> read_e57(Input& in, const ReadOptions& options, const Progress& progress) {
  if (options.unit && *options.unit != kMetre)
    in.fail_file("E57 files are in metres, and the unit declared for it is another one; remove unit (or --unit)");
  E57Pages pages(in);
  std::vector<E57Part> parts;
  {
    std::string xml(pages.xml_length(), '\0');
    pages.read(pages.xml_at(), xml.data(), xml.size());
    parts = e57_parts(in, xml);
  }
  std::vector<Scan> out;
  std::uint64_t taken = 0, dropped = 0;
  for (std::size_t k = 0; k < parts.size(); ++k) {
    report_progress(progress, "read", double(k) / double(parts.size()));
    const std::string who =
        "scan " + std::to_string(k + 1) + (parts[k].name.empty() ? "" : " (" + quote(parts[k].name) + ")");
    Scan scan;
    scan.path = in.name() + (parts.size() > 1 ? ", " + who : "");
    scan.format = "E57", scan.declared_points = parts[k].records;
    Sink sink(scan, kMetre, progress, in);
    sink.set_unit(kMetre, true);
    taken += PointReader(in, pages, parts[k], sink, who).read();
    // Else a small file could hold the same points thousands of times.
    if (taken > pages.size()) in.fail_file(who + ": shares its bytes with another scan; export the file again");
    dropped += scan.nonfinite_dropped;
    if (!scan.cloud.points.empty()) out.push_back(std::move(scan));
  }
  if (out.empty())
    in.fail_file(dropped > 0 ? "all " + std::to_string(dropped) +
                                   " points are marked invalid or not finite; "
                                   "export the scan again"
                             : "no points found; export the scan again");
  return out;
}

}  // namespace gapfront::reading
