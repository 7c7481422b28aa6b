// The history of a tool. What one question finds wrong does not keep the others from being asked.
#include "fuzz/as_file.hpp"
#include "gapfront/history.hpp"

fuzz::Outcome fuzz::history(std::string_view bytes) {
  using gapfront::History;
  const AsFile file(bytes, ".history");
  const auto done = [&](const Outcome& out) {
    for (const char* beside : {"-wal", "-shm", "-journal"}) {
      std::error_code ignored;
      std::filesystem::remove(file.path.string() + beside, ignored);
    }
    return out;
  };
  std::optional<History> opened;
  const Outcome open = outcome_of([&] { opened.emplace(file.path, History::Access::read); });
  if (!open.read) return done(open);
  Outcome all;
  const auto ask = [&](auto question) {
    const Outcome one = outcome_of([&] { question(*opened); });
    if (!one.read) all = one;
  };
  ask([](const History& h) { h.tool(), h.version(), h.sheet_id(); });
  ask([](const History& h) { h.list(); });
  ask([](const History& h) { h.records(); });
  ask([](const History& h) { h.sheet(); });
  ask([](const History& h) {
    const auto sheet = h.sheet();
    if (sheet) gapfront::history::history_csv(h.records(), *sheet);
  });
  ask([](const History& h) { h.check(); });
  opened.reset();
  return done(all);
}
