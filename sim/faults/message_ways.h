// SPDX-License-Identifier: Apache-2.0
// The ways by which samples and requests come to the daemon, a polled line and a broker, and what
// can happen to them there: lost, late, twice, in another order, old and retained.
#pragma once

#include <functional>
#include <map>
#include <vector>

#include "daemon/engine/events.h"
#include "rules/time.h"
#include "sim/faults/life_plan.h"
#include "sim/faults/plant.h"
#include "sim/random.h"

namespace brinegate::sim {

class MessageWays {
 public:
  MessageWays(const StationTraits& station, std::uint64_t seed);

  // What every instrument says now.
  void sample(const Plant& plant, const ActiveFaults& faults, Instant now, Duration wall_off);
  // By the broker.
  void request(const daemon::RequestArrived& request, const ActiveFaults& faults, MonoTime now);
  // What a broker keeps and gives to whoever comes.
  void replay_retained(MonoTime now);
  // What has arrived by now.
  std::vector<daemon::Event> arrived(MonoTime now);
  [[nodiscard]] std::optional<MonoTime> next_arrival() const;
  void lose_everything() { on_the_way_.clear(); }
  // Of the latest round of samples: it came through as the instrument showed it.
  [[nodiscard]] bool came(Instrument instrument) const;

 private:
  struct Shown {
    std::optional<double> value;
    bool comes = true;
  };
  Shown show(Instrument instrument, const Plant& plant, const ActiveFaults& faults, MonoTime now);
  double disturb_cell(double value, const ActiveFaults& faults);
  void by_broker(std::size_t probe, Sample sample, const ActiveFaults& faults, Instant now);
  void put(daemon::Event event, MonoTime at) { on_the_way_.emplace(at, std::move(event)); }
  bool chance(double p) { return uniform(random_, 0.0, 1.0) < p; }

  const StationTraits& station_;
  std::vector<Instrument> instruments_;
  std::vector<bool> came_;
  Random random_;
  std::multimap<MonoTime, daemon::Event> on_the_way_;
  std::optional<daemon::SampleArrived> last_bath_;  // as the broker has it
  std::optional<daemon::RequestArrived> last_request_;
  MonoTime cell_comes_{};  // of one that is late
};

}  // namespace brinegate::sim
