// SQLite's statements, with errors that name the file and the remedy.
#pragma once
#include <sqlite3.h>

#include <string>

namespace gapfront::history {

/// What went wrong last, with the remedy.
[[noreturn]] void fail_of(sqlite3*, const std::string& file);

/// A prepared statement: bind in order, step, read in order.
class Statement {
 public:
  Statement(sqlite3* db, const std::string& file, const char* sql) : db_(db), file_(file) {
    if (sqlite3_prepare_v2(db, sql, -1, &s_, nullptr) != SQLITE_OK) fail();
  }
  ~Statement() { sqlite3_finalize(s_); }
  Statement(const Statement&) = delete;
  Statement& operator=(const Statement&) = delete;

  Statement& bind(const std::string& v) {
    return ok(sqlite3_bind_text(s_, ++in_, v.data(), int(v.size()), SQLITE_TRANSIENT));
  }
  Statement& bind(double v) { return ok(sqlite3_bind_double(s_, ++in_, v)); }
  Statement& bind(long v) { return ok(sqlite3_bind_int64(s_, ++in_, v)); }
  Statement& bind_blob(const std::string& v) {
    return ok(sqlite3_bind_blob64(s_, ++in_, v.data(), v.size(), SQLITE_TRANSIENT));
  }
  bool step() {
    out_ = 0;
    const int r = sqlite3_step(s_);
    if (r != SQLITE_ROW && r != SQLITE_DONE) fail();
    return r == SQLITE_ROW;
  }
  long integer() { return sqlite3_column_int64(s_, out_++); }
  double real() { return sqlite3_column_double(s_, out_++); }
  std::string text() {
    const auto* bytes = static_cast<const char*>(sqlite3_column_blob(s_, out_));
    return {bytes ? bytes : "", std::size_t(sqlite3_column_bytes(s_, out_++))};
  }

 private:
  Statement& ok(int r) {
    if (r != SQLITE_OK) fail();
    return *this;
  }
  [[noreturn]] void fail() const { fail_of(db_, file_); }
  sqlite3* db_;
  const std::string& file_;
  sqlite3_stmt* s_ = nullptr;
  int in_ = 0, out_ = 0;
};

}  // namespace gapfront::history
