// A drafted job can be read.
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

}  // namespace

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

TEST_CASE("Every key that a draft offers for the flow and the closing is read when it is taken up") {
  const Folder folder;
  const auto plate = [&](const char* name, double z) {
    std::ofstream out(folder.path / name);
    for (int i = 0; i <= 20; ++i)
      for (int j = 0; j <= 16; ++j) out << 5 * i << ' ' << 5 * j << ' ' << z << '\n';
    return folder.path / name;
  };
  std::istringstream draft(pipeline::draft_job(plate("lower.xyz", 0), plate("upper.xyz", 2.5), folder.path));
  // Between [flow] and [correct] every commented key or table is taken up; a run of "# or:" lines replaces the line
  // before it in the second reading.
  std::string first, second, kept, line;
  int taken = 0;
  for (bool in = false, either = false; std::getline(draft, line);) {
    if (line.starts_with("[flow]")) in = true;
    if (line.starts_with("[correct]")) in = false;
    const bool other = in && line.starts_with("# or: ");
    if (!other) second += kept, kept.clear();
    if (other) {
      kept = (either ? kept : "") + line.substr(6) + "\n";
      either = true, ++taken;
      continue;
    }
    either = false;
    const auto word = line.find_first_not_of("abcdefghijklmnopqrstuvwxyz_", 2);
    if (in && line.starts_with("# ") && (line[2] == '[' || line.compare(word, 3, " = ") == 0))
      line.erase(0, 2), ++taken;
    first += line + "\n", kept = line + "\n";
  }
  second += kept;
  CHECK(taken == 32);
  // Who takes up another key in place of a guess takes the guess off the list.
  const auto guesses = second.find("unconfirmed = [");
  second.erase(guesses, second.find(']', guesses) + 1 - guesses);
  const Job one = job::read_job(folder.write("one.toml", first)), two = job::read_job(folder.write("two.toml", second));
  CHECK(one.flow.schedule.size() == 1);
  CHECK(two.flow.schedule.size() == 2);
  CHECK(two.flow.viscosity == Approx(0.28 * std::pow(0.2 / 0.28, 4 / 7.0)));
  CHECK(two.flow.cavity_pressure == Approx(5e4));
  CHECK(one.flow.inlets[0].runner_width == 12);
  CHECK(one.flow.vents[0].bleed == 5);
  CHECK(one.flow.closing.force == Approx(4e9));
  CHECK(one.flow.closing.half.size() == 1);
  CHECK(one.flow.closing.supports.size() == 1);
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
  CHECK_THROWS_WITH(job::read_job(folder.write("job.toml", with(text, "\"cavity.nominal\"", "\"cavity.nominel\""))),
                    Catch::Contains("[job] unconfirmed: \"cavity.nominel\" is no entry of this job; did you mean "
                                    "\"cavity.nominal\"?"));
}
