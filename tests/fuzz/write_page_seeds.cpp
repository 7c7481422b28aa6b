// Writes page_seeds() into a folder, for tools/fuzz to begin with.
#include <filesystem>
#include <fstream>

#include "fuzz/page_seeds.hpp"

int main(int, char** arguments) {
  for (const auto& [name, text] : fuzz::page_seeds())
    std::ofstream(std::filesystem::path(arguments[1]) / name, std::ios::binary) << text;
}
