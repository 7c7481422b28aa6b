// A drafted job can be read.
#include <cmath>
#include <random>

#include "../job/job_text.hpp"
#include "gapfront/survey.hpp"

using namespace gapfront;
using namespace gapfront::test;

namespace {

/// A flat half of 100 × 80 mm at this height, a point every 2 mm.
fs::path flat_half(const Folder& folder, const char* name, double z) {
  std::ofstream out(folder.path / name);
  for (int i = 0; i <= 50; ++i)
    for (int j = 0; j <= 40; ++j) out << 2 * i << ' ' << 2 * j << ' ' << z << '\n';
  return folder.path / name;
}

/// A dish of 400 × 300 mm, 12 mm deep, touched at these places; `gap` over it, along its normal.
template <class Places>
fs::path touched_dish(const Folder& folder, const std::string& name, double gap, const Places& places) {
  std::ofstream out(folder.path / name);
  out << "X [mm];Y [mm];Z [mm]\n";
  const auto at = [](double x, double y) { return 12 * (std::cos(x / 120) * std::cos(y / 100) - 1); };
  places([&](double x, double y) {
    const double dx = (at(x + 1e-4, y) - at(x - 1e-4, y)) / 2e-4, dy = (at(x, y + 1e-4) - at(x, y - 1e-4)) / 2e-4;
    const Vec3 p = Vec3(x, y, at(x, y)) + gap * Vec3(-dx, -dy, 1).normalized();
    out << p.x() << ';' << p.y() << ';' << p.z() << '\n';
  });
  return folder.path / name;
}

}  // namespace

TEST_CASE("A draft of touched points guesses the gap along the normal, however far apart they are") {
  const Folder folder;
  for (const double step : {5.0, 10.0, 25.0}) {
    const auto grid = [&](double shift) {
      return [=](const auto& touch) {
        for (double x = -200 + shift; x <= 200; x += step)
          for (double y = -150 + 0.7 * shift; y <= 150; y += step) touch(x, y);
      };
    };
    // The upper half is touched between the places of the lower one: from point to point it is 3.9, 5.7 and 11.6 mm.
    const auto lower = touched_dish(folder, "lower.csv", 0, grid(0)),
               upper = touched_dish(folder, "upper.csv", 3, grid(0.5 * step));
    const Survey s = pipeline::survey_pair(lower, upper);
    CHECK(s.face_to_face);
    CHECK(s.gap == Approx(3).margin(0.11));
  }
  std::mt19937 bits(5);
  const auto anywhere = [&](const auto& touch) {
    for (int k = 0; k < 600; ++k) {
      const double x = bits() / 4294967296.0, y = bits() / 4294967296.0;
      touch(400 * x - 200, 300 * y - 150);
    }
  };
  CHECK(pipeline::survey_pair(touched_dish(folder, "a.csv", 0, anywhere), touched_dish(folder, "b.csv", 3, anywhere))
            .gap == Approx(3).margin(0.11));
  const auto lines = [](double shift) {
    return [=](const auto& touch) {
      for (double y = -150 + shift; y <= 150; y += 20)
        for (double x = -200; x <= 200; x += 3) touch(x, y);
    };
  };
  const Survey s =
      pipeline::survey_pair(touched_dish(folder, "c.csv", 0, lines(0)), touched_dish(folder, "d.csv", 3, lines(7)));
  CHECK(s.gap == Approx(3).margin(0.11));
  CHECK(s.lower.clean.spacing == Approx(0.65 * 20).epsilon(0.02));
}

