// SPDX-License-Identifier: Apache-2.0
// Section [profile.NAME]: what a batch must be.
#include <fmt/format.h>

#include "config/load_sections.h"
#include "config/quantity.h"
#include "config/waiver_advice.h"
#include "config/words.h"

namespace brinegate::config {
namespace {

constexpr Word<bool> dose_words[]{{"required", true}, {"optional", false}};

void read_salinity(TableReader& reader, Profile& profile) {
  // PSS-78 ends at 42: beyond it no reading is good, and no batch could be proven.
  const bool target_read =
      reader.read("salinity", parse_salinity, {"1 PSU", "42 PSU"}, profile.target);
  const bool tolerance_read = reader.read("tolerance", parse_salinity_difference,
                                          {"0.01 PSU", "10 PSU"}, profile.tolerance);
  if (target_read && tolerance_read && profile.tolerance >= profile.target)
    reader.error("tolerance",
                 fmt::format("'tolerance' reaches down to fresh water: write less than {}",
                             show(profile.target)));
}

void read_times(TableReader& reader, Profile& profile) {
  reader.read("circulate", parse_duration, {"0 s", "7 d"}, profile.circulate);
  reader.read("keep", parse_duration, {"1 h", "365 d"}, profile.keep);
  if (profile.keep <= profile.circulate)
    reader.error("keep", fmt::format("'keep' ends before 'circulate' does: write more than {}",
                                     show(profile.circulate)));
  reader.read("standing", parse_duration, {"1 min", "30 d"}, profile.standing);
  reader.read("slowest_part", parse_duration, {"1 min", "24 h"}, profile.slowest_part);
}

void read_waivable(TableReader& reader, Profile& profile, Problems& problems) {
  const Array* list = nullptr;
  if (!reader.read_list("waivable", list))
    return;
  for (const Node& node : *list) {
    const auto* name = std::get_if<std::string>(&node.value);
    const auto check = name ? check_of(*name) : std::nullopt;
    if (check && may_ever_be_waived(*check))
      profile.waivable.insert(*check);
    else
      problems.error(
          node.at,
          fmt::format("'waivable': {} can be waived by nobody: what may stand here is {}",
                      name ? '"' + *name + '"' : std::string(kind_of(node)), all_waivable()));
  }
}

}  // namespace

Profile read_profile(const std::string& name, const Node& node, Problems& problems) {
  TableReader reader(node, known::profile, "profile." + name, problems);
  Profile profile;
  profile.name = name;
  read_salinity(reader, profile);
  // The salinity equation ends at 35 °C.
  reader.read_pair("temperature", parse_temperature, {"0 C", "35 C"}, profile.temperature_low,
                   profile.temperature_high);
  read_times(reader, profile);
  reader.read("still_to_dissolve", parse_salinity_difference, {"0.001 PSU", "5 PSU"},
              profile.still_to_dissolve);
  reader.read("risk", parse_share, {"0.001 %", "20 %"}, profile.risk);
  reader.read_word("dose", dose_words, profile.dose_required);
  reader.read("lot_required", profile.lot_required);
  read_waivable(reader, profile, problems);
  if (const Node* limits = reader.find("limits"))
    profile.limits =
        read_content_ranges(*limits, reader.where() + ".limits", profile.target, problems);
  if (const Node* tests = reader.find("hand_tests"))
    profile.hand_tests =
        read_content_ranges(*tests, reader.where() + ".hand_tests", profile.target, problems);
  if (profile.still_to_dissolve >= profile.tolerance)
    reader.error("still_to_dissolve",
                 fmt::format("'still_to_dissolve' would use up the whole tolerance: write less "
                             "than {}",
                             show(profile.tolerance)));
  return profile;
}

}  // namespace brinegate::config
