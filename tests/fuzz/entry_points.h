// SPDX-License-Identifier: Apache-2.0
// Where text and bytes of strangers come in. Each takes any input and must give an answer that
// makes sense: here it is held against what its header promises. The same entry points are driven
// by a fuzzer (BRINEGATE_FUZZ) and by the ordinary tests over the corpus.
#pragma once

#include <span>
#include <string>
#include <string_view>

namespace brinegate::fuzz {

struct EntryPoint {
  std::string_view name;  // of its folder in tests/fuzz/corpus
  // What was wrong with the answer; empty: nothing.
  std::string (*complaint)(std::string_view input);
};

std::span<const EntryPoint> entry_points();

}  // namespace brinegate::fuzz
