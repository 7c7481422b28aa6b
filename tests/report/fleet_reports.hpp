// A folder of reports made by hand.
#pragma once
#include <stdlib.h>

#include <catch2/catch.hpp>
#include <filesystem>
#include <fstream>
#include <string>

#include "gapfront/fleet.hpp"
#include "gapfront/pages.hpp"
#include "small_pages.hpp"

/// A folder of report folders.
class Reports {
 public:
  Reports() {
    std::string name = (std::filesystem::temp_directory_path() / "gapfront-fleet-XXXXXX").string();
    REQUIRE(mkdtemp(name.data()));
    folder = name;
  }
  ~Reports() { std::filesystem::remove_all(folder); }
  Reports(const Reports&) = delete;

  void write(const std::string& name, const std::string& text) const {
    std::filesystem::create_directories((folder / name).parent_path());
    std::ofstream(folder / name, std::ios::binary) << text;
  }
  Inspection result(const std::string& tool, Conformity verdict, const std::string& date = "2026-05-20") const {
    Inspection r = full_inspection();
    r.job.tool = tool, r.job.date = date, r.verdict.overall = verdict;
    r.job.cycles = date < worn().now.date ? 0 : worn().now.cycles;
    r.outcome.now.balance = 2, r.outcome.now.closes = true, r.outcome.now.air = conformity::chance_of(0, 64);
    return r;
  }
  void add(const Inspection& r) const { write(r.job.tool + r.job.date + "/result.json", report::result_json(r)); }
  void add(const std::string& tool, Recheck r) const {
    Job job = small_job();
    job.tool = tool;
    write(tool + "/recheck.json", report::recheck_json(job, r));
  }
  Fleet read(const std::string& day = "2026-06-01") const { return report::read_fleet(folder, day); }

  std::filesystem::path folder;
};
