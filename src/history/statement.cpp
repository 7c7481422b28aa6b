#include "history/statement.hpp"

#include "gapfront/error.hpp"

namespace gapfront::history {

void fail_of(sqlite3* db, const std::string& file) {
  const std::string why = sqlite3_errmsg(db);
  switch (sqlite3_errcode(db)) {
    case SQLITE_NOTADB:
      throw Error(Fault::input, file + ": is no history of gapfront; give another file");
    case SQLITE_CORRUPT:
      throw Error(Fault::input, file + ": the history is damaged; take the last good copy of the file");
    case SQLITE_FULL:
      throw Error(Fault::input, file + ": the disk is full, nothing was stored; free some space and run this again");
    case SQLITE_IOERR:
      throw Error(Fault::input,
                  file +
                      ": the disk cannot be read or written, or is full; nothing was stored; check it and "
                      "run this again");
    case SQLITE_READONLY:
    case SQLITE_CANTOPEN:
    case SQLITE_PERM:
      throw Error(Fault::input, file + ": the history or its folder cannot be written (" + why +
                                    "); a history needs the right to write both, also to be read");
    case SQLITE_BUSY:
      throw Error(Fault::input, file + ": another program holds the history; run this again when it has ended");
    default:
      throw Error(Fault::input, file + ": the history cannot be read or written (" + why +
                                    "); check the disk and the rights, and: gapfront history FILE --check");
  }
}

}  // namespace gapfront::history
