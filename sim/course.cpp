// SPDX-License-Identifier: Apache-2.0
#include "sim/course.h"

#include <algorithm>
#include <cmath>
#include <utility>

#include <fmt/format.h>

#include "config/advice.h"
#include "config/quantity.h"
#include "config/words.h"
#include "rules/check_catalogue.h"
#include "sim/campaign_options.h"
#include "sim/virtual_batch.h"

namespace brinegate::sim {
namespace {

using config::show;

constexpr Duration point_interval = std::chrono::seconds(15);

CoursePoint point_of(const VirtualBatch& batch) {
  const Station& station = batch.station();
  const Reservoir& water = batch.reservoir();
  CoursePoint point;
  point.at = batch.elapsed();
  point.truth = water.salinity();
  point.final_truth = water.final_salinity();
  point.temperature = water.temperature();
  point.shown_temperature = station.temperature();
  point.cells.resize(batch.plan().cells.size());
  // The cells are the last of the probes.
  const std::size_t first_cell = station.spec().probes.size() - point.cells.size();
  for (const CellEstimate& cell : station.salinity().cells)
    point.cells[cell.probe - first_cell] = cell.salinity;
  const Settling& settling = station.settling();
  if (settling.forecast.known)
    point.forecast = Uncertain<PracticalSalinity>{
        settling.forecast.final, PracticalSalinity(settling.forecast.final_uncertainty)};
  point.final = settling.final_salinity;
  return point;
}

std::string what_came(const LateAddition& late) {
  std::string what =
      late.salt ? show(late.salt->product) + " of salt" : show(late.water) + " of fresh water";
  return what + (late.noted ? " added and noted" : " added, nobody says so");
}

// What is to happen by the plan.
std::vector<CourseMark> planned_marks(const VirtualBatchPlan& plan) {
  std::vector<CourseMark> marks;
  for (const SaltAddition& salt : plan.salt)
    if (salt.lets_go_after > Duration::zero())
      marks.push_back({plan.salt_at + salt.lets_go_after, "the clump lets go"});
  marks.push_back({plan.salt_at, plan.noted ? fmt::format("salt, noted as {}", show(*plan.noted))
                                            : "salt, not noted"});
  for (const LateAddition& late : plan.late)
    marks.push_back({late.at, what_came(late)});
  for (const Pause& pause : plan.pauses)
    marks.push_back({pause.from, "circulation stands for " + show(pause.until - pause.from)});
  for (const Pause& gap : plan.gaps)
    marks.push_back({gap.from, "no samples for " + show(gap.until - gap.from)});
  if (plan.heater_fails)
    marks.push_back({*plan.heater_fails, "the heater fails"});
  return marks;
}

class Recorder {
 public:
  explicit Recorder(const VirtualBatchPlan& plan) {
    course_.plan = plan;
    course_.marks = planned_marks(plan);
  }

  void look(const VirtualBatch& batch) {
    if (course_.points.empty() || batch.elapsed() - course_.points.back().at >= point_interval)
      course_.points.push_back(point_of(batch));
    note_phase(batch);
    note_correction(batch);
    note_permit(batch);
  }

  Course conclude(const BatchFinding& finding) {
    course_.finding = finding;
    if (finding.oracle)
      mark(*finding.oracle, "oracle: from here the water itself meets every demand");
    if (finding.permitted_off_target)
      mark(*finding.permitted_off_target, "permitted while off target");
    std::erase_if(course_.marks, [&](const CourseMark& m) { return m.at > finding.simulated; });
    std::ranges::stable_sort(course_.marks, {}, &CourseMark::at);
    return std::move(course_);
  }

 private:
  void mark(Duration at, std::string text) { course_.marks.push_back({at, std::move(text)}); }

  void note_phase(const VirtualBatch& batch) {
    const Batch& now = batch.station().batch();
    if (now.phase == phase_)
      return;
    std::string text(config::word(now.phase));
    if (now.is_proven() && now.proof)
      text += fmt::format(" as {} with a risk of {:.2g} %", show(now.proof->salinity),
                          100.0 * now.proof->risk);
    else if (phase_ >= BatchPhase::Proven)
      text += fmt::format(", the proof is void: {}", config::word(now.voided));
    phase_ = now.phase;
    was_rejected_ = was_rejected_ || phase_ == BatchPhase::Rejected;
    mark(batch.elapsed(), std::move(text));
  }

  // What comes after a rejection and is not of the plan.
  void note_correction(const VirtualBatch& batch) {
    if (batch.last_addition() == last_addition_)
      return;
    last_addition_ = batch.last_addition();
    const auto is_of_plan = [&](const LateAddition& late) {
      return std::chrono::abs(*last_addition_ - late.at) <= batch.plan().sample_period;
    };
    if (was_rejected_ && std::ranges::none_of(course_.plan.late, is_of_plan))
      mark(*last_addition_, "corrected as advised");
  }

  void note_permit(const VirtualBatch& batch) {
    const Duration now = batch.elapsed();
    if (!lets_pump_run(batch.station())) {
      permitted_ = false;
      return;
    }
    if (!permitted_)
      course_.permitted.push_back({now, now});
    permitted_ = true;
    course_.permitted.back().until = now + batch.plan().sample_period;
  }

