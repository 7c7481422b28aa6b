// OBJ: the "v" lines are the points; "vn" lines are their normals when there are as many. All else is left out.
#include "scan/formats.hpp"

namespace gapfront::reading {

void read_obj(Input& in, Sink& sink) {
  sink.scan().format = "OBJ";
  std::vector<Vec3f> normals;
  std::vector<Vec3> points;
  std::string_view line;
  while (in.line(line)) {
    const std::size_t from = line.find_first_not_of(" \t");
    if (from == line.npos || line[from] != 'v') continue;
    const bool normal = line.substr(from, 2) == "vn";
    if (from + 1 >= line.size() || (!normal && line[from + 1] != ' ' && line[from + 1] != '\t')) continue;
    const auto w = words(line);
    double v[3];
    for (int k = 0; k < 3; ++k)
      if (w.size() < 4 || !parse_number(w[k + 1], v[k]))
        in.fail_line("expected \"" + std::string(w[0]) + " x y z\", found " + quote(line) + "; correct the line");
    if (normal)
      normals.emplace_back(float(v[0]), float(v[1]), float(v[2]));
    else
      points.emplace_back(v[0], v[1], v[2]);
  }
  const bool paired = normals.size() == points.size() && !points.empty();
  sink.reserve(points.size(), points.size(), paired);
  for (std::size_t i = 0; i < points.size(); ++i) {
    if (paired)
      sink.add(points[i], normals[i]);
    else
      sink.add(points[i]);
  }
}

}  // namespace gapfront::reading
