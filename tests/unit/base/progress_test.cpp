// Progress of a whole and of its parts.
#include "hairline/progress.hpp"

#include <catch2/catch.hpp>
#include <thread>
#include <vector>

using hairline::Progress;

TEST_CASE("what parts do counts for the whole") {
  Progress whole;
  whole.start(30);
  Progress middle(whole), part(middle), other(middle);
  part.start(10), other.start(10);
  part.advance(4), other.advance();
  CHECK(part.done() == 4);
  CHECK(part.total() == 10);
  CHECK(middle.done() == 5);
  CHECK(whole.done() == 5);
  CHECK(whole.total() == 30);
  part.start(10);  // anew
  CHECK(part.done() == 0);
  CHECK(whole.done() == 1);
  whole.expect(10);
  CHECK(whole.total() == 40);
}

TEST_CASE("cancelling a whole cancels its parts, and not the other way round") {
  Progress whole, other;
  Progress part(whole), inner(part);
  part.cancel();
  CHECK(inner.cancelled());
  CHECK_FALSE(whole.cancelled());
  Progress second(whole);
  CHECK_FALSE(second.cancelled());
  whole.cancel();
  CHECK(second.cancelled());
  CHECK_FALSE(other.cancelled());
}

TEST_CASE("parts on several threads lose nothing") {
  Progress whole;
  {
    std::vector<std::jthread> threads;
    for (int i = 0; i < 4; ++i)
      threads.emplace_back([&whole] {
        Progress part(whole);
        for (int round = 0; round < 2; ++round) {
          part.start(1000);
          for (int step = 0; step < 1000; ++step) part.advance();
        }
      });
  }
  CHECK(whole.done() == 4000);
}
