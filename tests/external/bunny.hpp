// A real surface, made from a range scan: the npm package `bunny`, which tools/test fetches.
#pragma once
#include <catch2/catch.hpp>
#include <fstream>
#include <nlohmann/json.hpp>
#include <sstream>
#include <string>

#include "gapfront/geometry.hpp"
#include "test_paths.hpp"

namespace support {

inline gapfront::Mesh bunny() {
  std::ifstream file(BUNNY_FILE);
  REQUIRE(file);
  std::stringstream text;
  text << file.rdbuf();
  const std::string s = text.str();
  const auto list = [&](const std::string& name) {
    const auto from = s.find('[', s.find("exports." + name));
    int depth = 0;
    auto to = from;
    do depth += s[to] == '[' ? 1 : s[to] == ']' ? -1 : 0, ++to;
    while (depth > 0);
    return nlohmann::json::parse(s.substr(from, to - from));
  };
  gapfront::Mesh m;
  for (const auto& p : list("positions"))
    m.points.push_back(10 * gapfront::Vec3(p[0], p[1], p[2]));  // about 150 mm high
  for (const auto& t : list("cells")) m.triangles.push_back({t[0], t[1], t[2]});
  return m;
}

}  // namespace support
