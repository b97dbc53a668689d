// SPDX-License-Identifier: Apache-2.0
// What one evaluation costs: a station's step with the samples of its probes, and a turn of the
// whole engine with one station. Prints a line for people and JSON for programs.
#include <algorithm>
#include <chrono>
#include <cstdint>
#include <cstdio>
#include <string>
#include <variant>
#include <vector>

#include <fmt/format.h>

#include "config/model.h"
#include "daemon/engine/engine.h"
#include "rules/seawater.h"
#include "rules/station.h"

namespace brinegate {
namespace {

using namespace std::chrono_literals;
using Stopwatch = std::chrono::steady_clock;

constexpr int batches = 200;
constexpr int evaluations = 500;  // in a batch
constexpr Duration between_samples = 1s;

struct Cost {
  double median_us = 0.0;
  double p99_us = 0.0;  // of the means of the batches
};

StationSpec mixer() {
  StationSpec spec;
  spec.name = "mixer";
  spec.capacity = Litres(200.0);
  const auto add = [&spec](const char* name, Measures measures) {
    ProbeSpec probe;
    probe.name = name;
    probe.measures = measures;
    probe.limits = default_sample_limits(measures, spec.capacity.value());
    probe.uncertainty = default_probe_uncertainty(measures);
    spec.probes.push_back(probe);
  };
  add("cell", Measures::Conductivity);
  add("bath", Measures::Temperature);
  add("height", Measures::Level);
  spec.probes[0].temperature_from = 1;
  PumpSpec pump;
  pump.max_volume = Litres(60.0);
  pump.max_run = 15min;
  spec.pump = pump;
  return spec;
}

// Settled water with the ripple of real probes.
std::vector<Sample> samples_at(std::uint64_t count, MonoTime arrived) {
  const double ripple = static_cast<double>(count % 7) - 3.0;
  const double conducts = conductivity(PracticalSalinity(34.836), Celsius(25.0)).value();
  std::vector<Sample> samples;
  for (const double value : {conducts + 0.001 * ripple, 25.0 + 0.002 * ripple, 150.0}) {
    Sample sample;
    sample.value = value;
    sample.fault = SampleFault::None;
    sample.arrived = arrived;
    samples.push_back(sample);
  }
  return samples;
}

Instant at(std::uint64_t count) {
  const Duration since = static_cast<std::int64_t>(count) * between_samples;
  return {MonoTime(1h + since), WallTime(std::chrono::hours(24 * 365 * 56) + since)};
}

// Only the evaluation is timed, not what makes its inputs.
template <class Evaluate>
Cost measured(Evaluate evaluate) {
  std::vector<double> means;
  std::uint64_t count = 0;
  for (int batch = 0; batch < batches; ++batch) {
    Stopwatch::duration spent{0};
    for (int i = 0; i < evaluations; ++i)
      spent += evaluate(++count);
    means.push_back(std::chrono::duration<double, std::micro>(spent).count() / evaluations);
  }
  std::sort(means.begin(), means.end());
  return {means[batches / 2], means[batches * 99 / 100]};
}

Cost cost_of_step() {
  const StationSpec spec = mixer();
  Station station(spec);
  StationInputs inputs;
  inputs.record_kept = true;
  inputs.output_answers = true;
  BeginCommand begin;
  begin.batch = "bench";
  begin.salts = {salt_of("H-2291", {}, Grams(5600.0))};
  inputs.commands.emplace_back(begin);
  return measured([&](std::uint64_t count) {
    const Instant now = at(count);
    const auto samples = samples_at(count, now.mono);
    for (std::size_t i = 0; i < samples.size(); ++i)
      inputs.samples.push_back({i, samples[i]});
    const auto from = Stopwatch::now();
    const StationOutcome outcome = station.step(inputs, now);
    const auto spent = Stopwatch::now() - from;
    inputs.samples.clear();
    inputs.commands.clear();
    return outcome.judged.size() == samples.size() ? spent : Stopwatch::duration::max();
  });
}

config::Site site() {
  config::Site one;
  one.name = "cellar";
  one.profiles.push_back(Profile{});
  one.profiles.front().name = "reef";
  config::Station station;
  station.spec = mixer();
  station.profile = "reef";
  station.sources.resize(station.spec.probes.size());
  station.pump = config::Pump{};
  one.stations.push_back(station);
  return one;
}

// The disk's answers come with the next turn, as from a disk that is never slow.
Cost cost_of_turn() {
  auto created = daemon::Engine::create(site(), {}, at(0));
  daemon::Engine& engine = *created.value();
  std::vector<daemon::Event> events;
  daemon::RequestArrived begin;
  begin.origin = daemon::Origin::Local;
  begin.payload = R"({"id": "1", "do": "begin", "station": "mixer", "lot": "H-2291",)"
                  R"( "profile": "reef", "salt": "5600 g"})";
  events.emplace_back(begin);
  return measured([&](std::uint64_t count) {
    const Instant now = at(count);
    const auto samples = samples_at(count, now.mono);
    for (std::size_t i = 0; i < samples.size(); ++i)
      events.emplace_back(daemon::SampleArrived{{0, i}, samples[i]});
    const auto from = Stopwatch::now();
    const auto effects = engine.turn(events, now);
    const auto spent = Stopwatch::now() - from;
    events.clear();
    for (const daemon::Effect& effect : effects) {
      if (const auto* append = std::get_if<daemon::Append>(&effect))
        events.emplace_back(daemon::AppendFinished{append->ticket, true});
      if (const auto* rows = std::get_if<daemon::AppendReadings>(&effect))
        events.emplace_back(daemon::AppendFinished{rows->ticket, true});
    }
    return spent;
  });
}

}  // namespace
}  // namespace brinegate

int main() {
  const auto step = brinegate::cost_of_step();
  const auto turn = brinegate::cost_of_turn();
  fmt::print("station step: {:.2f} us (99 %: {:.2f}); engine turn: {:.2f} us (99 %: {:.2f})\n",
             step.median_us, step.p99_us, turn.median_us, turn.p99_us);
  fmt::print(
      "{{\"station_step_us\": {{\"median\": {:.3f}, \"p99\": {:.3f}}}, "
      "\"engine_turn_us\": {{\"median\": {:.3f}, \"p99\": {:.3f}}}}}\n",
      step.median_us, step.p99_us, turn.median_us, turn.p99_us);
}
