// The SQLite file of one tool.
#include <sqlite3.h>

#include <algorithm>
#include <cstdint>
#include <fstream>

#include "core/sha256.hpp"
#include "gapfront/cavity.hpp"
#include "gapfront/error.hpp"
#include "gapfront/history.hpp"
#include "history/pack.hpp"
#include "history/statement.hpp"

namespace gapfront {
namespace {

namespace fs = std::filesystem;
using history::fail_of;
using history::Statement;

// Marks the file as ours ("gpfr" in ASCII), so that some other program's database is refused, not written into.
constexpr int kApplication = 0x67706672;
// A writer holds the file for milliseconds; ten seconds are enough for a slow network disk and short for a person.
constexpr int kBusyMs = 10'000;
// What one inspection may add: 100 MB is a sheet of 600,000 nodes.
constexpr std::uintmax_t kSpare = 100'000'000;

/// Step k brings a file of version k to k + 1. Steps are never changed once released; new ones are added.
constexpr const char* kMigrations[] = {
    R"(CREATE TABLE about(key TEXT PRIMARY KEY, value TEXT NOT NULL);
       CREATE TABLE sheet(id INTEGER PRIMARY KEY, mesh BLOB NOT NULL, sha256 TEXT NOT NULL);
       CREATE TABLE inspection(
         id INTEGER PRIMARY KEY, sheet INTEGER NOT NULL REFERENCES sheet(id), date TEXT NOT NULL, cycles REAL NOT NULL,
         name TEXT NOT NULL, note TEXT NOT NULL, verdict TEXT NOT NULL, version TEXT NOT NULL,
         job_sha256 TEXT NOT NULL, lower_sha256 TEXT NOT NULL, upper_sha256 TEXT NOT NULL,
         fill_time REAL NOT NULL, dry_area REAL NOT NULL, last_to_vent REAL NOT NULL,
         fields BLOB NOT NULL, fields_sha256 TEXT NOT NULL);
       CREATE TABLE datum(
         inspection INTEGER NOT NULL REFERENCES inspection(id) ON DELETE CASCADE, name TEXT NOT NULL,
         lx REAL, ly REAL, lz REAL, ux REAL, uy REAL, uz REAL, u_lower REAL, u_upper REAL,
         PRIMARY KEY(inspection, name));)",
    // The instrument's systematic error drops out of a difference only when both used the same one.
    R"(ALTER TABLE inspection ADD COLUMN instrument TEXT NOT NULL DEFAULT '';)",
    // How far fits share points, without which the U of an area's mean comes out too small. Empty in rows from before:
    // a re-check then takes those of the other dates, or none (see recheck.cpp).
    R"(ALTER TABLE inspection ADD COLUMN fit_areas BLOB NOT NULL DEFAULT x'';
       ALTER TABLE inspection ADD COLUMN fit_areas_sha256 TEXT NOT NULL DEFAULT '';)",
    // Shots that were logged: what is normal for the tool.
    R"(CREATE TABLE shot(
         id INTEGER PRIMARY KEY, date TEXT NOT NULL, cycles REAL NOT NULL, file TEXT NOT NULL,
         log_sha256 TEXT NOT NULL UNIQUE, job_sha256 TEXT NOT NULL, version TEXT NOT NULL, verdict TEXT NOT NULL,
         cause TEXT NOT NULL, resists REAL NOT NULL, volume REAL NOT NULL, fill_time REAL NOT NULL);)",
    // Nominal and tolerance, to say whether they are the same at both dates.
    R"(ALTER TABLE inspection ADD COLUMN nominal REAL NOT NULL DEFAULT 0;
       ALTER TABLE inspection ADD COLUMN minus REAL NOT NULL DEFAULT 0;
       ALTER TABLE inspection ADD COLUMN plus REAL NOT NULL DEFAULT 0;
       ALTER TABLE inspection ADD COLUMN tolerance_sha256 TEXT NOT NULL DEFAULT '';)",
};
constexpr int kVersion = std::size(kMigrations);

constexpr const char* kColumns =
    "id, sheet, date, cycles, name, note, verdict, version, job_sha256, lower_sha256, upper_sha256, fill_time, "
    "dry_area, last_to_vent, instrument, nominal, minus, plus, tolerance_sha256";

Record read_record(Statement& s) {
  Record r;
  r.id = s.integer(), r.sheet = s.integer(), r.date = s.text(), r.cycles = s.real();
  for (auto* t : {&r.name, &r.note, &r.verdict, &r.version, &r.job_sha256, &r.lower_sha256, &r.upper_sha256})
    *t = s.text();
  r.fill_time = s.real(), r.dry_area = s.real(), r.last_to_vent = s.real(), r.instrument = s.text();
  r.limits.nominal = s.real(), r.limits.minus = s.real(), r.limits.plus = s.real(), r.limits.sha256 = s.text();
  return r;
}

}  // namespace

