// SPDX-License-Identifier: Apache-2.0
// The life of one station in virtual time: weeks in which the faults of its plan strike, then a
// quiet phase in which it must recover. Stepped by seconds where something is at stake and by
// minutes where nothing is.
#pragma once

#include <cstdint>
#include <map>
#include <memory>
#include <optional>
#include <string>
#include <vector>

#include "sim/faults/findings.h"
#include "sim/faults/keeper.h"
#include "sim/faults/life_plan.h"
#include "sim/faults/message_ways.h"
#include "sim/faults/plant.h"
#include "sim/faults/virtual_daemon.h"
#include "sim/faults/watch.h"

namespace brinegate::sim {

struct LifeFinding {
  Tally tally;
  std::vector<std::string> story;  // the last things that happened, or all
};

class StationLife {
 public:
  explicit StationLife(const LifePlan& plan, Defect defect = Defect::None,
                       bool tell_everything = false);
  LifeFinding run();

 private:
  struct Active {
    const PlannedFault* fault;
    MonoTime until;
  };

  void live();
  void recover();
  void step(Duration dt);
  [[nodiscard]] Duration next_step() const;
  [[nodiscard]] bool is_troubled() const;  // a fault is on, or was shortly before
  void schedule_faults();
  void strike(const PlannedFault& fault);
  void strike_process(const PlannedFault& fault);
  void end_faults();
  void refresh_active();
  void apply_to_disk_and_clock();
  void apply_to_devices();
  void go_down(Duration lasts);
  void come_up();
  void deliver();
  void send(Letter letter);
  void notice(bool was_on, bool coil_was_on);
  [[nodiscard]] Delivery delivery();
  [[nodiscard]] WorldStep world_step(Duration dt) const;
  [[nodiscard]] bool active(FaultKind kind) const { return faults_.has(kind); }
  [[nodiscard]] Duration elapsed() const { return now_.mono - MonoTime(std::chrono::hours(1)); }
  void be_attentive(Duration lasts) {
    attentive_until_ = std::max(attentive_until_, now_.mono + lasts);
  }
  bool chance(double p) { return uniform(random_, 0.0, 1.0) < p; }

  const LifePlan& plan_;
  Defect defect_;
  LifeFinding finding_;
  Random random_;
  Instant now_;
  Plant plant_;
  Watch watch_;
  VirtualDaemon daemon_;
  Keeper keeper_;
  MessageWays ways_;

  std::size_t next_fault_ = 0;
  std::vector<const PlannedFault*> waiting_;  // for their moment
  std::multimap<MonoTime, const PlannedFault*> about_to_strike_;
  std::vector<Active> active_;
  ActiveFaults faults_;
  Duration wall_off_{0};
  std::optional<MonoTime> up_again_;
  std::optional<MonoTime> down_since_;
  MonoTime attentive_until_{};
  MonoTime troubled_until_{};
  MonoTime master_next_{};
  bool foreign_on_ = false;
  bool was_asked_ = false;
  daemon::ReplyAddress next_address_ = 1;
};

}  // namespace brinegate::sim
