#include "gapfront/error.hpp"

#include <catch2/catch.hpp>
#include <string>

using gapfront::Error;
using gapfront::Fault;

TEST_CASE("What an error says is one line, whatever it quotes") {
  const Error e(Fault::input, "a.toml:3: unknown key \"a\nb\r\nc\"; take it out");
  CHECK(std::string(e.what()) == "a.toml:3: unknown key \"a b  c\"; take it out");
  CHECK(e.fault == Fault::input);
}
