// SPDX-License-Identifier: Apache-2.0
// The daemon's process in virtual time: the real Engine, with the shell's part played here. It can
// be killed between any two effects, stopped, reloaded and started again; what it finds then is
// what the disk kept, handed to Engine::create() as the shell hands it over.
#pragma once

#include <functional>
#include <map>
#include <memory>
#include <optional>
#include <string>
#include <vector>

#include "config/model.h"
#include "daemon/engine/engine.h"
#include "rules/time.h"
#include "sim/faults/life_plan.h"
#include "sim/faults/output_line.h"
#include "sim/faults/virtual_disk.h"
#include "sim/random.h"

namespace brinegate::sim {

// Where a kill that waits strikes.
enum class KillPoint {
  None,
  PermitWritten,       // the permit is on its way to the disk
  PermitAcknowledged,  // it is there, and the engine has not heard
  Acted,               // a request was acted on, and its record is not even on its way
};

struct ProcessEnd {
  bool killed = false;
  KillPoint at = KillPoint::None;  // where a kill waited, and struck
  std::optional<bool> torn;        // whether the append under way turned out whole
};

// Deliberately broken worlds, for the campaign's own tests.
enum class Defect { None, PumpIgnoresLease, DiskLies, OnIsDropped, HonestCellLies, IdsAreLost };

class VirtualDaemon {
 public:
  // Sees everything that happens, in order.
  struct Observer {
    virtual ~Observer() = default;
    virtual void started(Instant now) = 0;
    virtual void ended(const ProcessEnd& end, Instant now) = 0;  // no process any more
    virtual void took(const daemon::Event& event, Instant now) = 0;
    virtual void wanted(const daemon::Effect& effect, Instant now) = 0;
  };

  VirtualDaemon(const StationTraits& station, Defect defect, Observer& observer,
                std::uint64_t seed);

  // False: what the disk holds cannot be read, and nothing runs.
  bool start(Instant now);
  void kill(Instant now, KillPoint at = KillPoint::None);
  // As the shell does it; `twice`: somebody does not want to wait for the end of it.
  void stop(bool twice, RelayBoard& relay, Delivery delivery, Instant now);
  void edit_configuration() { ++edits_; }
  void arm(KillPoint point) { kill_point_ = point; }
  void put(daemon::Event event);
  // One turn of the loop: what arrived, the engine, and what it wants done.
  void turn(RelayBoard& relay, Delivery delivery, Instant now);

  [[nodiscard]] bool runs() const { return engine_ != nullptr; }
  bool take_foreign_on() { return line_ && line_->take_foreign_on(); }
  [[nodiscard]] VirtualDisk& disk() { return disk_; }
  [[nodiscard]] const config::Station& configured() const { return site_.stations.front(); }

 private:
  void carry_out(const daemon::Effect& effect, Instant now);
  bool strikes_before(const daemon::Effect& effect) const;
  void take_answers(Instant now);

  const StationTraits& station_;
  Defect defect_;
  Observer& observer_;
  Random random_;
  int edits_ = 0;
  config::Site site_;
  VirtualDisk disk_;
  std::unique_ptr<daemon::Engine> engine_;
  std::optional<OutputLine> line_;
  std::vector<daemon::Event> inbox_;
  KillPoint kill_point_ = KillPoint::None;
  std::optional<std::uint64_t> permit_ticket_;  // of the append that holds the latest permit
};

}  // namespace brinegate::sim