  Course course_;
  BatchPhase phase_ = BatchPhase::Empty;
  bool was_rejected_ = false;
  std::optional<Duration> last_addition_;
  bool permitted_ = false;
};

std::string minutes(Duration duration) {
  return fmt::format("{:.1f} min", seconds(duration) / 60.0);
}

std::string row(std::string_view what, const std::string& value) {
  return fmt::format("  {:<14} {}\n", what, value);
}

std::string salt_rows(const VirtualBatchPlan& plan) {
  std::string rows;
  for (const SaltAddition& salt : plan.salt)
    rows +=
        row(salt.lets_go_after > Duration::zero() ? "clump" : "salt",
            fmt::format("{} at {}{}, {:.1f} % slow; {} and {}", show(salt.product),
                        clock_text(plan.salt_at),
                        salt.lets_go_after > Duration::zero()
                            ? ", lets go " + minutes(salt.lets_go_after) + " later"
                            : "",
                        100.0 * salt.slow_share, minutes(salt.fast_time), minutes(salt.slow_time)));
  return rows +
         row("yield", fmt::format("{:.2f} %, believed {:.2f} %", 100.0 * plan.product.dry_fraction,
                                  100.0 * plan.believed.dry_fraction));
}

std::string probe_text(const ProbeTraits& traits) {
  return fmt::format(
      "gain {:.4f}, offset {:+.4f}, lag {:.0f} s, noise {:.4f} + {:.3f} %, steps of {:g}",
      traits.gain, traits.offset, seconds(traits.lag), traits.noise, 100.0 * traits.relative_noise,
      traits.resolution);
}

std::string cell_rows(const VirtualBatchPlan& plan) {
  std::string rows;
  for (std::size_t i = 0; i < plan.cells.size(); ++i) {
    const CellPlan& cell = plan.cells[i];
    rows += row(fmt::format("cell {}", i + 1), probe_text(cell.traits));
    std::string more = fmt::format("{}, wanders by {:.2f} % in {}, {:.0f} bubbles/h",
                                   cell.place == Place::Bulk ? "in the bulk" : "in the corner",
                                   100.0 * cell.traits.wander, minutes(cell.traits.wander_time),
                                   cell.traits.bubbles_per_hour);
    rows += row("", more);
    if (cell.compensation)
      rows += row("", fmt::format("compensated by {:.3f} %/K, believed {:.3f} %/K",
                                  100.0 * cell.compensation->alpha_per_celsius,
                                  100.0 * cell.believed.alpha_per_celsius));
    if (i == 0 && plan.lie != 1.0)
      rows += row("", fmt::format("lies: shows {:.4f} of the truth", plan.lie));
  }
  return rows;
}

std::string event_rows(const VirtualBatchPlan& plan) {
  std::vector<CourseMark> marks = planned_marks(plan);
  std::ranges::stable_sort(marks, {}, &CourseMark::at);
  std::string rows;
  for (const CourseMark& mark : marks)
    rows += row(rows.empty() ? "then" : "", clock_text(mark.at) + "  " + mark.text);
  return rows;
}

std::string_view verdict_text(Verdicts verdict) {
  switch (verdict) {
    case Verdicts::Proven:
      return "proven";
    case Verdicts::RightlyUnproven:
      return "rightly unproven";
    case Verdicts::InGuardBand:
      return "in the guard band";
    case Verdicts::NeverProven:
      break;
  }
  return "never proven";
}

}  // namespace

std::string clock_text(Duration since_begin) {
  const auto whole = std::lround(seconds(since_begin) / 60.0);
  return fmt::format("{}:{:02}", whole / 60, whole % 60);
}

Course record_course(std::uint64_t seed, BatchKind kind, ErrorLaw errors) {
  Recorder recorder(draw_plan(seed, kind, errors));
  return recorder.conclude(
      find(seed, kind, errors, [&recorder](const VirtualBatch& batch) { recorder.look(batch); }));
}

std::string plan_text(const VirtualBatchPlan& plan) {
  const ReservoirSpec& reservoir = plan.reservoir;
  std::string text = fmt::format("seed {}, kind {}\n", plan.seed, word(plan.kind));
  text += row("water", fmt::format("{} at {}, {:.0f} g/h evaporate", show(plan.water),
                                   show(plan.cold), reservoir.evaporation_grams_per_hour));
  text += row("heat", fmt::format("to {} with {}, the room has {}", show(plan.set_point),
                                  minutes(reservoir.heater_time), show(reservoir.room)));
  text += row("corner",
              fmt::format("{:.1f} % of the water, exchanged in {:.0f} s",
                          100.0 * reservoir.corner_share, seconds(reservoir.corner_exchange)));
  text += salt_rows(plan) + cell_rows(plan);
  text += row("salt factor", fmt::format("{:.4f}", plan.salt_factor));
  text += row("bath", probe_text(plan.bath)) + row("level", probe_text(plan.level));
  text += row("samples", "every " + show(plan.sample_period));
  return text + event_rows(plan);
}

std::string course_text(const Course& course) {
  std::string text;
  for (std::size_t i = 0; i < course.marks.size(); ++i)
    text += fmt::format("{:>3}  {:>6}  {}\n", i + 1, clock_text(course.marks[i].at),
                        course.marks[i].text);
  const BatchFinding& finding = course.finding;
  text += fmt::format("\nfound: {}{}{} after {} simulated; comes to {}, shown as {}\n",
                      verdict_text(verdict_of(finding)), finding.early ? ", early" : "",
                      finding.permitted_off_target ? ", permitted while off target" : "",
                      clock_text(finding.simulated), show(finding.final_truth),
                      show(finding.final_indicated));
  if (!finding.last_reason.empty())
    text += fmt::format("in the way at the end: {}\n", finding.last_reason);
  return text;
}

}  // namespace brinegate::sim