TEST_CASE("Lists with named features draft a job that closes on them: three balls, or a plane, a line and a point") {
  const Folder folder;
  const auto list = [&](const std::string& name, double z, bool balls, bool turned) {
    std::string text = "x [mm],y [mm],z [mm],feature\n";
    // The upper half lies on its back, somewhere else on the table.
    const auto add = [&](double x, double y, double h, const std::string& feature) {
      char line[120];
      if (turned) x = 900 - x, h = -h;
      std::snprintf(line, sizeof line, "%.4f,%.4f,%.4f,%s\n", x, y, h, feature.c_str());
      text += line;
    };
    for (double x = 5; x <= 395; x += 10)
      for (double y = 5; y <= 295; y += 10)
        add(x, y, z - 15 * std::exp(-(std::pow(x - 150, 2) + std::pow(y - 140, 2)) / 6000), "");
    const double places[3][2] = {{-20, -20}, {430, 10}, {180, 330}};
    for (int b = 0; balls && b < 3; ++b)
      for (int k = 0; k < 7; ++k) {
        const double a = k * M_PI / 3, down = k == 6 ? 1 : k % 2 ? 0.1 : 0.5, r = 10 * std::sqrt(1 - down * down);
        add(places[b][0] + r * std::cos(a), places[b][1] + r * std::sin(a), 8 + 10 * down, "S" + std::to_string(b + 1));
      }
    if (!balls) {
      for (const auto& [x, y] : {std::pair{8, 8}, std::pair{390, 12}, std::pair{385, 290}, std::pair{10, 280}})
        add(x, y, 0, "face");
      for (const int x : {20, 150, 380}) add(x, 0, turned ? 6 : -6, "flank");
      add(0, 40, turned ? 7 : -8, "end");
    }
    return folder.write(name, text);
  };
  for (const bool balls : {true, false}) {
    const auto lower = list("lower.csv", -1.5, balls, false), upper = list("upper.csv", 1.5, balls, true);
    const Survey s = pipeline::survey_pair(lower, upper);
    CHECK(s.closed);
    CHECK_FALSE(s.face_to_face);
    CHECK(s.gap == Approx(3).margin(0.11));
    const std::string text = pipeline::draft_job(s, folder.path);
    const Job job = job::read_job(folder.write("job.toml", text));
    if (balls) {
      CHECK(job.align.targets.size() == 3);
      CHECK(job.align.targets[0].touched);
      CHECK(job.align.targets[0].ball == Approx(20));
    } else {
      CHECK(job.align.methods == std::vector{AlignMethod::datum});
      CHECK(job.align.features.size() == 3);
      CHECK(job.align.features[2].kind == DatumKind::point);
    }
  }
}

TEST_CASE("A drafted job for two facing halves is read back as given, with the gap guessed") {
  const Folder folder;
  const auto lower = flat_half(folder, "lower.xyz", 0), upper = flat_half(folder, "upper.xyz", 2.5);
  const Job job = job::read_job(folder.write("job.toml", pipeline::draft_job(lower, upper, folder.path)));
  CHECK(job.align.methods == std::vector{AlignMethod::given});
  CHECK(job.tolerance.nominal == Approx(2.5));
  CHECK(fs::equivalent(job.lower.file, lower));
  CHECK(job.flow.inlets.at(0).perimeter);
  // The vent lies on the lower face, in its middle, within the 2 mm grid.
  CHECK((job.flow.vents.at(0).path.at(0) - Vec3(50, 40, 0)).norm() <= 2.0);
}

TEST_CASE(
    "A drafted job for halves without balls in poses of their own says that they could not be closed, and how to") {
  const Folder folder;
  const auto plate = [&](const char* name, double x) {
    std::ofstream out(folder.path / name);
    for (int i = 0; i <= 50; ++i)
      for (int j = 0; j <= 40; ++j) out << x + 2 * i << ' ' << 2 * j << ' ' << 0.01 * i * j << '\n';
    return folder.path / name;
  };
  const auto lower = plate("lower.xyz", 0), upper = plate("upper.xyz", 900);
  const auto text = pipeline::draft_job(lower, upper, folder.path);
  CHECK_THAT(text, Catch::Contains("# [[align.target]]") && Catch::Contains("could not be brought together") &&
                       Catch::Contains("# No seal line: the halves must be brought together first"));
  // No diameter is guessed: what to give is asked for.
  CHECK_THROWS_WITH(job::read_job(folder.write("job.toml", text)), Catch::Contains("needs targets"));
}

