// PCD (point cloud data), after its public description, versions .5 to .7: a text header, then the points as text,
// packed binary (little-endian, record by record), or LZF-compressed binary (field by field). Not through PCL's reader,
// which takes an unreadable number of an ascii file for nought, and "2,5" for 2 (tests/external/pcl_files.cpp); it is
// no faster either, but on compressed files (DEVELOPERS.md).
#include <algorithm>
#include <cstring>
#include <optional>
#include "scan/formats.hpp"

namespace gapfront::reading {
namespace {

struct Field {
  std::string name;
  Number type{};
  std::size_t count = 1, at = 0;  // at: bytes from the start of the record
};
struct PcdHeader {
  std::vector<Field> fields;
  std::uint64_t points = 0;
  std::size_t stride = 0;
  std::string data;
  std::optional<Rigid> viewpoint;  // from the scanner's axes into the points' common frame; unset: they are in it
};

/// VIEWPOINT tx ty tz qw qx qy qz: where the scanner stood, in the file's unit, and how it was turned.
std::optional<Rigid> read_viewpoint(const Input& in, const std::vector<std::string_view>& w) {
  double v[7];
  for (std::size_t k = 0; k < 7; ++k)
    if (k + 1 >= w.size() || !parse_number(w[k + 1], v[k]) || !std::isfinite(v[k]))
      in.fail_line("VIEWPOINT needs seven numbers (tx ty tz qw qx qy qz); repair the header or remove the line");
  const auto turn = rotation_of({v[3], v[4], v[5], v[6]});
  if (!turn)
    in.fail_line("the last four numbers of VIEWPOINT are no rotation (qw qx qy qz, of length 1); repair the header");
  Rigid out = Rigid::Identity();
  out.linear() = *turn;
  out.translation() = Vec3(v[0], v[1], v[2]);
  if (out.matrix() == Rigid::Identity().matrix()) return {};
  return out;
}

Number number_type(const Input& in, std::string_view letter, double size) {
  const int n = int(size);
  if (letter == "F" && n == 4) return Number::f32;
  if (letter == "F" && n == 8) return Number::f64;
  if (letter == "I") return n == 1 ? Number::i8 : n == 2 ? Number::i16 : n == 8 ? Number::i64 : Number::i32;
  if (letter == "U") return n == 1 ? Number::u8 : n == 2 ? Number::u16 : n == 8 ? Number::u64 : Number::u32;
  in.fail_line("unknown number type " + quote(letter) + " of " + std::to_string(n) + " bytes; use F 4 or F 8");
}

PcdHeader read_header(Input& in) {
  PcdHeader h;
  std::vector<double> sizes, counts;
  std::vector<std::string> types;
  double width = 0, height = 1, points = -1;
  std::string_view line;
  while (h.data.empty()) {
    if (!in.line(line)) in.fail_file("the PCD header has no DATA line; the file is cut off, export it again");
    const auto w = words(line);
    if (w.empty() || w[0].front() == '#') continue;
    const auto numbers = [&] {
      std::vector<double> out;
      for (std::size_t i = 1; i < w.size(); ++i) {
        double v = 0;
        // A record is at most some dozens of bytes; the bound keeps a broken header from overflowing sums.
        const bool is_size = w[0] == "SIZE" || w[0] == "COUNT";
        if (!parse_number(w[i], v) || !(v >= 0) || v > (is_size ? 65535 : 1e12))
          in.fail_line("expected a whole number, found " + quote(w[i]) + "; repair the header");
        out.push_back(v);
      }
      if (out.empty()) in.fail_line(std::string(w[0]) + " has no value; repair the header");
      return out;
    };
    if (w[0] == "FIELDS" || w[0] == "COLUMNS") {
      for (std::size_t i = 1; i < w.size(); ++i) h.fields.push_back({std::string(w[i]), {}, 1, 0});
    } else if (w[0] == "SIZE") {
      sizes = numbers();
    } else if (w[0] == "TYPE") {
      types.assign(w.begin() + 1, w.end());
    } else if (w[0] == "COUNT") {
      counts = numbers();
    } else if (w[0] == "WIDTH") {
      width = numbers()[0];
    } else if (w[0] == "HEIGHT") {
      height = numbers()[0];
    } else if (w[0] == "POINTS") {
      points = numbers()[0];
    } else if (w[0] == "DATA") {
      h.data = w.size() > 1 ? std::string(w[1]) : "?";
    } else if (w[0] == "VIEWPOINT") {
      h.viewpoint = read_viewpoint(in, w);
    } else if (w[0] != "VERSION") {
      in.fail_line("not a PCD header line: " + quote(line) + "; repair the header or export the scan again");
    }
  }
  const std::size_t n = h.fields.size();
  if (n == 0 || sizes.size() != n || types.size() != n || (!counts.empty() && counts.size() != n))
    in.fail_file("FIELDS, SIZE, TYPE and COUNT of the PCD header differ in length; repair the header");
  for (std::size_t i = 0; i < n; ++i) {
    Field& f = h.fields[i];
    f.type = number_type(in, types[i], sizes[i]);
    if (f.name != "_" && (size_of(f.type) != std::size_t(sizes[i]) || (counts.size() == n && counts[i] < 1)))
      in.fail_file("field " + f.name + " of the PCD header has a size or count that no number has; repair the header");
    f.count = counts.empty() ? 1 : std::size_t(counts[i]);
    f.at = h.stride;
    // Padding fields ("_") may state any size; their own size counts, not that of the type.
    h.stride += std::size_t(sizes[i]) * f.count;
  }
  const double promised = points >= 0 ? points : width * height;
  if (!(promised <= 0x1p53) || promised != std::floor(promised))
    in.fail_file("the PCD header promises no whole number of points; repair the header");
  if (h.stride == 0) in.fail_file("the points of the PCD header have no bytes; repair the header");
  h.points = std::uint64_t(promised);
  return h;
}

// What is unpacked, and the points, take at most so many times what was packed, beside so many bytes. A scan takes four
// times; an organised one that is mostly empty may take more, and is small.
constexpr double kMostGrowth = 30, kAlwaysAllowed = 150e6;

/// Indices of x, y, z, normal_x, normal_y, normal_z in the fields; −1 when absent.
struct PcdColumns {
  int at[6];
  bool normals() const { return at[3] >= 0 && at[4] >= 0 && at[5] >= 0; }
};
PcdColumns find_columns(const Input& in, const PcdHeader& h) {
  static const char* names[] = {"x", "y", "z", "normal_x", "normal_y", "normal_z"};
  PcdColumns c;
  for (int k = 0; k < 6; ++k) {
    const auto hit = std::find_if(h.fields.begin(), h.fields.end(), [&](const Field& f) { return f.name == names[k]; });
    c.at[k] = hit == h.fields.end() ? -1 : int(hit - h.fields.begin());
    if (k < 3 && c.at[k] < 0)
      in.fail_file(std::string("the PCD file has no field ") + names[k] + "; export points with x, y and z");
  }
  return c;
}

[[noreturn]] void fail_short(const Input& in, const PcdHeader& h, std::uint64_t present) {
  in.fail_byte(in.size(), "the file ends early: " + std::to_string(h.points) + " points promised, " +
                              std::to_string(present) + " present; copy or export the file again");
}

/// x y z, and the normal behind them if there is one, as the file holds them.
void add_point(const PcdHeader& h, double* v, bool normals, Sink& sink) {
  if (h.viewpoint) {
    Eigen::Map<Vec3> at(v), normal(v + 3);
    at = *h.viewpoint * Vec3(at);
    if (normals) normal = h.viewpoint->linear() * Vec3(normal);
  }
  sink.add(v, normals);
}

void read_ascii(Input& in, const PcdHeader& h, const PcdColumns& c, Sink& sink) {
  std::string_view line;
  std::vector<std::size_t> first(h.fields.size());  // first word of each field
  std::size_t total = 0;
  for (std::size_t i = 0; i < h.fields.size(); ++i) {
    first[i] = total;
    total += h.fields[i].count;
  }
  for (std::uint64_t i = 0; i < h.points; ++i) {
    do {
      if (!in.line(line)) fail_short(in, h, i);
    } while (line.find_first_not_of(" \t") == line.npos);
    const auto w = words(line);
    double v[6] = {};
    for (int k = 0; k < (c.normals() ? 6 : 3); ++k) {
      const std::size_t at = first[c.at[k]];
      if (at >= w.size() || !parse_number(w[at], v[k]))
        in.fail_line("point " + std::to_string(i + 1) + ": expected a number for " + h.fields[c.at[k]].name +
                     ", found " + quote(at < w.size() ? w[at] : "") + "; correct or remove the line");
    }
    add_point(h, v, c.normals(), sink);
  }
}

/// LZF (M. Lehmann): a control byte below 32 starts a run of literals; otherwise it gives length and distance of
/// a copy from what has been written already. False when the data are not sound.
bool lzf_decode(const unsigned char* in, std::size_t n, unsigned char* out, std::size_t m) {
  std::size_t i = 0, o = 0;
  while (i < n) {
    const unsigned control = in[i++];
    if (control < 32) {
      const std::size_t run = control + 1;
      if (i + run > n || o + run > m) return false;
      std::memcpy(out + o, in + i, run);
      i += run;
      o += run;
    } else {
      std::size_t length = control >> 5;
      if (length == 7) {
        if (i >= n) return false;
        length += in[i++];
      }
      if (i >= n) return false;
      const std::size_t distance = ((control & 31u) << 8 | in[i++]) + 1;
      length += 2;
      if (distance > o || o + length > m) return false;
      for (std::size_t k = 0; k < length; ++k, ++o) out[o] = out[o - distance];
    }
  }
  return o == m;
}

void read_binary(Input& in, const PcdHeader& h, const PcdColumns& c, Sink& sink) {
  const int n = c.normals() ? 6 : 3;
  std::size_t at[6] = {};
  Number type[6] = {};
  for (int k = 0; k < n; ++k) at[k] = h.fields[c.at[k]].at, type[k] = h.fields[c.at[k]].type;
  for (std::uint64_t i = 0; i < h.points;) {
    const std::string_view records = in.take_some(h.stride, h.points - i);
    if (records.size() < h.stride) fail_short(in, h, i);
    i += records.size() / h.stride;
    for (const char *r = records.data(), *end = r + records.size(); r != end; r += h.stride) {
      double v[6] = {};
      for (int k = 0; k < n; ++k) v[k] = number_at(r + at[k], type[k], false);
      add_point(h, v, c.normals(), sink);
    }
  }
}

void read_compressed(Input& in, const PcdHeader& h, const PcdColumns& c, Sink& sink) {
  const char* sizes = in.take(8);
  if (!sizes) fail_short(in, h, 0);
  const auto packed = std::uint64_t(number_at(sizes, Number::u32, false));
  const auto full = std::uint64_t(number_at(sizes + 4, Number::u32, false));
  const std::uint64_t at = in.offset();
  // Not h.points * h.stride, which may wrap around.
  if (full % h.stride != 0 || full / h.stride != h.points)
    in.fail_byte(at - 4, "the compressed data hold " + std::to_string(full / h.stride) +
                             " points, the header promises " + std::to_string(h.points) + "; export the file again");
  if (packed > in.remaining())
    in.fail_byte(in.size(), "the compressed data end early (" + std::to_string(h.points) + " points promised, " +
                                std::to_string(packed) + " bytes promised, " + std::to_string(in.remaining()) +
                                " present); copy or export the file again");
  // The longest copy, of 264 bytes, takes three.
  if (full > 88 * packed)
    in.fail_byte(at - 4, "the compressed data cannot hold " + std::to_string(h.points) +
                             " points; export the file again, uncompressed if possible");
  const double takes = double(full) + double(h.points) * (sizeof(Vec3) + (c.normals() ? sizeof(Vec3f) : 0));
  if (takes > kMostGrowth * double(packed) + kAlwaysAllowed)
    in.fail_byte(at - 4,
                 "nine tenths of the compressed data are repeats, as of empty or equal points; export the file "
                 "again without these, or uncompressed");
  sink.reserve(h.points, full / h.stride, c.normals());
  const auto* bytes = reinterpret_cast<const unsigned char*>(in.take(packed));
  std::vector<char> out(full);
  if (!bytes || !lzf_decode(bytes, packed, reinterpret_cast<unsigned char*>(out.data()), full))
    in.fail_byte(at, "the compressed data are damaged; export the file again, uncompressed if possible");
  for (std::uint64_t i = 0; i < h.points; ++i) {
    double v[6] = {};
    for (int k = 0; k < (c.normals() ? 6 : 3); ++k) {
      const Field& f = h.fields[c.at[k]];
      v[k] = number_at(out.data() + f.at * h.points + i * size_of(f.type) * f.count, f.type, false);
    }
    add_point(h, v, c.normals(), sink);
  }
}

}  // namespace

void read_pcd(Input& in, Sink& sink) {
  const PcdHeader h = read_header(in);
  const PcdColumns c = find_columns(in, h);
  sink.scan().format = "PCD " + h.data;
  sink.scan().declared_points = h.points;
  if (h.points == 0) in.fail_file("the PCD header promises no points; export the scan again");
  if (h.data == "ascii") {
    sink.reserve(h.points, in.remaining() / 6, c.normals());
    read_ascii(in, h, c, sink);
  } else if (h.data == "binary") {
    sink.reserve(h.points, in.remaining() / h.stride, c.normals());
    read_binary(in, h, c, sink);
  } else if (h.data == "binary_compressed") {
    read_compressed(in, h, c, sink);
  } else {
    in.fail_line("DATA " + quote(h.data) + " is not known; use ascii, binary or binary_compressed");
  }
}

}  // namespace gapfront::reading
