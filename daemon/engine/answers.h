// SPDX-License-Identifier: Apache-2.0
// Which request was answered what: a repeated id repeats the answer and not the act, over a restart
// too, and that something was done is said when it is on disk (S13). Of the latest ids only.
#pragma once

#include <cstddef>
#include <cstdint>
#include <map>
#include <string>
#include <vector>

#include "daemon/engine/effects.h"
#include "rules/result.h"

namespace brinegate::daemon {

struct RequestAnswer {
  Reply reply;
  std::string id;            // of the request; empty: not kept
  bool once_stored = false;  // promises that it is on disk
  bool told = false;         // whoever asked first
};

class Answers {
 public:
  static constexpr const char* table = "request";  // of what is stored
  static constexpr std::size_t kept = 256;

  Result<Done> restore(const StoredState& state);

  // Whether this id of a station (or of none) was asked before: then it is answered, now or when
  // the answer is known.
  bool repeats(const std::string& station, const std::string& id, ReplyAddress asker,
               std::vector<Effect>& effects);
  // It is to be answered now. What is too old is forgotten, on disk with `append`.
  void expect(const std::string& station, const std::string& id, Append& append);
  // To be stored with `append`.
  void store(const RequestAnswer& answer, Append& append);
  // To all who asked for it.
  void say(const RequestAnswer& answer, std::vector<Effect>& effects);
  // Instead, that the disk does not take it; the promise stands.
  void say_unwritten(RequestAnswer& answer, std::vector<Effect>& effects);

 private:
  struct Known {
    std::string payload;  // empty: not yet
    std::uint64_t number = 0;
    std::vector<ReplyAddress> waiting;
  };
  void forget_oldest(Append& append);

  std::map<std::string, Known> known_;                   // by station and id
  std::multimap<std::uint64_t, std::string> by_number_;  // the oldest first
  std::uint64_t next_number_ = 1;
};

}  // namespace brinegate::daemon
