// Runs the program in a temporary folder on two small facing plates.
#pragma once
#include <stdlib.h>
#include <sys/wait.h>

#include <catch2/catch.hpp>
#include <cmath>
#include <cstdio>
#include <cstdlib>
#include <filesystem>
#include <fstream>
#include <iterator>
#include <set>
#include <string>
#include <utility>
#include <vector>

#include "test_paths.hpp"

namespace gapfront::test {

struct Outcome {
  int code;
  std::string out, err;
};

/// Two slightly curved plates, 100 × 80 mm, 2 mm apart, centred on the origin, as text; and a job for them.
class Bench {
 public:
  Bench() {
    std::string name = (std::filesystem::temp_directory_path() / "gapfront-cli-XXXXXX").string();
    REQUIRE(mkdtemp(name.data()));
    folder_ = name;
  }
  ~Bench() { std::filesystem::remove_all(folder_); }
  Bench(const Bench&) = delete;
  Bench& operator=(const Bench&) = delete;

  void write(const std::string& name, const std::string& text) const {
    std::ofstream(folder_ / name, std::ios::binary) << text;
  }
  std::string read(const std::string& name) const {
    std::ifstream in(folder_ / name, std::ios::binary);
    return {std::istreambuf_iterator<char>(in), {}};
  }
  void remove(const std::string& name) const { std::filesystem::remove(folder_ / name); }
  bool has(const std::string& name) const { return std::filesystem::exists(folder_ / name); }

  /// Cylinders about a common axis along Y, radius 500 mm, so that the gap is 2 mm everywhere.
  void plates(double scale_lower = 1, double scale_upper = 1, double shift_upper = 0) const {
    plate("lower.xyz", 500, scale_lower, 0);
    plate("upper.xyz", 498, scale_upper, shift_upper);
  }

  /// Writes job.toml with these replacements made in order, and returns its name.
  std::string job(const std::vector<std::pair<std::string, std::string>>& changes = {}) const {
    std::string text = R"([job]
output = "report"
[lower]
file = "lower.xyz"
unit = "mm"
[upper]
file = "upper.xyz"
unit = "mm"
[align]
method = "given"
given_u = "0.01 mm"
[cavity]
nominal = "2 mm"
tolerance = "0.3 mm"
[laminate]
[[laminate.ply]]
glass = "own"
count = 2
areal_weight = "450 g/m2"
loft = "1.2 mm"
density = "2.55 g/cm3"
permeability = { law = "power", a = "1e-11 m2", b = 2.5 }
compaction = { law = "power", a = 0.04, b = 0.2 }
[flow]
viscosity = "0.2 Pa.s"
vacuum = "50 % of atmosphere"
[[flow.inlet]]
perimeter = true
[[flow.vent]]
name = "middle"
at = "0, 0, 0 mm"
)";
    for (const auto& [from, to] : changes) {
      const auto at = text.find(from);
      REQUIRE(at != std::string::npos);
      text.replace(at, from.size(), to);
    }
    write("job.toml", text);
    return "job.toml";
  }

  std::filesystem::path path(const std::string& name) const { return folder_ / name; }

  Outcome run(const std::vector<std::string>& arguments) const { return run_as(GAPFRONT_PROGRAM, arguments); }
  Outcome run_as(const std::string& program, const std::vector<std::string>& arguments) const {
    std::string command = "cd '" + folder_.string() + "' && '" + program + "'";
    for (const auto& a : arguments) command += " '" + a + "'";
    const int status = std::system((command + " > stdout.txt 2> stderr.txt").c_str());
    Outcome r{WIFEXITED(status) ? WEXITSTATUS(status) : -1, read("stdout.txt"), read("stderr.txt")};
    remove("stdout.txt");
    remove("stderr.txt");
    return r;
  }
  Outcome inspect(const std::string& job) const {
    before_ = files();
    return run({"inspect", job});
  }

  /// The program stops with this code and one line that holds these words, and leaves no file behind.
  void refused(const std::string& job, int code, const std::string& words) const {
    const auto r = inspect(job);
    INFO(r.err);
    CHECK(r.code == code);
    CHECK_THAT(r.err, Catch::Contains(words));
    one_line_and_nothing_written(r);
  }
  void one_line_and_nothing_written(const Outcome& r) const {
    INFO(r.err);
    CHECK(r.err.starts_with("gapfront: "));
    CHECK(r.err.find('\n') == r.err.size() - 1);
    CHECK(r.out.empty());
    CHECK(files() == before_);
  }

 private:
  std::set<std::string> files() const {
    std::set<std::string> out;
    for (const auto& e : std::filesystem::recursive_directory_iterator(folder_)) out.insert(e.path().string());
    return out;
  }
  /// 1 mm apart along the arc and along Y.
  void plate(const std::string& name, double radius, double scale, double shift) const {
    std::string text;
    for (int i = -50; i <= 50; ++i)
      for (int j = -40; j <= 40; ++j) {
        const double angle = i / 500.0;
        char line[96];
        std::snprintf(line, sizeof line, "%.6f %.6f %.6f\n", scale * (radius * std::sin(angle) + shift), scale * j,
                      scale * (500 - radius * std::cos(angle)));
        text += line;
      }
    write(name, text);
  }

  std::filesystem::path folder_;
  mutable std::set<std::string> before_;
};

}  // namespace gapfront::test
