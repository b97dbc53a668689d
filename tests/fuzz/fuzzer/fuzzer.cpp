// SPDX-License-Identifier: Apache-2.0
// One entry point under libFuzzer: BRINEGATE_ENTRY_POINT is its name.
#include <cstdint>
#include <cstdio>
#include <cstdlib>

#include "tests/fuzz/entry_points.h"

extern "C" int LLVMFuzzerTestOneInput(const std::uint8_t* data, std::size_t size) {
  const std::string_view input(reinterpret_cast<const char*>(data), size);
  for (const auto& entry : brinegate::fuzz::entry_points()) {
    if (entry.name != BRINEGATE_ENTRY_POINT)
      continue;
    if (const std::string complaint = entry.complaint(input); !complaint.empty()) {
      std::fprintf(stderr, "%s\n", complaint.c_str());
      std::abort();
    }
  }
  return 0;
}
