// SPDX-License-Identifier: Apache-2.0
// Every entry point for strangers' input, over its corpus and what random changes make of it. The
// seed is fixed, so a failure repeats; the time is bounded, so slow machines see fewer of them.
#include <chrono>
#include <filesystem>
#include <fstream>
#include <iterator>
#include <random>
#include <set>

#include <gtest/gtest.h>

#include "tests/fuzz/entry_points.h"

namespace brinegate::fuzz {
namespace {

const std::filesystem::path corpus = BRINEGATE_SOURCE_DIR "/tests/fuzz/corpus";

// In the order of their names.
std::vector<std::string> inputs_of(const EntryPoint& entry) {
  std::set<std::filesystem::path> files;
  for (const auto& file : std::filesystem::directory_iterator(corpus / entry.name))
    files.insert(file.path());
  std::vector<std::string> inputs;
  for (const auto& path : files) {
    std::ifstream file(path, std::ios::binary);
    inputs.emplace_back(std::istreambuf_iterator<char>(file), std::istreambuf_iterator<char>());
  }
  return inputs;
}

std::string as_hexadecimal(std::string_view input) {
  std::string text;
  for (const char c : input.substr(0, 2000)) {
    constexpr std::string_view digits = "0123456789abcdef";
    text += digits[static_cast<unsigned char>(c) >> 4U];
    text += digits[static_cast<unsigned char>(c) & 15U];
  }
  return text;
}

class Mutator {
 public:
  explicit Mutator(std::vector<std::string> inputs) : inputs_(std::move(inputs)) {}

  std::string next() {
    std::string text = inputs_[below(inputs_.size())];
    for (std::size_t times = 1 + below(4); times > 0; --times)
      change(text);
    return text;
  }

 private:
  std::size_t below(std::size_t end) { return random_() % end; }

  void change(std::string& text) {
    const std::size_t at = below(text.size() + 1);
    const std::string& other = inputs_[below(inputs_.size())];
    switch (below(5)) {
      case 0:
        text.erase(at, 1 + below(16));
        break;
      case 1:
        text.insert(at, 1 + below(3), static_cast<char>(below(256)));
        break;
      case 2:
        if (at < text.size())
          text[at] = static_cast<char>(text[at] ^ (1 << below(8)));
        break;
      case 3:  // what stands in another comes in here
        text.insert(at, other, below(other.size() + 1), below(40));
        break;
      default:
        text.insert(at, text, below(text.size() + 1), below(80));
        break;
    }
  }

  std::vector<std::string> inputs_;
  std::mt19937_64 random_{2026};
};

class OfEntryPoint : public ::testing::TestWithParam<EntryPoint> {};
INSTANTIATE_TEST_SUITE_P(Fuzz, OfEntryPoint,
                         ::testing::ValuesIn(entry_points().begin(), entry_points().end()),
                         [](const auto& entry) { return std::string(entry.param.name); });

TEST_P(OfEntryPoint, TheCorpusIsAnsweredAsPromised) {
  const auto inputs = inputs_of(GetParam());
  EXPECT_GE(inputs.size(), 5U);
  for (const std::string& input : inputs)
    EXPECT_EQ(GetParam().complaint(input), "") << as_hexadecimal(input);
}

TEST_P(OfEntryPoint, WhatRandomChangesMakeOfTheCorpusIsAnsweredAsPromised) {
  Mutator mutator(inputs_of(GetParam()));
  const auto end = std::chrono::steady_clock::now() + std::chrono::seconds(1);
  for (int i = 0; i < 20'000 && std::chrono::steady_clock::now() < end; ++i) {
    const std::string input = mutator.next();
    ASSERT_EQ(GetParam().complaint(input), "") << "input " << i << ": " << as_hexadecimal(input);
  }
}

}  // namespace
}  // namespace brinegate::fuzz
