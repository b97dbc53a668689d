// SPDX-License-Identifier: Apache-2.0
// Waivers (S8): given, taken back, expired, and what a proof owes to them.
#include <algorithm>

#include "rules/station.h"
#include "rules/waiver.h"

namespace brinegate {
namespace {

CommandAnswer of(AnswerCode code) {
  CommandAnswer answer;
  answer.code = code;
  return answer;
}

}  // namespace

CommandAnswer Station::obey_one(const WaiveCommand& command, Instant now, StationOutcome& outcome) {
  if (!may_ever_be_waived(command.check))
    return of(AnswerCode::NeverWaivable);
  if (!batch_.in_progress())
    return of(AnswerCode::NoBatch);
  if (!batch_.profile.waivable.contains(command.check))
    return of(AnswerCode::NotWaivable);
  end_waiver(command.check, WaiverEnd::Replaced, outcome);
  const Duration length = std::clamp(command.length, shortest_waiver, longest_waiver);
  batch_.waivers.push_back(
      {command.check, command.person, command.reason, now.wall, length, now.mono + length});
  outcome.events.push_back(WaiverGranted{batch_.waivers.back()});
  return of(AnswerCode::Done);
}

CommandAnswer Station::obey_one(const UnwaiveCommand& command, Instant /*now*/,
                                StationOutcome& outcome) {
  const bool ended = end_waiver(command.check, WaiverEnd::Withdrawn, outcome);
  return of(ended ? AnswerCode::Done : AnswerCode::NothingWaived);
}

void Station::expire_waivers(MonoTime now, StationOutcome& outcome) {
  const std::vector<Waiver> waivers = batch_.waivers;
  for (const Waiver& waiver : waivers)
    if (now >= waiver.until)
      end_waiver(waiver.check, WaiverEnd::Expired, outcome);
}

bool Station::end_waiver(CheckId check, WaiverEnd end, StationOutcome& outcome) {
  const Waiver* const waiver = waiver_of(batch_, check);
  if (waiver == nullptr)
    return false;
  outcome.events.push_back(WaiverEnded{*waiver, end});
  std::erase_if(batch_.waivers, [check](const Waiver& each) { return each.check == check; });
  return true;
}

std::set<CheckId> Station::waived_of_proof() const {
  std::set<CheckId> waived;
  for (const CheckResult& check : checks_)
    if (check_row(check.id).proves && !lets_through(check.verdict))
      waived.insert(check.id);
  return waived;
}

}  // namespace brinegate
