#include <fmt/core.h>
#include <openssl/crypto.h>
#include <png.h>
#include <sqlite3.h>
#include <toml++/impl/version.h>
#include <CLI/Version.hpp>
#include <Eigen/Core>
#include <boost/version.hpp>
#include <nanoflann.hpp>
#include <nlohmann/json.hpp>

#include <string>

#include "cli/commands.hpp"
#include "gapfront/languages.hpp"

namespace gapfront::cli {
namespace {

std::string dotted(long major, long minor, long patch) {
  return std::to_string(major) + "." + std::to_string(minor) + "." + std::to_string(patch);
}

std::string compiler() {
#if defined(__clang__)
  return "clang " + dotted(__clang_major__, __clang_minor__, __clang_patchlevel__);
#else
  return "g++ " + dotted(__GNUC__, __GNUC_MINOR__, __GNUC_PATCHLEVEL__);
#endif
}

std::string machine() {
#if defined(__x86_64__)
  return "x86-64";
#elif defined(__aarch64__)
  return "AArch64";
#else
  return std::to_string(8 * sizeof(void*)) + " bit";
#endif
}

}  // namespace

std::string version_text() {
  std::string spoken;
  for (const char* language : languages) spoken += std::string(spoken.empty() ? "" : " ") + language;
  return "gapfront " GAPFRONT_VERSION "\nBuilt       " + compiler() + ", C++20, " GAPFRONT_BUILD_TYPE ", " + machine() +
         ", no fused multiply-add\nWith        Eigen " +
         dotted(EIGEN_WORLD_VERSION, EIGEN_MAJOR_VERSION, EIGEN_MINOR_VERSION) + ", Boost " +
         dotted(BOOST_VERSION / 100000, BOOST_VERSION / 100 % 1000, BOOST_VERSION % 100) + ", nanoflann " +
         dotted(NANOFLANN_VERSION >> 8, NANOFLANN_VERSION >> 4 & 0xf, NANOFLANN_VERSION & 0xf) + ", toml++ " +
         dotted(TOML_LIB_MAJOR, TOML_LIB_MINOR, TOML_LIB_PATCH) + ", nlohmann json " +
         dotted(NLOHMANN_JSON_VERSION_MAJOR, NLOHMANN_JSON_VERSION_MINOR, NLOHMANN_JSON_VERSION_PATCH) +
         ", CLI11 " CLI11_VERSION "\nLoaded      fmt " +
         dotted(FMT_VERSION / 10000, FMT_VERSION / 100 % 100, FMT_VERSION % 100) + ", libpng " +
         png_get_libpng_ver(nullptr) + ", " + OpenSSL_version(OPENSSL_VERSION) + ", SQLite " + sqlite3_libversion() +
         "\nLanguages   " + spoken;
}

}  // namespace gapfront::cli
