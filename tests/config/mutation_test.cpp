// SPDX-License-Identifier: Apache-2.0
// Spoils the example at random: whatever comes in, the loader answers with a site or with an error
// that has a place in the file. Bounded by time; the seed is fixed, so a failure repeats.
#include <algorithm>
#include <random>

#include <gtest/gtest.h>

#include "config/load.h"
#include "tests/config/cellar.h"

namespace brinegate::config {
namespace {

constexpr std::string_view pieces[]{
    "\"",      "'",      "[",           "]",       "{",
    "}",       "=",      ",",           ".",       "\n",
    "#",       "0",      "-1",          "1e999",   "nan",
    "true",    "\"\"",   "\"5 s\"",     "\"1 L\"", "9223372036854775808",
    "[[1]]",   "{}",     "2024-01-01",  "\xff",    "\xef\xbb\xbf",
    "\\u0000", "\"\"\"", "[[station]]", "probe"};

class Mutator {
 public:
  explicit Mutator(std::uint64_t seed) : random_(seed) {}

  std::string mutated(std::string text) {
    const std::size_t times = 1 + below(3);
    for (std::size_t i = 0; i < times && !text.empty(); ++i)
      mutate(text);
    return text;
  }

 private:
  std::size_t below(std::size_t end) { return random_() % end; }

  void mutate(std::string& text) {
    const std::size_t at = below(text.size());
    switch (below(6)) {
      case 0:
        text.erase(at, 1 + below(12));
        break;
      case 1:
        text.insert(at, pieces[below(std::size(pieces))]);
        break;
      case 2:
        text[at] = static_cast<char>(below(256));
        break;
      case 3:
        replace_value(text, at);
        break;
      case 4:
        text.insert(at, text.substr(below(text.size()), below(60)));
        break;
      default:
        text.erase(std::min(text.find('\n', at), text.size() - 1), 1 + below(80));
        break;
    }
  }

  // What stands right of the next '=' becomes something else: mostly still TOML.
  void replace_value(std::string& text, std::size_t at) {
    const std::size_t equals = text.find("= ", at);
    if (equals == std::string::npos)
      return;
    const std::size_t end = text.find_first_of(",\n}", equals);
    text.replace(equals + 2, end == std::string::npos ? end : end - equals - 2,
                 pieces[below(std::size(pieces))]);
  }

  std::mt19937_64 random_;
};

TEST(Mutation, OfTheExampleAlwaysGivesASiteOrAnErrorWithAPlace) {
  const std::string example = content_of("config/example.toml");
  Mutator mutator(2026);
  constexpr int enough = 20;
  int valid = 0;    // comments and free texts were hit ...
  int refused = 0;  // ... and everything else
  while (valid + refused < 300 || valid <= enough || refused <= enough) {
    ASSERT_LT(valid + refused, 5000) << valid << " valid";
    const std::string text = mutator.mutated(example);
    const Loaded loaded = load_text(text, "spoiled.toml");
    ASSERT_NE(loaded.site.has_value(), !loaded.errors.empty()) << text;
    const auto lines = std::count(text.begin(), text.end(), '\n') + 1;
    for (const auto* problems : {&loaded.errors, &loaded.hazards})
      for (const Problem& problem : *problems) {
        ASSERT_GE(problem.line, 1) << text;
        ASSERT_LE(problem.line, lines) << text;
        ASSERT_GE(problem.column, 1) << text;
        ASSERT_FALSE(problem.message.empty()) << text;
      }
    ++(loaded.site ? valid : refused);
  }
}

}  // namespace
}  // namespace brinegate::config
