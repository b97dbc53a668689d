// SPDX-License-Identifier: Apache-2.0
// Everything that can be reached, breadth first to a fixed point: each letter of a finite alphabet
// is tried in each state, and states with the same key are one. The first violation found has the
// shortest story, which is told letter by letter.
//
// A System has
//   State                                    a value: the machine and what the test itself knows
//   State start() const
//   std::size_t letters() const;  std::string name(std::size_t letter) const
//   std::string step(State&, letter) const   what is violated by this step; empty: nothing
//   std::string key(const State&) const      all that decides what may come after
//   std::optional<std::size_t> well(const State&) const
//       the letter by which a state gets on once all is well; none: it is where it shall get
#pragma once

#include <algorithm>
#include <cstdint>
#include <cstdio>
#include <optional>
#include <string>
#include <unordered_map>
#include <vector>

namespace brinegate::explore {

// One more value of a key: one byte, or where it is none of the usual ones nine.
inline void put(std::string& key, std::int64_t value) {
  constexpr char more_follow = '\xff';
  if (value >= -1 && value < 0xfe) {
    key += static_cast<char>(value + 1);
    return;
  }
  key += more_follow;
  for (int byte = 0; byte < 8; ++byte)
    key += static_cast<char>(value >> (8 * byte));
}
inline std::string readable(const std::string& key) {
  std::string bytes;
  for (const char byte : key)
    bytes += std::to_string(static_cast<unsigned char>(byte)) + ' ';
  return bytes;
}

template <class System>
class Exploration {
 public:
  using State = typename System::State;

  explicit Exploration(const System& system, std::size_t most_states = 100'000)
      : system_(system), most_states_(most_states) {
    discover(system_.start(), 0, 0);
    for (std::uint32_t node = 0; node < nodes_.size() && violation_.empty(); ++node)
      expand(node);
    if (violation_.empty())
      measure_ways();
  }

  [[nodiscard]] std::size_t states() const { return nodes_.size(); }
  [[nodiscard]] std::size_t transitions() const { return transitions_; }
  // Empty: no invariant is violated anywhere, and from everywhere all gets well.
  [[nodiscard]] const std::string& violation() const { return violation_; }
  // Steps that the longest way takes until all is well.
  [[nodiscard]] std::size_t longest_way() const { return longest_way_; }

  void print(const char* what) const {
    std::printf("%s: %zu states, %zu transitions, all well after %zu steps at most\n", what,
                states(), transitions(), longest_way());
  }

  // Two states that were taken for one must go on alike. Tells how many of a sample of such pairs
  // do not, by any letter, and how the first of them came about.
  struct Merges {
    std::size_t compared = 0;  // letters tried on both
    std::size_t apart = 0;
    std::string example;
  };
  [[nodiscard]] Merges compare_merged() const {
    Merges merges;
    for (const Merge& merge : merged_) {
      State second = state_of(merge.from);
      system_.step(second, merge.letter);
      compare(state_of(merge.node), second, merge, merges);
    }
    return merges;
  }

 private:
  struct Node {
    std::uint32_t parent;
    std::uint32_t letter;
    std::uint32_t well;  // the state that follows by the letter of well(); itself: it is there
  };
  struct Merge {
    std::uint32_t node;
    std::uint32_t from;
    std::uint32_t letter;
  };
  static constexpr std::size_t merges_kept = 1000;
  static constexpr std::uint64_t merge_every = 1009;  // prime, so that it meets every letter

  // The number of the state with this key.
  std::uint32_t discover(const State& state, std::uint32_t parent, std::size_t letter) {
    const auto node = static_cast<std::uint32_t>(nodes_.size());
    const auto [found, is_new] = known_.try_emplace(system_.key(state), node);
    if (is_new)
      nodes_.push_back({parent, static_cast<std::uint32_t>(letter), node});
    else if (transitions_ % merge_every == 0 && merged_.size() < merges_kept)
      merged_.push_back({found->second, parent, static_cast<std::uint32_t>(letter)});
    return found->second;
  }

  void expand(std::uint32_t node) {
    const State state = state_of(node);
    const auto well = system_.well(state);
    for (std::size_t letter = 0; letter < system_.letters(); ++letter) {
      State next = state;
      const std::string violated = system_.step(next, letter);
      ++transitions_;
      if (!violated.empty()) {
        violation_ = violated + "\nafter:" + story(node) + "\n  " + system_.name(letter);
        return;
      }
      const std::uint32_t follower = discover(next, node, letter);
      if (well == letter)
        nodes_[node].well = follower;
    }
    if (nodes_.size() > most_states_)
      violation_ = "no fixed point within the states allowed for:" + story(node);
  }

  [[nodiscard]] std::vector<std::size_t> path(std::uint32_t node) const {
    std::vector<std::size_t> letters;
    for (; node != 0; node = nodes_[node].parent)
      letters.push_back(nodes_[node].letter);
    std::reverse(letters.begin(), letters.end());
    return letters;
  }
  // Only the way to a state is kept: its steps are taken again.
  [[nodiscard]] State state_of(std::uint32_t node) const {
    State state = system_.start();
    for (const std::size_t letter : path(node))
      system_.step(state, letter);
    return state;
  }
  [[nodiscard]] std::string story(std::uint32_t node) const {
    std::string told;
    for (const std::size_t letter : path(node))
      told += "\n  " + system_.name(letter);
    return told;
  }

  void measure_ways() {
    std::vector<std::size_t> steps(nodes_.size(), 0);  // counted so far
    for (std::uint32_t node = 0; node < nodes_.size(); ++node) {
      std::vector<std::uint32_t> way;
      std::uint32_t at = node;
      while (nodes_[at].well != at && steps[at] == 0 && way.size() <= nodes_.size()) {
        way.push_back(at);
        at = nodes_[at].well;
      }
      if (way.size() > nodes_.size()) {
        violation_ = "it never gets well after:" + story(node);
        return;
      }
      for (std::size_t i = way.size(); i-- > 0;)
        steps[way[i]] = steps[at] + (way.size() - i);
      longest_way_ = std::max(longest_way_, steps[node]);
    }
  }

  void compare(const State& first, const State& second, const Merge& merge, Merges& merges) const {
    for (std::size_t letter = 0; letter < system_.letters(); ++letter) {
      State a = first;
      State b = second;
      const std::string violated = system_.step(b, letter);
      ++merges.compared;
      if (system_.step(a, letter) == violated && system_.key(a) == system_.key(b))
        continue;
      if (++merges.apart == 1)
        merges.example = "one:" + story(merge.node) + "\nother:" + story(merge.from) + "\n  " +
                         system_.name(merge.letter) + "\npart by: " + system_.name(letter) + "\n" +
                         readable(system_.key(a)) + "\n" + readable(system_.key(b)) + "\n" +
                         violated;
    }
  }

  const System& system_;
  std::size_t most_states_;
  std::vector<Node> nodes_;
  std::unordered_map<std::string, std::uint32_t> known_;
  std::vector<Merge> merged_;
  std::size_t transitions_ = 0;
  std::size_t longest_way_ = 0;
  std::string violation_;
};

}  // namespace brinegate::explore
