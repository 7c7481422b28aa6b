// The JSON Schemas against an independent validator (python3-jsonschema).
#include <unistd.h>

#include <catch2/catch.hpp>
#include <cstdlib>

#include "../report/small.hpp"
#include "../report/small_pages.hpp"
#include "gapfront/report.hpp"
#include "test_paths.hpp"

namespace {

struct Folder {
  std::filesystem::path path =
      std::filesystem::temp_directory_path() / ("gapfront-schema-" + std::to_string(::getpid()));
  Folder() { std::filesystem::create_directories(path); }
  ~Folder() { std::filesystem::remove_all(path); }
};

/// schema_check.py says what fails; its exit code is the number of failures.
int python(const std::string& arguments) {
  return std::system(("/usr/bin/python3 " SOURCE_DIR "/tests/external/schema_check.py " + arguments).c_str());
}

}  // namespace

TEST_CASE("result.json is as its schema says, and no key can be left out or added") {
  const Folder folder;
  report::write_file(folder.path / "schema.json", report::result_schema());
  report::write_file(folder.path / "small.json", report::result_json(small_inspection(), false));
  report::write_file(folder.path / "full.json", report::result_json(full_inspection()));
  const std::string base = folder.path.string();
  CHECK(python("result " + base + "/schema.json " + base + "/small.json " + base + "/full.json") == 0);
}

TEST_CASE("recheck.json, diagnosis.json and shot.json are as their schemas say, and no key can be left out or added") {
  const Folder folder;
  const std::string base = folder.path.string();
  report::write_file(folder.path / "recheck.schema.json", report::recheck_schema());
  report::write_file(folder.path / "recheck.json", report::recheck_json(small_job(), worn()));
  CHECK(python("result " + base + "/recheck.schema.json " + base + "/recheck.json") == 0);
  report::write_file(folder.path / "diagnosis.schema.json", report::diagnosis_schema());
  report::write_file(folder.path / "diagnosis.json", report::diagnosis_json(dry_inspection(), dry()));
  CHECK(python("result " + base + "/diagnosis.schema.json " + base + "/diagnosis.json") == 0);
  report::write_file(folder.path / "shot.schema.json", report::shot_schema());
  report::write_file(folder.path / "shot.json", small_shot_json());
  CHECK(python("result " + base + "/shot.schema.json " + base + "/shot.json") == 0);
}

TEST_CASE("The job schema refuses the values that the program refuses: none below nothing, none without its unit") {
  const Folder folder;
  report::write_file(folder.path / "schema.json", report::job_schema());
  CHECK(python("values " + folder.path.string() +
               "/schema.json " SOURCE_DIR "/scans/new-tool.toml " GAPFRONT_PROGRAM) == 0);
}

TEST_CASE("The demo jobs are as the job schema says, and it knows the keys that the program reads and no others") {
  const Folder folder;
  report::write_file(folder.path / "schema.json", report::job_schema());
  CHECK(python("job " + folder.path.string() + "/schema.json " SOURCE_DIR) == 0);
}
