// Deterministic data parallelism: every index is computed independently, so results cannot depend on the
// number of threads. Reductions are left to the caller, in index order.
#pragma once
#include <algorithm>
#include <atomic>
#include <cstdlib>
#include <exception>
#include <mutex>
#include <system_error>
#include <thread>
#include <vector>

namespace gapfront {

/// Threads to use: the environment variable GAPFRONT_THREADS, else what the machine has.
inline int thread_count() {
  if (const char* s = std::getenv("GAPFRONT_THREADS"))
    if (int n = std::atoi(s); n > 0) return n;
  return std::max(1u, std::thread::hardware_concurrency());
}

/// Calls f(i) for i in [0, n), in blocks handed to threads as they come free. The first exception is rethrown.
template <class F>
void parallel_for(std::size_t n, F&& f, std::size_t block = 64) {
  const std::size_t threads = std::min<std::size_t>(thread_count(), (n + block - 1) / block);
  if (threads <= 1) {
    for (std::size_t i = 0; i < n; ++i) f(i);
    return;
  }
  std::atomic<std::size_t> next{0};
  std::exception_ptr failed;
  std::mutex guard;
  auto work = [&] {
    try {
      for (std::size_t b; (b = next.fetch_add(block)) < n;)
        for (std::size_t i = b; i < std::min(n, b + block); ++i) f(i);
    } catch (...) {
      std::lock_guard lock(guard);
      if (!failed) failed = std::current_exception();
      next = n;
    }
  };
  std::vector<std::thread> pool;
  pool.reserve(threads);
  try {
    while (pool.size() + 1 < threads) pool.emplace_back(work);
  } catch (const std::system_error&) {
    // No more threads are to be had (a limit of memory or processes): those that run do all the work.
  }
  work();
  for (auto& t : pool) t.join();
  if (failed) std::rethrow_exception(failed);
}

}  // namespace gapfront
