// The signed record of an inspection, and what it still proves later.
#include <algorithm>
#include <chrono>
#include <ctime>
#include <fstream>
#include <iostream>
#include <iterator>
#include <nlohmann/json.hpp>

#include "cli/commands.hpp"
#include "cli/terminal.hpp"
#include "core/sha256.hpp"
#include "core/signature.hpp"
#include "gapfront/error.hpp"
#include "gapfront/inspection.hpp"
#include "gapfront/pipeline.hpp"
#include "gapfront/report.hpp"

namespace gapfront::cli {
namespace {

namespace fs = std::filesystem;
using RecordJson = nlohmann::ordered_json;

constexpr const char* kRecord = "record.json";
constexpr const char* kSignatureFile = "record.sig";
constexpr const char* kPublicKey = "record.pub";
constexpr const char* kChecksumList = "checksums.sha256";
constexpr int kRecordVersion = 1;  // rises when a reader of the old form would misread the new

std::string whole_file(const fs::path& file, const char* remedy) {
  std::ifstream in(file, std::ios::binary);
  if (!in || fs::is_directory(file)) throw Error(Fault::input, file.string() + ": cannot be opened; " + remedy);
  return {std::istreambuf_iterator<char>(in), {}};
}

/// Made of the report on request, without a line in the list of checksums.
constexpr const char* kMadeLater[] = {"report.pdf", "work-order.pdf", "fronts.png", "fronts-after.png"};

bool made_later(const std::string& name) {
  return std::find(std::begin(kMadeLater), std::end(kMadeLater), name) != std::end(kMadeLater);
}

/// The names in the folder's list of checksums, but the record's own; and what was made of the report since.
std::vector<std::string> reported_files(const fs::path& folder) {
  std::vector<std::string> out;
  std::ifstream in(folder / kChecksumList);
  for (std::string line; std::getline(in, line);) {
    const std::string name = line.size() > 66 ? line.substr(66) : "";
    if (!name.empty() && name != kRecord && name != kSignatureFile && name != kPublicKey) out.push_back(name);
  }
  if (out.empty())
    throw Error(Fault::input,
                folder.string() + ": no checksums.sha256 there; give the folder that gapfront inspect wrote");
  for (const char* name : kMadeLater)
    if (fs::exists(folder / name) && std::find(out.begin(), out.end(), name) == out.end()) out.push_back(name);
  return out;
}

/// A line of the files in the folder that the record does not speak of; nothing where there are none.
std::string not_signed(const fs::path& folder, const RecordJson& record) {
  std::vector<std::string> others;
  for (const auto& entry : fs::directory_iterator(folder)) {
    const std::string name = entry.path().filename().string();
    const bool own = name == kRecord || name == kSignatureFile || name == kPublicKey || name == kChecksumList;
    if (!own && std::none_of(record["files"].begin(), record["files"].end(),
                             [&](const auto& f) { return f.value("name", "") == name; }))
      others.push_back(harmless(name));
  }
  if (others.empty()) return "";
  std::sort(others.begin(), others.end());
  std::string out;
  for (const std::string& name : others) out += (out.empty() ? "" : ", ") + name;
  return "Not signed  " + out + "\n";
}

std::string utc_now() {
  const std::time_t now = std::chrono::system_clock::to_time_t(std::chrono::system_clock::now());
  std::tm parts{};
  ::gmtime_r(&now, &parts);
  char text[32];
  std::strftime(text, sizeof text, "%Y-%m-%dT%H:%M:%SZ", &parts);
  return text;
}

RecordJson input(const std::string& use, const std::string& file, const std::string& hash) {
  return {{"use", use}, {"file", fs::path(file).filename().string()}, {"sha256", hash}};
}

RecordJson record_of(const Inspection& r, const fs::path& folder, const std::string& key) {
  RecordJson files = RecordJson::array(), inputs = RecordJson::array();
  for (const std::string& name : reported_files(folder))
    files.push_back({{"name", name}, {"sha256", sha256(whole_file(folder / name, "gapfront inspect writes it anew"))}});
  inputs.push_back(input("job", r.job.file.string(), r.job_sha256));
  inputs.push_back(input("lower", r.job.lower.file.string(), r.lower_sha256));
  inputs.push_back(input("upper", r.job.upper.file.string(), r.upper_sha256));
  for (const ExtraInput& e : r.extra_inputs) inputs.push_back(input(e.use.id, e.file, e.sha256));
  return {{"format", "gapfront record"},
          {"format_version", kRecordVersion},
          {"program_version", r.version},
          {"name", r.job.name},
          {"tool", r.job.tool},
          {"outcome", report::outcome_line(r)},
          {"signed_at", utc_now()},
          {"key_sha256", fingerprint(key)},
          {"inputs", inputs},
          {"files", files}};
}

Inspection recorded_result(const fs::path& folder) {
  const fs::path file = folder / "result.json";
  try {
    return report::read_result(whole_file(file, "give the folder that gapfront inspect wrote"));
  } catch (const Error& e) {
    throw Error(e.fault, std::string(e.what()).starts_with(file.string()) ? e.what() : file.string() + ": " + e.what());
  }
}

/// Checks the signature, and gives what was signed.
RecordJson signed_record(const fs::path& folder, const std::string& key) {
  const char* remedy = "gapfront record makes it";
  const std::string text = whole_file(folder / kRecord, remedy);
  if (!is_signed(key, text, whole_file(folder / kSignatureFile, remedy)))
    throw Error(Fault::input,
                (folder / kRecord).string() +
                    ": not as it was signed, or signed with another key; take the key from its signer by another "
                    "way, and the folder again");
  auto record = RecordJson::parse(text, nullptr, false);
  if (record.is_discarded() || record.value("format", "") != "gapfront record" ||
      record.value("format_version", 0) != kRecordVersion || !record.contains("files") || !record.contains("inputs"))
    throw Error(Fault::input, (folder / kRecord).string() + ": no record of version " + std::to_string(kRecordVersion) +
                                  "; verify it with the gapfront that made it");
  return record;
}

/// The public key in the folder is a copy, and not what is verified with.
bool is_key_of(const RecordJson& record, const fs::path& file) {
  try {
    return fingerprint(whole_file(file, "")) == record.value("key_sha256", "");
  } catch (const Error&) {
    return false;
  }
}

/// The list of checksums is not signed, as it grows with files that come later; but what was signed stands in it.
bool lists_all(const fs::path& folder, const RecordJson& record) {
  std::ifstream in(folder / kChecksumList, std::ios::binary);
  const std::string list = "\n" + std::string(std::istreambuf_iterator<char>(in), {});
  const auto has = [&](const std::string& sum, const std::string& name) {
    return list.find("\n" + sum + "  " + name + "\n") != std::string::npos;
  };
  const auto& files = record["files"];
  return std::all_of(files.begin(), files.end(),
                     [&](const auto& f) {
                       const std::string name = f.value("name", "");
                       return made_later(name) || has(f.value("sha256", ""), name);
                     }) &&
         has(sha256(whole_file(folder / kRecord, "")), kRecord) &&
         has(sha256(whole_file(folder / kSignatureFile, "")), kSignatureFile);
}

/// Throws where a file of the record is not as it was.
void refuse_changed(const fs::path& folder, const RecordJson& record) {
  std::string changed;
  const auto add = [&](const std::string& name) { changed += (changed.empty() ? "" : ", ") + name; };
  for (const auto& f : record["files"]) {
    const std::string name = f.value("name", "");
    const fs::path file = folder / fs::path(name).filename();
    const bool there = fs::is_regular_file(file);
    if (there && sha256(whole_file(file, "")) == f.value("sha256", "")) continue;
    add(name + (there ? "" : " (missing)"));
  }
  if (!is_key_of(record, folder / kPublicKey)) add(kPublicKey);
  if (!lists_all(folder, record)) add(kChecksumList);
  if (!changed.empty())
    throw Error(Fault::input, folder.string() + ": changed since it was signed: " + changed +
                                  "; get the folder from its signer again");
}

/// Without what two runs of one job may differ in: times, and what an earlier inspection predicted.
nlohmann::json comparable(const Inspection& r) {
  auto j = nlohmann::json::parse(report::result_json(r, false));
  j.erase("expectations");
  return j;
}

/// Inspects the job again and throws where a number differs.
void refuse_other_numbers(const fs::path& folder, const fs::path& job_file) {
  const Inspection then = recorded_result(folder);
  if (then.version != GAPFRONT_VERSION)
    throw Error(Fault::input, folder.string() + ": made by gapfront " + then.version + ", and this is " +
                                  GAPFRONT_VERSION + "; compute it again with that version");
  const Job job = job::read_job(job_file);
  // Reports from before the baseline stood among the inputs do not say what they were measured on.
  if (!pipeline::rests_on_baseline(then) && fs::exists(folder / "recheck.json"))
    throw Error(Fault::input, job_file.string() +
                                  ": measured on the sheet of the tool's history, which the scans alone "
                                  "do not give; only the signature can be verified");
  if (sha256(job.text) != then.job_sha256)
    throw Error(Fault::input, job_file.string() + ": not the job file of this record; give the one that was inspected");
  pipeline::validate(job);
  const Progress progress = terminal_progress(false);
  const Inspection now = pipeline::inspect_as_recorded(job, then, progress);
  clear_progress();
  if (now.lower_sha256 != then.lower_sha256 || now.upper_sha256 != then.upper_sha256)
    throw Error(Fault::input,
                job_file.string() + ": its scans are not those of this record; put back the files that were inspected");
  // As it would be read back: numbers in a result are rounded, and a place at 1.5 mm is spoken as 1 or as 2.
  const Inspection again = report::read_result(report::result_json(now));
  const auto difference = nlohmann::json::diff(comparable(then), comparable(again));
  if (!difference.empty())
    throw Error(Fault::input, folder.string() + ": computed again, " + std::to_string(difference.size()) +
                                  " values differ, the first at " + difference[0].value("path", "") +
                                  "; do not rely on the record before that is explained");
}

}  // namespace

int run_record(const RecordArguments& arguments) {
  const Inspection r = recorded_result(arguments.folder);
  if (const auto changed = report::changed_files(arguments.folder); !changed.empty())
    throw Error(Fault::input, (arguments.folder / changed[0]).string() +
                                  ": not as gapfront inspect wrote it, so it is not signed; inspect again");
  std::string key, open;
  try {
    key = whole_file(arguments.key, "make one with: openssl genpkey -algorithm ed25519 -out my.key");
    open = public_part(key);
  } catch (const Error& e) {
    throw Error(e.fault, std::string("--key: ") + e.what());
  }
  const RecordJson record = record_of(r, arguments.folder, open);
  const std::string text = record.dump(1) + "\n";
  report::write_set(arguments.folder, {{kRecord, text}, {kPublicKey, open}, {kSignatureFile, sign(key, text)}});
  std::cout << not_signed(arguments.folder, record) << "Signed      " << (arguments.folder / kRecord).string() << ": "
            << record["files"].size() << " files, " << record["inputs"].size() << " inputs\nKey         SHA-256 "
            << record["key_sha256"].get<std::string>() << "\nGive " << kPublicKey
            << " to whoever shall verify it, by another way than this folder.\n";
  return 0;
}

int run_verify(const VerifyArguments& arguments) {
  if (!fs::is_directory(arguments.folder))
    throw Error(Fault::input,
                arguments.folder.string() + ": is no folder; give the one that gapfront record has signed");
  if (!fs::exists(arguments.folder / kRecord) && !fs::exists(arguments.folder / kSignatureFile))
    throw Error(Fault::input, arguments.folder.string() + ": is not signed; its maker signs it with gapfront record " +
                                  arguments.folder.string() + " --key my.key");
  const bool own = arguments.key.empty();
  const fs::path key_file = own ? arguments.folder / kPublicKey : arguments.key;
  const std::string key = whole_file(key_file, "give the signer's public key with --key");
  const RecordJson record = signed_record(arguments.folder, key);
  refuse_changed(arguments.folder, record);
  std::cout
      << "Inspection  " << harmless(record.value("name", "")) << "\n            "
      << harmless(record.value("outcome", "")) << "\nMade by     gapfront "
      << harmless(record.value("program_version", "")) << "\nSigned      " << harmless(record.value("signed_at", ""))
      << ", by the signer's clock\nKey         SHA-256 " << fingerprint(key) << "\n"
      << (own ? "            from the folder itself: whoever changed the folder may have changed it too; compare it "
                "with the signer's\n"
              : "")
      << "Files       " << record["files"].size() << ", all as they were signed\n"
      << not_signed(arguments.folder, record);
  if (!arguments.job.empty()) {
    std::cout.flush();
    refuse_other_numbers(arguments.folder, arguments.job);
    std::cout << "Again       computed from the scans: the same numbers\n";
  }
  return 0;
}

}  // namespace gapfront::cli
