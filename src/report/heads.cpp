// The first part of a result file: what stands before its maps, without reading those.
#include <fstream>

#include "gapfront/error.hpp"
#include "gapfront/fleet.hpp"
#include "report/describe/reader.hpp"
#include "report/describe/result.hpp"
#include "report/fleet_found.hpp"
#include "report/pages.hpp"

namespace gapfront::report {
namespace {

namespace fs = std::filesystem;

// Heads are some 20 kB, most of it the job's text: one piece is enough for most files.
constexpr std::size_t kPiece = 32'768;

/// Finds where the member `key` of the outermost object begins, in text that comes in pieces.
class Cut {
 public:
  explicit Cut(std::string key) : key_(std::move(key)) {}
  /// Goes on from where it was. True: text.substr(0, at()) is all that stands before.
  bool find(const std::string& text) {
    for (; next_ < text.size(); ++next_) {
      const char c = text[next_];
      if (in_string_) {
        if (escaped_)
          escaped_ = false;
        else if (c == '\\')
          escaped_ = true;
        else if (c == '"') {
          in_string_ = false;
          if (depth_ == 1 && is_key_ && text.compare(begin_, next_ - begin_, key_) == 0) return true;
          is_key_ = false;
        }
        continue;
      }
      if (c == '"')
        in_string_ = true, begin_ = next_ + 1;
      else if (c == '{' || c == '[')
        ++depth_;
      else if (c == '}' || c == ']')
        --depth_;
      if (depth_ == 1 && (c == ',' || c == '{')) before_ = next_, is_key_ = true;
    }
    return false;
  }
  std::size_t before() const { return before_; }

 private:
  std::string key_;
  std::size_t next_ = 0, begin_ = 0, before_ = 0;
  int depth_ = 0;
  bool in_string_ = false, escaped_ = false, is_key_ = false;
};

/// The members before `key`, as an object. A file without that key is none of ours.
Json members_before(const fs::path& file, const std::string& key) {
  std::ifstream in(file, std::ios::binary);
  if (!in) throw Error(Fault::input, "cannot be opened; give the folder that gapfront inspect wrote");
  Cut cut(key);
  std::string text;
  for (bool found = false; !found;) {
    const std::size_t size = text.size();
    text.resize(size + kPiece);
    in.read(text.data() + size, kPiece);
    text.resize(size + static_cast<std::size_t>(in.gcount()));
    found = cut.find(text);
    if (!found && in.gcount() == 0) throw Error(Fault::input, "it is cut short, or some other file; inspect again");
  }
  return Json::parse(text.substr(0, cut.before()) + "}");
}

/// Reads the head as `read` says, and names the file in what is wrong with it.
template <class T, class F>
T head(const fs::path& file, const std::string& before, const char* format, int version, F read) {
  try {
    const Json j = members_before(file, before);
    if (j.value("format", "") != format) throw Error(Fault::input, "it is some other JSON file; inspect again");
    if (j.value("format_version", Json()) != version)
      throw Error(Fault::input, "its format version is " + j.value("format_version", Json()).dump() +
                                    ", this program reads " + std::to_string(version) + "; inspect again");
    T out;
    try {
      Reader reader(j, 0);
      read(reader, out);
    } catch (const Error& e) {
      throw Error(Fault::input, std::string("it is incomplete, was edited, or is of another build (") + e.what() +
                                    "); " + (version == kResultVersion ? "inspect" : "re-check") + " its scans again");
    }
    return out;
  } catch (const Json::exception&) {
    throw Error(Fault::input, file.string() + ": it is incomplete or was edited; inspect again");
  } catch (const Error& e) {
    throw Error(Fault::input, file.string() + ": " + e.what());
  }
}

}  // namespace

Inspection result_head(const fs::path& folder) {
  return head<Inspection>(
      folder / "result.json", "seal", "gapfront result", kResultVersion, [](Reader& v, Inspection& r) {
        v("program_version", r.version);
        v.object("job", nullptr, [&](auto& g) { describe_job(g, r); });
        v.object("lower", nullptr, [&](auto& g) {
          describe_scan(g, r.job.lower, r.lower_patches, r.lower_format, r.lower_sha256, r.lower_clean);
        });
        v.object("upper", nullptr, [&](auto& g) {
          describe_scan(g, r.job.upper, r.upper_patches, r.upper_format, r.upper_sha256, r.upper_clean);
        });
        v("extra_inputs", r.extra_inputs);
        v.object("outcome", nullptr, [&](auto& g) { describe_outcome(g, r); });
        v("doubt", r.doubt);
        v.object("verdict", nullptr, [&](auto& g) {
          g("overall", word(r.verdict.overall, Conformity::not_judged));
          g("headline", r.verdict.headline);
        });
      });
}

Message tested_prediction(const fs::path& folder) {
  return head<Message>(
      folder / "result.json", "warnings", "gapfront result", kResultVersion,
      [](Reader& v, Message& from) { v.object("expectations", nullptr, [&](auto& g) { g("from", from); }); });
}

RecheckHead recheck_head(const fs::path& file) {
  return head<RecheckHead>(file, "sheet", "gapfront re-check", kRecheckVersion, [](Reader& v, RecheckHead& out) {
    Recheck& r = out.recheck;
    v.object("job", nullptr, [&](auto& g) { describe_head(g, out.job); });
    v("headline", r.headline);
    v("now", r.now);
    v("then", r.then);
    v("datum", word(r.datum, DatumState::untold));
    v("wear", r.wear);
    v.maybe("vanished", true, r.vanished);
    v.maybe("seat_first", true, r.seat_first);
    v.maybe("history_rows_sha256", true, r.rows_sha256);
    v("not_compared_mm2", r.not_compared);
    v.maybe("unsure", r.unsure, r.unsure);
    v.object("next", nullptr, [&](auto& g) {
      g("cycles", r.next_cycles);
      g("date", r.next_date);
      g("why", r.next_why);
    });
  });
}

}  // namespace gapfront::report