struct History::Impl {
  std::string file;
  sqlite3* db = nullptr;

  ~Impl() { sqlite3_close(db); }
  Statement sql(const char* text) const { return {db, file, text}; }
  void run(const char* text) const {
    if (sqlite3_exec(db, text, nullptr, nullptr, nullptr) != SQLITE_OK) fail_of(db, file);
  }
  long pragma(const char* text) const {
    auto s = sql(text);
    return s.step() ? s.integer() : 0;
  }
  /// The whole change, or nothing of it. IMMEDIATE takes the write lock at once: two writers queue instead of one of
  /// them failing at its end.
  template <class F>
  void transaction(F&& change) const {
    run("BEGIN IMMEDIATE");
    try {
      change();
      run("COMMIT");
    } catch (...) {
      sqlite3_exec(db, "ROLLBACK", nullptr, nullptr, nullptr);
      throw;
    }
  }
  void migrate() const {
    if (pragma("PRAGMA user_version") == kVersion) return;
    transaction([&] {  // asked again under the lock: another program may just have done it
      for (long v = pragma("PRAGMA user_version"); v < kVersion; ++v) {
        run(kMigrations[v]);
        run(("PRAGMA user_version = " + std::to_string(v + 1)).c_str());
      }
      run(("PRAGMA application_id = " + std::to_string(kApplication)).c_str());
    });
  }
  std::string about(const char* key) const {
    auto s = sql("SELECT value FROM about WHERE key = ?");
    s.bind(std::string(key));
    return s.step() ? s.text() : "";
  }
  long insert(const Record& r, long sheet) const {
    const std::string fields = history::pack_fields(r);
    auto s =
        sql("INSERT INTO inspection(sheet, date, cycles, name, note, verdict, version, job_sha256, lower_sha256, "
            "upper_sha256, fill_time, dry_area, last_to_vent, instrument, fields, fields_sha256, fit_areas, "
            "fit_areas_sha256, nominal, minus, plus, tolerance_sha256) "
            "VALUES(?,?,?,?,?,?,?,?,?,?,?,?,?,?,?,?,?,?,?,?,?,?)");
    s.bind(sheet).bind(r.date).bind(r.cycles);
    for (const auto* t : {&r.name, &r.note, &r.verdict, &r.version, &r.job_sha256, &r.lower_sha256, &r.upper_sha256})
      s.bind(*t);
    s.bind(r.fill_time).bind(r.dry_area).bind(r.last_to_vent).bind(r.instrument);
    const std::string fit_areas = history::pack_fit_areas(r);
    s.bind_blob(fields).bind(sha256(fields)).bind_blob(fit_areas).bind(sha256(fit_areas));
    s.bind(r.limits.nominal).bind(r.limits.minus).bind(r.limits.plus).bind(r.limits.sha256);
    s.step();
    const long id = sqlite3_last_insert_rowid(db);
    for (const DatumPlace& d : r.datums) {
      auto row = sql("INSERT INTO datum VALUES(?,?,?,?,?,?,?,?,?,?)");
      row.bind(id).bind(d.name);
      for (const Vec3* p : {&d.lower, &d.upper})
        for (int k = 0; k < 3; ++k) row.bind((*p)[k]);
      row.bind(d.u_lower).bind(d.u_upper).step();
    }
    return id;
  }
  void read_datums(Record& r) const {
    auto s =
        sql("SELECT name, lx, ly, lz, ux, uy, uz, u_lower, u_upper FROM datum WHERE inspection = ? ORDER BY rowid");
    s.bind(r.id);
    while (s.step()) {
      DatumPlace d;
      d.name = s.text();
      for (Vec3* p : {&d.lower, &d.upper})
        for (int k = 0; k < 3; ++k) (*p)[k] = s.real();
      d.u_lower = s.real(), d.u_upper = s.real();
      r.datums.push_back(d);
    }
  }
};

