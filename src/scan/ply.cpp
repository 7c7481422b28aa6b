// PLY, after the format's public description (G. Turk, Stanford, 1994): a text header naming elements and their
// properties, then the elements in that order, as text or packed binary of either byte order.
#include "scan/ply.hpp"
#include <algorithm>

namespace gapfront::reading {
namespace {

Number number_type(const Input& in, std::string_view name) {
  static const std::pair<std::string_view, Number> known[] = {
      {"char", Number::i8},   {"int8", Number::i8},     {"uchar", Number::u8},   {"uint8", Number::u8},
      {"short", Number::i16}, {"int16", Number::i16},   {"ushort", Number::u16}, {"uint16", Number::u16},
      {"int", Number::i32},   {"int32", Number::i32},   {"uint", Number::u32},   {"uint32", Number::u32},
      {"float", Number::f32}, {"float32", Number::f32}, {"double", Number::f64}, {"float64", Number::f64},
      {"int64", Number::i64}, {"uint64", Number::u64}};
  for (const auto& [text, type] : known)
    if (text == name) return type;
  in.fail_line("unknown number type " + quote(name) + " in the PLY header; use float or double");
}

}  // namespace

Header read_ply_header(Input& in) {
  Header header;
  std::string_view line;
  in.line(line);  // "ply", checked by the caller
  for (;;) {
    if (!in.line(line)) in.fail_file("the PLY header has no end_header; the file is cut off, export it again");
    const auto w = words(line);
    if (w.empty() || w[0] == "comment" || w[0] == "obj_info") continue;
    if (w[0] == "end_header") break;
    if (w[0] == "format" && w.size() >= 2) {
      header.format = w[1];
    } else if (w[0] == "element" && w.size() == 3) {
      double count = -1;
      // A count is exact as a double up to 2^53; no file is that long.
      if (!parse_number(w[2], count) || !(count >= 0 && count <= 0x1p53) || count != std::floor(count))
        in.fail_line("element count " + quote(w[2]) + " is not a whole number; repair the header");
      header.elements.push_back({std::string(w[1]), static_cast<std::uint64_t>(count), {}});
    } else if (w[0] == "property" && !header.elements.empty()) {
      Property p;
      if (w.size() == 5 && w[1] == "list") {
        p = {std::string(w[4]), number_type(in, w[3]), true, number_type(in, w[2])};
      } else if (w.size() == 3) {
        p = {std::string(w[2]), number_type(in, w[1]), false, {}};
      } else {
        in.fail_line("broken property line " + quote(line) + "; expected: property TYPE NAME");
      }
      header.elements.back().properties.push_back(p);
    } else {
      in.fail_line("not a PLY header line: " + quote(line) + "; repair the header or export the scan again");
    }
  }
  if (header.format != "ascii" && header.format != "binary_little_endian" && header.format != "binary_big_endian")
    in.fail_file("PLY format " + quote(header.format) +
                 " is not known; use ascii, binary_little_endian or binary_big_endian");
  for (const Element& e : header.elements)
    if (e.count > 0 && e.properties.empty())
      in.fail_file("element " + quote(e.name) + " has no properties; repair the header or export the scan again");
  for (const char* once : {"vertex", "face"})
    if (std::count_if(header.elements.begin(), header.elements.end(),
                      [&](const Element& e) { return e.name == once; }) > 1)
      in.fail_file(std::string("the header names the element ") + once + " twice; repair the header");
  return header;
}

void fail_ply_short(const Input& in, const Element& e, std::uint64_t present) {
  in.fail_byte(in.size(), "the file ends early: " + std::to_string(e.count) + " " + e.name + " records promised, " +
                              std::to_string(present) + " present; copy or export the file again");
}

namespace {

/// Where x, y, z, nx, ny, nz are among the properties; −1 when absent.
struct Columns {
  int at[6];
  bool normals() const { return at[3] >= 0 && at[4] >= 0 && at[5] >= 0; }
};
Columns find_columns(const Input& in, const Element& e) {
  static const char* names[] = {"x", "y", "z", "nx", "ny", "nz"};
  Columns c;
  for (int k = 0; k < 6; ++k) {
    const auto hit = std::find_if(e.properties.begin(), e.properties.end(),
                                  [&](const Property& p) { return p.name == names[k] && !p.list; });
    c.at[k] = hit == e.properties.end() ? -1 : int(hit - e.properties.begin());
    if (k < 3 && c.at[k] < 0)
      in.fail_file(std::string("the PLY vertices have no property ") + names[k] + "; export points with x, y and z");
  }
  return c;
}

void read_ascii(Input& in, const Element& e, const Columns* columns, Sink& sink) {
  std::string_view line;
  for (std::uint64_t i = 0; i < e.count; ++i) {
    do {
      if (!in.line(line)) fail_ply_short(in, e, i);
    } while (line.find_first_not_of(" \t") == line.npos);
    if (!columns) continue;  // one line per record, whatever is in it
    double v[6] = {};
    const char* p = line.data();
    const char* end = p + line.size();
    for (int property = 0; property < int(e.properties.size()); ++property) {
      std::uint64_t repeat = 1;
      const bool list = e.properties[property].list;
      for (std::uint64_t r = 0; r < repeat + (list ? 1 : 0); ++r) {
        while (p < end && (*p == ' ' || *p == '\t')) ++p;
        const char* from = p;
        while (p < end && *p != ' ' && *p != '\t') ++p;
        double value;
        if (!parse_number({from, std::size_t(p - from)}, value))
          in.fail_line("point " + std::to_string(i + 1) + ": expected a number for " + e.properties[property].name +
                       ", found " + quote({from, std::size_t(p - from)}) + "; correct or remove the line");
        if (list && r == 0) {
          repeat = value >= 0 && value < 1e6 ? std::uint64_t(value) : 0;
          continue;
        }
        if (list) continue;
        for (int k = 0; k < 6; ++k)
          if (columns->at[k] == property) v[k] = value;
      }
    }
    sink.add(v, columns->normals());
  }
}

std::size_t fixed_size(const Element& e) {
  std::size_t size = 0;
  for (const auto& p : e.properties) {
    if (p.list) return 0;
    size += size_of(p.type);
  }
  return size;
}

void read_packed(Input& in, const Element& e, const Columns& c, bool swap, Sink& sink) {
  const std::size_t stride = fixed_size(e);
  const int n = c.normals() ? 6 : 3;
  std::size_t at[6] = {};
  Number type[6] = {};
  for (int k = 0; k < n; ++k) {
    for (int j = 0; j < c.at[k]; ++j) at[k] += size_of(e.properties[j].type);
    type[k] = e.properties[c.at[k]].type;
  }
  for (std::uint64_t i = 0; i < e.count;) {
    const std::string_view records = in.take_some(stride, e.count - i);
    if (records.size() < stride) fail_ply_short(in, e, i);
    i += records.size() / stride;
    for (const char *r = records.data(), *end = r + records.size(); r != end; r += stride) {
      double v[6];
      for (int k = 0; k < n; ++k) v[k] = number_at(r + at[k], type[k], swap);
      sink.add(v, n == 6);
    }
  }
}

/// Records with lists: their length is known only while reading.
void read_listed(Input& in, const Element& e, const Columns* columns, bool swap, Sink& sink) {
  for (std::uint64_t i = 0; i < e.count; ++i) {
    double v[6] = {};
    for (int property = 0; property < int(e.properties.size()); ++property) {
      const Property& p = e.properties[property];
      const char* bytes = in.take(size_of(p.list ? p.count_type : p.type));
      if (!bytes) fail_ply_short(in, e, i);
      if (p.list) {
        const double count = number_at(bytes, p.count_type, swap);
        if (!(count >= 0 && count <= double(in.remaining())) || !in.skip(std::uint64_t(count) * size_of(p.type)))
          fail_ply_short(in, e, i);
      } else if (columns) {
        for (int k = 0; k < 6; ++k)
          if (columns->at[k] == property) v[k] = number_at(bytes, p.type, swap);
      }
    }
    if (columns) sink.add(v, columns->normals());
  }
}

}  // namespace

void read_ply(Input& in, Sink& sink) {
  const Header header = read_ply_header(in);
  sink.scan().format = "PLY " + header.format;
  const bool ascii = header.format == "ascii", swap = header.format == "binary_big_endian";
  for (const Element& e : header.elements) {
    const std::size_t stride = fixed_size(e);
    if (e.name != "vertex") {
      if (ascii)
        read_ascii(in, e, nullptr, sink);
      else if (stride == 0 && !e.properties.empty())
        read_listed(in, e, nullptr, swap, sink);
      else if (stride > 0 && (e.count > in.remaining() / stride || !in.skip(e.count * stride)))
        fail_ply_short(in, e, in.remaining() / stride);
      continue;
    }
    const Columns columns = find_columns(in, e);
    sink.scan().declared_points = e.count;
    if (e.count == 0) in.fail_file("the PLY header promises no points; export the scan again");
    // The shortest text record is "0 0 0\n".
    sink.reserve(e.count, in.remaining() / (ascii ? 6 : stride ? stride : 3), columns.normals());
    if (ascii)
      read_ascii(in, e, &columns, sink);
    else if (stride)
      read_packed(in, e, columns, swap, sink);
    else
      read_listed(in, e, &columns, swap, sink);
    return;  // faces and what else follows are not needed
  }
  in.fail_file("the PLY file has no vertex element; export points or a mesh");
}

}  // namespace gapfront::reading
