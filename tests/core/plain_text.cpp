#include "core/plain_text.hpp"

#include <catch2/catch.hpp>

using gapfront::is_plain;

TEST_CASE("Text in any script is plain, with tabs and line feeds") {
  CHECK(is_plain("Boot «Möwe», 3 × 4 mm\n\tзамок 金型 – “B1”"));
  CHECK(is_plain(""));
}

TEST_CASE("What a terminal obeys or XML forbids is not plain, nor what turns the direction of writing") {
  for (const char* text : {"a\x1b[31mb", "a\rb", "\x07", "\x7f",
                           "a\xc2\x9b"
                           "b",
                           "a\xe2\x80\xae"
                           "b",
                           "\xe2\x81\xa6", "\x01"})
    CHECK_FALSE(is_plain(text));
}