History::History(const fs::path& file, Access access) : impl_(std::make_unique<Impl>()) {
  Impl& m = *impl_;
  m.file = file.string();
  std::error_code fault;
  if (access == Access::read && !fs::exists(file, fault))
    throw Error(Fault::input, m.file + ": there is no such history; the first gapfront recheck of a tool makes one");
  if (fs::is_directory(file, fault))
    throw Error(Fault::input, m.file + ": is a folder; give the history file in it, TOOL.history");
  const int flags = SQLITE_OPEN_READWRITE | (access == Access::write ? SQLITE_OPEN_CREATE : 0);
  if (sqlite3_open_v2(m.file.c_str(), &m.db, flags, nullptr) != SQLITE_OK)
    throw Error(Fault::input, m.file + ": the history cannot be opened (" + sqlite3_errmsg(m.db) +
                                  "); check that the folder exists and is yours");
  sqlite3_busy_timeout(m.db, kBusyMs);
  // Nothing that a file holds is longer than the file; a value that a hostile one computes may be.
  const auto size = fs::file_size(file, fault);
  sqlite3_limit(m.db, SQLITE_LIMIT_LENGTH,
                fault ? 1'000'000'000 : int(std::min<std::uintmax_t>(1'000'000'000, size + kSpare)));
  m.run("PRAGMA trusted_schema = OFF");
  const long version = m.pragma("PRAGMA user_version"), application = m.pragma("PRAGMA application_id");
  const bool empty = m.pragma("SELECT count(*) FROM sqlite_master") == 0;
  if (!empty && application != kApplication && m.pragma("PRAGMA application_id") != kApplication)
    throw Error(Fault::input, m.file + ": is another program's database; give another file");
  if (m.pragma("SELECT count(*) FROM sqlite_master WHERE type IN ('view', 'trigger')") != 0)
    throw Error(Fault::input, m.file + ": holds views or triggers, which no gapfront writes; take its last good copy");
  if (empty && access == Access::read)  // to look at a file must not make a history of it
    throw Error(Fault::input, m.file + ": is empty, nothing was ever stored in it; give another file");
  if (version < 0)
    throw Error(Fault::input, m.file + ": has layout " + std::to_string(version) +
                                  ", which no gapfront writes: the file is damaged; take its last good copy");
  if (version > kVersion)
    throw Error(Fault::input, m.file + ": was written by a newer gapfront (layout " + std::to_string(version) +
                                  ", this one knows " + std::to_string(kVersion) + "); use that version");
  // WAL: readers never wait for a writer. FULL: what is committed is on the disk, also after a loss of power.
  m.run("PRAGMA journal_mode = WAL");
  m.run("PRAGMA synchronous = FULL");
  m.run("PRAGMA foreign_keys = ON");
  m.migrate();
}
History::~History() = default;
History::History(History&&) noexcept = default;

std::vector<ShotRecord> History::shots() const {
  auto s = impl_->sql(
      "SELECT id, date, cycles, file, log_sha256, job_sha256, version, verdict, cause, resists, volume, fill_time FROM "
      "shot ORDER BY id");
  std::vector<ShotRecord> out;
  while (s.step()) {
    ShotRecord r;
    r.id = s.integer(), r.date = s.text(), r.cycles = s.real();
    for (auto* t : {&r.file, &r.log_sha256, &r.job_sha256, &r.version, &r.verdict, &r.cause}) *t = s.text();
    r.resists = s.real(), r.volume = s.real(), r.fill_time = s.real();
    out.push_back(r);
  }
  return out;
}

long History::add(const ShotRecord& r) {
  impl_->transaction([&] {
    auto drop = impl_->sql("DELETE FROM shot WHERE log_sha256 = ?");
    drop.bind(r.log_sha256).step();
    auto s = impl_->sql(
        "INSERT INTO shot(date, cycles, file, log_sha256, job_sha256, version, verdict, cause, resists, volume, "
        "fill_time) VALUES(?,?,?,?,?,?,?,?,?,?,?)");
    s.bind(r.date).bind(r.cycles);
    for (const auto* t : {&r.file, &r.log_sha256, &r.job_sha256, &r.version, &r.verdict, &r.cause}) s.bind(*t);
    s.bind(r.resists).bind(r.volume).bind(r.fill_time).step();
  });
  return sqlite3_last_insert_rowid(impl_->db);
}

std::string History::tool() const { return impl_->about("tool"); }
int History::version() const { return int(impl_->pragma("PRAGMA user_version")); }
long History::sheet_id() const { return impl_->pragma("SELECT coalesce(max(id), 0) FROM sheet"); }

std::optional<Sheet> History::sheet() const {
  auto s = impl_->sql("SELECT mesh FROM sheet ORDER BY id DESC LIMIT 1");
  if (!s.step()) return std::nullopt;
  try {
    return cavity::make_sheet(history::unpack_mesh(s.text()));
  } catch (const std::length_error& e) {
    throw Error(Fault::input, impl_->file + ": " + e.what() + "; take the last good copy of the file");
  }
}

std::vector<Record> History::records() const {
  const std::string text = std::string("SELECT ") + kColumns +
                           ", fields, fit_areas FROM inspection WHERE sheet = (SELECT max(id) FROM sheet) "
                           "ORDER BY id != (SELECT min(id) FROM inspection WHERE sheet = (SELECT max(id) FROM sheet)), "
                           "cycles, date, id";
  auto s = impl_->sql(text.c_str());
  std::vector<Record> out;
  while (s.step()) {
    out.push_back(read_record(s));
    try {
      history::unpack_fields(s.text(), out.back());
      history::unpack_fit_areas(s.text(), out.back());
    } catch (const std::length_error& e) {
      throw Error(Fault::input, impl_->file + ": inspection " + std::to_string(out.back().id) + ": " + e.what() +
                                    "; take the last good copy of the file");
    }
    impl_->read_datums(out.back());
  }
  return out;
}

