// The least job as text, for the tests to change, read and have refused.
#pragma once
#include <stdlib.h>
#include <catch2/catch.hpp>
#include <cmath>
#include <filesystem>
#include <fstream>
#include <sstream>
#include <string>

#include "gapfront/error.hpp"
#include "gapfront/job.hpp"

namespace gapfront::test {

namespace fs = std::filesystem;

/// A folder of its own for each test, removed at its end.
struct Folder {
  fs::path path;
  Folder() {
    std::string name = (fs::temp_directory_path() / "gapfront-job-XXXXXX").string();
    REQUIRE(mkdtemp(name.data()));
    path = name;
  }
  ~Folder() { fs::remove_all(path); }
  fs::path write(const std::string& name, const std::string& text) const {
    std::ofstream(path / name, std::ios::binary) << text;
    return path / name;
  }
};

inline const std::string minimum = R"([lower]
file = "lower.ply"
[upper]
file = "upper.ply"
unit = "in"
[align]
method = "given"
[cavity]
nominal = "3 mm"
tolerance = "0.3 mm"
[laminate]
[[laminate.ply]]
glass = "own"
count = 2
areal_weight = "450 g/m2"
loft = "1.5 mm"
permeability = { law = "power", a = "1e-10 m2", b = 2.5 }
compaction = { law = "power", a = 0.02, b = 0.2 }
[flow]
viscosity = "200 cP"
cavity_pressure = "0.5 bar absolute"
[[flow.inlet]]
perimeter = true
[[flow.vent]]
at = "0, 0, -40 mm"
)";

inline std::string with(std::string text, const std::string& from, const std::string& to) {
  const auto at = text.find(from);
  REQUIRE(at != std::string::npos);
  return text.replace(at, from.size(), to);
}

inline Job read(const std::string& text) {
  const Folder folder;
  return job::read_job(folder.write("a.toml", text));
}

inline std::string complaint(const std::string& text) {
  try {
    read(text);
  } catch (const Error& e) {
    CHECK(e.fault == Fault::input);
    const std::string what = e.what();
    CHECK(what.find('\n') == std::string::npos);
    return what;
  }
  return "";
}

/// The complaint when one line of the least job is changed, with the place it must name.
inline void refused(const std::string& from, const std::string& to, const std::string& place,
                    const std::string& words) {
  const auto what = complaint(with(minimum, from, to));
  CHECK_THAT(what, Catch::Contains(place) && Catch::Contains(words));
}

}  // namespace gapfront::test
