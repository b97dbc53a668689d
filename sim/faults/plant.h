// SPDX-License-Identifier: Apache-2.0
// The station's water, devices and instruments, with all that can be wrong with them. Knows the
// truth, and which instrument lies. Nothing of the daemon is in here.
#pragma once

#include <array>
#include <cstddef>
#include <optional>
#include <vector>

#include "rules/reading.h"
#include "rules/time.h"
#include "sim/device_models.h"
#include "sim/faults/life_plan.h"
#include "sim/probe_models.h"
#include "sim/random.h"
#include "sim/reservoir.h"

namespace brinegate::sim {

// Of the site, in the order of its probes (virtual_site.h); what a station has not is left out.
enum class Instrument { CellA, CellB, Bath, Level, Flow, Circulation, ReadBack, Leak };

// How a fault of a probe or of the water is, while it lasts.
struct ActiveFaults {
  std::array<bool, fault_kinds> on{};
  std::array<double, fault_kinds> size{};

  [[nodiscard]] bool has(FaultKind kind) const { return on[static_cast<std::size_t>(kind)]; }
  [[nodiscard]] double of(FaultKind kind) const { return size[static_cast<std::size_t>(kind)]; }
};

class Plant {
 public:
  Plant(const StationTraits& station, std::uint64_t seed);

  // Faults as they are over this step.
  void step(Duration dt, MonoTime now, const ActiveFaults& faults);

  // What the instrument shows, as it leaves it; none: it shows nothing.
  [[nodiscard]] std::optional<double> shown(Instrument instrument) const;

  // A person at the vessel.
  void fill(Litres fresh, Celsius temperature) { water_.add_water(fresh, temperature); }
  void salt(Grams product);
  Litres remove(Litres volume) { return water_.remove(volume); }
  void drain();  // and rinse
  // Into a standard of this conductivity at 25 °C; none: back into the water.
  void dip(std::size_t cell, std::optional<MilliSiemensPerCm> standard) {
    dipped_[cell] = standard;
  }
  void clean(std::size_t cell) { drifted_ = cell == 0 ? 1.0 : drifted_; }
  // What it shows now was said to be the standard's value, off by this factor. `taken`: the daemon
  // has said so; else it may have been, which makes no cell honest.
  void calibrated(std::size_t cell, double factor, bool taken);
  // What the pump feeds wants water ("while proven").
  void let_system_run(bool runs) { system_runs_ = runs; }
  void repair();  // all that faults have left behind

  [[nodiscard]] RelayBoard& relay() { return relay_; }
  [[nodiscard]] const RelayBoard& relay() const { return relay_; }
  [[nodiscard]] const Reservoir& water() const { return water_; }
  [[nodiscard]] bool pump_powered(MonoTime now) const;
  // Of the last step.
  [[nodiscard]] bool pumping() const { return pumping_; }
  [[nodiscard]] bool siphoning() const { return siphoning_; }
  [[nodiscard]] bool some_cell_is_honest() const;
  [[nodiscard]] Duration slowest_lag() const;

 private:
  void apply(const ActiveFaults& faults);
  [[nodiscard]] double conducts_at(std::size_t cell) const;
  [[nodiscard]] bool lies(std::size_t cell) const;

  const StationTraits& station_;
  Random random_;
  Reservoir water_;
  RelayBoard relay_;
  std::vector<ProbeModel> cells_;
  ProbeModel bath_;
  ProbeModel level_;
  ActiveFaults faults_;
  double drifted_ = 1.0;  // of cell_a; fouling stays until somebody cleans it
  bool system_runs_ = false;
  bool pumping_ = false;
  bool siphoning_ = false;
  bool primed_ = false;  // water stands in the line since the pump ran
  std::array<std::optional<MilliSiemensPerCm>, 2> dipped_;
  std::array<double, 2> calibrated_off_{1.0, 1.0};
};

}  // namespace brinegate::sim
