// SPDX-License-Identifier: Apache-2.0
// The physics of one mixing reservoir, stepped by dt: water, salt that dissolves in a fast and a
// slow part, a well-mixed bulk and a corner that lags behind it, heat, evaporation, the pump.
// Knows the truth that probes only estimate. No clock, no chance: the same calls, the same water.
#pragma once

#include <optional>
#include <vector>

#include "rules/mass_balance.h"
#include "rules/time.h"
#include "rules/units.h"

namespace brinegate::sim {

// The time constants are invented, of the size that mixing takes; campaigns vary them.
struct ReservoirSpec {
  double corner_share = 0.05;  // of the mass stands where the circulation hardly reaches
  Duration corner_exchange = std::chrono::seconds(60);  // time constant, while circulating
  Duration heater_time = std::chrono::hours(1);         // time constant toward the set point
  Celsius room{20.0};
  Duration room_time = std::chrono::hours(12);  // time constant toward the room, heater off
  double evaporation_grams_per_hour = 20.0;
  LitresPerMinute pump_flow{4.0};
  LitresPerMinute siphon_flow{1.5};
};

// Product as it is thrown in. A clump is an addition of its own that lets go late.
struct SaltAddition {
  Grams product;
  SaltProduct kind;
  double slow_share = 0.3;
  Duration fast_time = std::chrono::minutes(2);
  Duration slow_time = std::chrono::minutes(20);
  Duration lets_go_after{0};  // nothing of it dissolves before
};

// What the devices do to the water during one step.
struct ReservoirInputs {
  bool circulating = false;
  bool pumping = false;
  bool siphon = false;  // the line has no air break: once the pump ran, flow goes on without it
};

class Reservoir {
 public:
  Reservoir(const ReservoirSpec& spec, Water contents, Celsius temperature);

  void add_water(Litres fresh, Celsius temperature);
  void add_salt(const SaltAddition& addition);
  // By hand, from the bulk; takes what there is and returns it.
  Litres remove(Litres volume);
  void set_heater(std::optional<Celsius> set_point) { heater_ = set_point; }
  void step(Duration dt, const ReservoirInputs& inputs);

  [[nodiscard]] PracticalSalinity salinity() const;         // of the bulk
  [[nodiscard]] PracticalSalinity corner_salinity() const;  // of the lagging corner
  [[nodiscard]] PracticalSalinity final_salinity() const;   // all dissolved, all mixed
  [[nodiscard]] Celsius temperature() const { return temperature_; }
  [[nodiscard]] std::optional<Celsius> heater() const { return heater_; }
  [[nodiscard]] Litres volume() const;      // with the crystals, as a level shows it
  [[nodiscard]] Grams undissolved() const;  // product, with its moisture

  // What went through the pump into the tank.
  [[nodiscard]] Litres drawn() const { return drawn_; }
  [[nodiscard]] PracticalSalinity drawn_salinity() const;  // mean; 0 before anything was drawn

  // The salt's ledger, anhydrous: added = dissolved + undissolved_salt + drawn_salt + removed_salt.
  [[nodiscard]] Grams added_salt() const { return Grams(added_salt_); }
  [[nodiscard]] Grams dissolved_salt() const { return Grams(bulk_.salt + corner_.salt); }
  [[nodiscard]] Grams undissolved_salt() const;
  [[nodiscard]] Grams drawn_salt() const { return Grams(tank_.salt); }
  [[nodiscard]] Grams removed_salt() const { return Grams(removed_salt_); }

 private:
  // Grams of water and of anhydrous salt: what is conserved, whatever the temperature does.
  struct Solution {
    double water = 0.0;
    double salt = 0.0;
    [[nodiscard]] double mass() const { return water + salt; }
    [[nodiscard]] PracticalSalinity salinity() const;
    [[nodiscard]] Litres volume(Celsius temperature) const;
    Solution take(double share);
    void add(const Solution& other);
  };
  struct Crystals {
    Solution grams;
    Duration time_constant;
    Duration lets_go_in;
  };

  void dissolve(Duration dt, bool circulating);
  void exchange_with_corner(Duration dt);
  void settle_temperature(Duration dt);
  void evaporate(Duration dt);
  void draw(Duration dt, const ReservoirInputs& inputs);
  Solution take_from_bulk(Litres volume);

  ReservoirSpec spec_;
  Solution bulk_;
  Solution corner_;
  std::vector<Crystals> crystals_;
  Celsius temperature_;
  std::optional<Celsius> heater_;
  bool line_primed_ = false;
  Solution tank_;
  Litres drawn_;
  double added_salt_ = 0.0;
  double removed_salt_ = 0.0;
};

}  // namespace brinegate::sim