TEST_CASE("Every key that a draft offers from the flow on is read when it is taken up") {
  const Folder folder;
  const auto plate = [&](const char* name, double z) {
    std::ofstream out(folder.path / name);
    for (int i = 0; i <= 20; ++i)
      for (int j = 0; j <= 16; ++j) out << 5 * i << ' ' << 5 * j << ' ' << z << '\n';
    return folder.path / name;
  };
  std::istringstream draft(pipeline::draft_job(plate("lower.xyz", 0), plate("upper.xyz", 2.5), folder.path));
  // From [flow] on every commented key or table is taken up; in the second reading "# or:" lines replace the line
  // before them, and "# or for both:" the two lines before it.
  std::vector<std::string> first, second;
  int taken = 0;
  std::string line;
  for (bool in = false, either = false; std::getline(draft, line);) {
    if (line.starts_with("[flow]")) in = true;
    const bool both = in && line.starts_with("# or for both: "), other = both || (in && line.starts_with("# or: "));
    if (other) {
      if (!either) second.resize(second.size() - (both ? 2 : 1));
      second.push_back(line.substr(line.find(": ") + 2)), ++taken;
    } else {
      const auto word = line.find_first_not_of("abcdefghijklmnopqrstuvwxyz_", 2);
      if (in && line.starts_with("# ") && (line[2] == '[' || line.compare(word, 3, " = ") == 0))
        line.erase(0, 2), ++taken;
      first.push_back(line), second.push_back(line);
    }
    either = other;
  }
  CHECK(taken == 71);
  const auto text = [](const std::vector<std::string>& lines) {
    std::string all;
    for (const auto& l : lines) all += l + "\n";
    return all;
  };
  std::string other_keys = text(second);
  // Who takes up another key in place of a guess takes the guess off the list.
  const auto guesses = other_keys.find("unconfirmed = [");
  other_keys.erase(guesses, other_keys.find(']', guesses) + 1 - guesses);
  const Job one = job::read_job(folder.write("one.toml", text(first))),
            two = job::read_job(folder.write("two.toml", other_keys));
  CHECK(one.flow.schedule.size() == 1);
  CHECK(two.flow.schedule.size() == 2);
  CHECK(two.flow.viscosity == Approx(0.28 * std::pow(0.2 / 0.28, 4 / 7.0)));
  CHECK(two.flow.cavity_pressure == Approx(5e4));
  CHECK(one.flow.inlets[0].runner_width == 12);
  CHECK(one.flow.vents[0].bleed == 5);
  CHECK(one.flow.closing.force == Approx(4e9));
  CHECK(one.flow.closing.half.size() == 1);
  CHECK(one.flow.closing.supports.size() == 1);
  CHECK(one.correct.least_cavity_pressure == Approx(0.1 * atmosphere_pa));
  CHECK(one.correct.warm_gel_time == 720);
  CHECK(one.correct.prices.decide());
  CHECK(one.correct.prices.parts == 200);
}

TEST_CASE("What a draft guesses is on its list, and an entry that is confirmed and one that never was are told apart") {
  const Folder folder;
  const auto text =
      pipeline::draft_job(flat_half(folder, "lower.xyz", 0), flat_half(folder, "upper.xyz", 2.5), folder.path);
  const Job job = job::read_job(folder.write("job.toml", text));
  const auto open = [](const Job& j, const std::string& key) -> const Unconfirmed* {
    for (const auto& u : j.unconfirmed)
      if (u.key == key) return &u;
    return nullptr;
  };
  for (const char* key : {"lower.unit", "align.given_u", "cavity.nominal", "cavity.tolerance", "cavity.u_instrument",
                          "laminate.ply.glass", "flow.viscosity", "flow.pressure_limit", "flow.vacuum", "flow.vent.at"})
    CHECK(open(job, key));
  CHECK(open(job, "cavity.nominal")->value == "2.5 mm");
  CHECK(job::provisional(job));
  auto confirmed = with(with(text, "  \"cavity.nominal\",\n", ""), "  \"cavity.tolerance\",\n", "");
  const Job sure = job::read_job(folder.write("job.toml", confirmed));
  CHECK_FALSE(open(sure, "cavity.nominal"));
  CHECK_FALSE(job::provisional(sure));
  CHECK(sure.unconfirmed.size() == job.unconfirmed.size() - 2);
  for (const char* key : {"cavity.minus", "cavity.zone.plus"}) {  // the limits count in whatever form they are given
    Job limits = sure;
    limits.unconfirmed.push_back({key, "0.2 mm"});
    CHECK(job::provisional(limits));
  }
  CHECK_THROWS_WITH(job::read_job(folder.write("job.toml", with(text, "\"cavity.nominal\"", "\"cavity.nominel\""))),
                    Catch::Contains("[job] unconfirmed: \"cavity.nominel\" is no entry of this job; did you mean "
                                    "\"cavity.nominal\"?"));
}