std::vector<Record> History::list() const {
  auto s = impl_->sql((std::string("SELECT ") + kColumns + " FROM inspection ORDER BY id").c_str());
  std::vector<Record> out;
  while (s.step()) out.push_back(read_record(s));
  return out;
}

long History::begin(const std::string& tool, const Sheet& sheet, const Record& r, long expected) {
  const std::string mesh = history::pack_mesh(sheet.mesh);
  long id = 0;
  impl_->transaction([&] {
    if (sheet_id() != expected)
      throw Error(Fault::input, impl_->file + ": another program has stored a baseline meanwhile; run this again");
    auto about = impl_->sql("INSERT OR REPLACE INTO about VALUES('tool', ?)");
    about.bind(tool).step();
    auto s = impl_->sql("INSERT INTO sheet(mesh, sha256) VALUES(?, ?)");
    s.bind_blob(mesh).bind(sha256(mesh)).step();
    id = impl_->insert(r, sqlite3_last_insert_rowid(impl_->db));
  });
  return id;
}

long History::add(const Record& r) {
  long id = 0;
  impl_->transaction([&] {
    if (r.sheet != sheet_id())
      throw Error(Fault::input, impl_->file + ": another program has stored a new baseline meanwhile; run this again");
    auto old = impl_->sql(
        "SELECT id, id = (SELECT min(id) FROM inspection WHERE sheet = ?1) FROM inspection "
        "WHERE sheet = ?1 AND lower_sha256 = ? AND upper_sha256 = ? AND date = ?");
    old.bind(r.sheet).bind(r.lower_sha256).bind(r.upper_sha256).bind(r.date);
    if (old.step()) {
      id = old.integer();
      if (old.integer()) return;  // the baseline is what everything is measured against: it stays as it is
      auto drop = impl_->sql("DELETE FROM inspection WHERE id = ?");
      drop.bind(id).step();
    }
    id = impl_->insert(r, r.sheet);
  });
  return id;
}

void History::remove(long id) {
  impl_->transaction([&] {
    auto row = impl_->sql(
        "SELECT sheet, id = (SELECT min(id) FROM inspection AS i WHERE i.sheet = o.sheet), "
        "(SELECT count(*) FROM inspection AS i WHERE i.sheet = o.sheet) FROM inspection AS o WHERE id = ?");
    row.bind(id);
    if (!row.step())
      throw Error(Fault::input, impl_->file + ": there is no inspection " + std::to_string(id) +
                                    "; gapfront history FILE lists them");
    const long sheet = row.integer();
    const bool baseline = row.integer() != 0;
    const long count = row.integer();
    if (baseline && count > 1)
      throw Error(Fault::input, impl_->file + ": inspection " + std::to_string(id) + " is the baseline that " +
                                    std::to_string(count - 1) +
                                    " later ones are measured against; remove those first, or begin anew with gapfront "
                                    "recheck JOB --new-baseline");
    auto drop = impl_->sql("DELETE FROM inspection WHERE id = ?");
    drop.bind(id).step();
    if (baseline) {
      auto bare = impl_->sql("DELETE FROM sheet WHERE id = ?");
      bare.bind(sheet).step();
    }
  });
}

std::vector<std::string> History::check() const {
  std::vector<std::string> faults;
  auto s = impl_->sql("PRAGMA integrity_check");
  while (s.step())
    if (const std::string line = s.text(); line != "ok") faults.push_back(line);
  auto foreign = impl_->sql("PRAGMA foreign_key_check");
  while (foreign.step()) faults.push_back("a row of " + foreign.text() + " has lost what it belongs to");
  const auto blobs = [&](const char* sql, const std::string& what) {
    auto rows = impl_->sql(sql);
    while (rows.step()) {
      const long id = rows.integer();
      const std::string bytes = rows.text();
      if (sha256(bytes) != rows.text())
        faults.push_back(what + " " + std::to_string(id) + " has changed since it was stored");
    }
  };
  blobs("SELECT id, mesh, sha256 FROM sheet", "the mesh of sheet");
  blobs("SELECT id, fields, fields_sha256 FROM inspection", "the fields of inspection");
  blobs("SELECT id, fit_areas, fit_areas_sha256 FROM inspection WHERE fit_areas_sha256 != ''",
        "the fit areas of inspection");
  return faults;
}

}  // namespace gapfront
