// synth: makes the invented scans of scans/, and checks itself.
#include <CLI/CLI.hpp>
#include <cstdio>
#include <map>
#include "synth/synth.hpp"

using namespace gapfront::synth;

int main(int argc, char** argv) {
  CLI::App app{"Makes invented scans of a two-half mold, with the truth beside them."};
  app.require_subcommand(1);
  std::string name, folder = "scans", truth;
  std::vector<double> place;
  Overrides overrides;
  const std::map<std::string, Format> formats{
      {"ply", Format::ply}, {"pcd", Format::pcd}, {"asc", Format::asc}, {"stl", Format::stl}};
  const auto options = [&](CLI::App* command) {
    command->add_option("--out", folder, "Folder to write into")->capture_default_str();
    command->add_option("--spacing", overrides.spacing, "Point spacing, mm (default: as designed)");
    command->add_option("--noise", overrides.noise, "Standard deviation along the normal, mm (default: as designed)");
    command->add_option("--seed", overrides.seed, "Seed of the random numbers (default: as designed)");
    command->add_option("--format", overrides.format, "ply, pcd, asc or stl")
        ->transform(CLI::CheckedTransformer(formats, CLI::ignore_case));
  };
  CLI::App* one = app.add_subcommand("scenario", "Write one scenario: scans, truth and job file");
  one->add_option("name", name, "new-tool, worn-tool or dry-spot")->required();
  options(one);
  CLI::App* all = app.add_subcommand("scenarios", "Write all scenarios");
  options(all);
  CLI::App* gap = app.add_subcommand("gap", "Print the true gap at a place");
  gap->add_option("truth", truth, "Truth file")->required();
  gap->add_option("place", place, "x y z near the lower face, tool frame, mm")->required()->expected(3);
  CLI::App* check = app.add_subcommand("selfcheck", "Check the generator against itself");
  CLI11_PARSE(app, argc, argv);

  try {
    if (*check) return selfcheck() == 0 ? 0 : 1;
    if (*gap) {
      const Mold mold = load_truth(truth).mold;
      const gapfront::Vec3 p = mold.project_lower({place[0], place[1], place[2]});
      std::printf("at %.4f %.4f %.4f mm: ball %.5f mm, along the normal %.5f mm\n", p.x(), p.y(), p.z(),
                  mold.gap_ball(p), mold.gap_along_normal(p));
      return 0;
    }
    const std::vector<std::string> names = *all ? scenario_names() : std::vector<std::string>{name};
    for (const std::string& n : names)
      for (const std::string& file : write_scenario(n, folder, overrides))
        std::printf("%s/%s\n", folder.c_str(), file.c_str());
    return 0;
  } catch (const std::exception& e) {
    std::fprintf(stderr, "synth: %s\n", e.what());
    return 1;
  }
}
