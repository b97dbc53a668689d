// SPDX-License-Identifier: Apache-2.0
#include "config/nearest.h"

#include <algorithm>
#include <numeric>

#include <fmt/format.h>
#include <fmt/ranges.h>

namespace brinegate::config {

std::size_t edit_distance(std::string_view a, std::string_view b) {
  std::vector<std::size_t> before_last;
  std::vector<std::size_t> last(b.size() + 1);
  std::iota(last.begin(), last.end(), std::size_t{0});
  for (std::size_t i = 1; i <= a.size(); ++i) {
    std::vector<std::size_t> row(b.size() + 1, i);
    for (std::size_t j = 1; j <= b.size(); ++j) {
      const std::size_t replaced = last[j - 1] + (a[i - 1] == b[j - 1] ? 0 : 1);
      row[j] = std::min({last[j] + 1, row[j - 1] + 1, replaced});
      if (i > 1 && j > 1 && a[i - 1] == b[j - 2] && a[i - 2] == b[j - 1])
        row[j] = std::min(row[j], before_last[j - 2] + 1);
    }
    before_last = std::move(last);
    last = std::move(row);
  }
  return last.back();
}

std::optional<std::string> nearest(std::string_view word, const std::vector<std::string>& known) {
  constexpr std::size_t longest_word = 64;  // nothing longer is a slip of the keyboard
  if (word.size() > longest_word)
    return std::nullopt;
  std::optional<std::string> best;
  std::size_t best_distance = 0;
  for (const std::string& candidate : known) {
    const std::size_t distance = edit_distance(word, candidate);
    if (distance > std::max<std::size_t>(1, candidate.size() / 3))
      continue;
    if (!best || distance < best_distance) {
      best = candidate;
      best_distance = distance;
    }
  }
  return best;
}

std::string suggestion(std::string_view word, const std::vector<std::string>& known) {
  if (const auto best = nearest(word, known))
    return fmt::format("did you mean '{}'?", *best);
  if (known.empty())
    return "there is none yet";
  return fmt::format("known {} {}", known.size() == 1 ? "is" : "are", fmt::join(known, ", "));
}

}  // namespace brinegate::config
