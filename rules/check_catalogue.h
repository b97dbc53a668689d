// SPDX-License-Identifier: Apache-2.0
// The catalogue of checks: one row each. The order is that of CheckId.
#pragma once

#include <array>
#include <optional>
#include <string_view>

#include "rules/check.h"

namespace brinegate {

enum class CheckUnit { None, Psu, PsuPerCelsius, DegreesCelsius, VolumeLitres, Seconds };

struct CheckRow {
  CheckId id;
  std::string_view name;         // stable, in JSON and topics
  std::string_view title;        // for people
  std::string_view requirement;  // of safety that it serves
  bool proves;                   // part of the batch's proof, not only of the gate
  CheckUnit unit;
  CheckResult (*evaluate)(const Round& round);
};

const std::array<CheckRow, check_count>& check_catalogue();
const CheckRow& check_row(CheckId id);

// Every check, every round: what each answers, in catalogue order.
std::array<CheckResult, check_count> evaluate_checks(const Round& round);

constexpr bool lets_through(Verdict verdict) {
  return verdict >= Verdict::NotAsked;
}
// By itself or by a waiver (S8).
inline bool lets_through(const CheckResult& check) {
  return lets_through(check.verdict) || check.waived;
}

}  // namespace brinegate
