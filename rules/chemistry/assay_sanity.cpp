// SPDX-License-Identifier: Apache-2.0
#include "rules/chemistry/assay_sanity.h"

#include <algorithm>
#include <array>
#include <cmath>

#include "rules/seawater.h"

namespace brinegate {
namespace {

using enum Analyte;
using Kind = AssayFindingKind;

constexpr double charge_limit = 0.05;
constexpr double salinity_limit = 0.05;

constexpr double oxygen = 15.999;  // g/mol
constexpr double sulfate_of_sulfur = (32.06 + 4.0 * oxygen) / 32.06;
constexpr double calcium_carbonate = 40.078 + 12.011 + 3.0 * oxygen;  // g/mol

bool is_major(Analyte analyte) {
  return analyte_row(analyte).group == AnalyteGroup::MajorIon;
}

// Salt mixes have of a major ion what sea water has, times or divided by this. Strontium, bromine,
// boron and fluorine are often left out or bought with something else, alkalinity is made high and
// used up.
double usual_spread(Analyte major) {
  switch (major) {
    case Sodium:
    case Chlorine:
      return 1.35;
    case Magnesium:
    case Calcium:
    case Potassium:
    case Sulfur:
      return 1.6;
    default:
      return 2.6;
  }
}
// Less is never wrong of these.
bool may_be_left_out(Analyte major) {
  return major == Strontium || major == Bromine || major == Boron || major == Fluorine;
}

bool within(double factor, double value, double of) {
  return value >= of / factor && value <= of * factor;
}

struct Value {
  Analyte analyte;
  double content;
  double natural;  // at the sample's salinity; 0: not known

  [[nodiscard]] bool usual(double value) const {
    return within(usual_spread(analyte), value, natural);
  }
};

double natural_content(Analyte analyte, PracticalSalinity salinity) {
  return analyte_row(analyte).natural.value_or(0.0) * (salinity / composition_salinity);
}

// What was not found cannot be off.
std::vector<Value> measured_values(const Assay& assay, bool majors) {
  std::vector<Value> values;
  for (const auto& [analyte, value] : assay.values)
    if (is_major(analyte) == majors && !value.content.censored() && value.content.low >= 0.0)
      values.push_back({analyte, value.content.low, natural_content(analyte, assay.salinity)});
  return values;
}

class Findings {
 public:
  void add(AssayFinding finding) { findings_.push_back(finding); }
  void add(Kind kind, const Value& value, double factor) {
    add({kind, value.analyte, std::nullopt, value.content, value.natural, factor});
  }
  // A value has one explanation, the first.
  [[nodiscard]] bool explain(Analyte analyte) const {
    return std::any_of(findings_.begin(), findings_.end(), [&](const AssayFinding& finding) {
      return finding.analyte == analyte || finding.other == analyte;
    });
  }
  [[nodiscard]] bool upset_the_sums() const {
    return std::any_of(findings_.begin(), findings_.end(), [](const AssayFinding& finding) {
      return finding.analyte && is_major(*finding.analyte);
    });
  }
  [[nodiscard]] std::vector<AssayFinding> take() { return std::move(findings_); }

 private:
  std::vector<AssayFinding> findings_;
};

bool swapped(const Value& a, const Value& b) {
  return !a.usual(a.content) && !b.usual(b.content) && a.usual(b.content) && b.usual(a.content);
}

// Before slips of the unit: sodium over strontium is near enough to 1000 to be taken for two.
void find_swaps(const std::vector<Value>& majors, Findings& findings) {
  for (auto a = majors.begin(); a != majors.end(); ++a)
    for (auto b = a + 1; b != majors.end(); ++b)
      if (swapped(*a, *b))
        findings.add({Kind::BelongsToAnother, a->analyte, b->analyte, a->content, a->natural, 1.0});
}

std::optional<double> unit_slip_of_major(const Value& value) {
  for (const double factor : {1e-3, 1e3, 1e-6, 1e6})
    if (value.usual(factor * value.content))
      return factor;
  return std::nullopt;
}

std::optional<double> unit_slip_of_minor(const Value& value) {
  constexpr double far_off = 300.0;
  constexpr double never_so_high = 1.0;     // mg/kg
  constexpr double soundly_so_high = 0.05;  // mg/kg
  if (value.content > std::max(never_so_high, far_off * value.natural))
    return 1e-3 * value.content <= std::max(soundly_so_high, 10.0 * value.natural) ? 1e-3 : 1e-6;
  if (value.content < value.natural / far_off && within(3.0, 1e3 * value.content, value.natural))
    return 1e3;
  return std::nullopt;
}

void find_unit_slips(const std::vector<Value>& majors, const std::vector<Value>& minors,
                     Findings& findings) {
  for (const Value& value : majors)
    if (const auto factor = unit_slip_of_major(value); factor && !findings.explain(value.analyte))
      findings.add(Kind::UnitSlip, value, *factor);
  for (const Value& value : minors)
    if (value.analyte != Nitrogen)  // nitrate has no natural content and no bound in a tank
      if (const auto factor = unit_slip_of_minor(value))
        findings.add(Kind::UnitSlip, value, *factor);
}

struct Form {
  Analyte analyte;
  double to_element;
  double window;  // times or divided by, around what sea water has
};
// Boric acid is not among them: mixes that are buffered with it have as much boron.
constexpr std::array<Form, 7> forms = {{
    {Sulfur, 1.0 / sulfate_of_sulfur, 1.3},
    {Sulfur, sulfate_of_sulfur, 1.3},
    {Sodium, 22.990 / (22.990 + 35.45), 1.3},      // as salt
    {Calcium, 40.078 / calcium_carbonate, 1.3},    // as hardness
    {Magnesium, 24.305 / calcium_carbonate, 1.3},  // as hardness
    {Alkalinity, milliequivalents_per_german_degree, 2.2},
    {Alkalinity, 2.0 / calcium_carbonate, 2.2},
}};

void find_other_forms(const std::vector<Value>& majors, Findings& findings) {
  for (const Value& value : majors)
    for (const Form& form : forms)
      if (form.analyte == value.analyte && !value.usual(value.content) &&
          within(form.window, form.to_element * value.content, value.natural) &&
          !findings.explain(value.analyte))
        findings.add(Kind::ProbablyAnotherForm, value, form.to_element);
}

void find_impossible(const Assay& assay, Findings& findings) {
  const double all_salt = 1000.0 * reference_salinity(assay.salinity).value();
  for (const auto& [analyte, value] : assay.values) {
    const CensoredValue& content = value.content;
    const bool is_content = content.low >= 0.0 && std::isfinite(content.high);
    const bool fits_in = analyte == Alkalinity || content.low <= (1.0 + salinity_limit) * all_salt;
    if ((!is_content || !fits_in) && !findings.explain(analyte))
      findings.add(Kind::Impossible,
                   {analyte, content.middle(), natural_content(analyte, assay.salinity)}, 1.0);
  }
}

void find_far(const std::vector<Value>& majors, Findings& findings) {
  for (const Value& value : majors) {
    const double far = std::pow(usual_spread(value.analyte), 2.0);
    const bool high = value.content > far * value.natural;
    const bool low = value.content < value.natural / far && !may_be_left_out(value.analyte);
    if ((high || low) && !findings.explain(value.analyte))
      findings.add(Kind::FarFromSeaWater, value, 1.0);
  }
}

// Of the ions that an analyte stands for in sea water, per content (mg/kg; of alkalinity mg/mmol).
// Carbonate and boric acid in their forms as the Reference Composition has them (Millero et al.
// 2008, table 4): HCO3, CO3, CO2 and OH over alkalinity, B(OH)4 and B(OH)3 over boron.
double mass_of_ions(Analyte major) {
  switch (major) {
    case Sulfur:
      return sulfate_of_sulfur;
    case Alkalinity:
      return (104.81 + 14.34 + 0.42 + 0.14) / 2.304373531687;
    case Boron:
      return (7.95 + 19.44) / 4.487630225215;
    default:
      return 1.0;
  }
}

struct Sums {
  double cations = 0.0;  // mmol/kg of charge
  double anions = 0.0;
  double mass = 0.0;  // mg/kg

  void add(const AnalyteRow& row, double content) {
    (row.charge > 0 ? cations : anions) += std::abs(row.charge) * content / row.molar_mass;
    mass += mass_of_ions(row.analyte) * content;
  }
};

Sums sums(const Assay& assay, bool with_what_is_not_given) {
  Sums result;
  for (const AnalyteRow& row : analytes()) {
    if (!is_major(row.analyte))
      continue;
    const auto given = assay.values.find(row.analyte);
    if (given != assay.values.end())
      result.add(row, given->second.content.middle());
    else if (with_what_is_not_given && row.analyte != Chlorine)
      result.add(row, natural_content(row.analyte, assay.salinity));
  }
  return result;
}

void fill_sums(const Assay& assay, AssaySanity& sanity) {
  for (const Analyte analyte : {Sodium, Magnesium, Calcium, Potassium, Sulfur})
    if (!assay.values.contains(analyte))
      return;
  Sums all = sums(assay, true);
  const bool chlorine_given = assay.values.contains(Chlorine);
  if (!chlorine_given) {
    const AnalyteRow& chlorine = analyte_row(Chlorine);
    sanity.inferred_chlorine =
        std::max(0.0, all.cations - all.anions) * chlorine.molar_mass / std::abs(chlorine.charge);
    all.add(chlorine, *sanity.inferred_chlorine);
  }
  sanity.cations = all.cations;
  sanity.anions = all.anions;
  sanity.implied_salinity = ReferenceSalinity(all.mass / 1000.0);
  // Without chlorine there is a difference only where the anions are too many without it.
  if (chlorine_given || sanity.inferred_chlorine == 0.0)
    sanity.charge_balance = (all.cations - all.anions) / (all.cations + all.anions);
}

void judge_sums(const Assay& assay, const AssaySanity& sanity, Findings& findings) {
  const double stated = reference_salinity(assay.salinity).value();
  if (sanity.implied_salinity) {
    const double implied = sanity.implied_salinity->value();
    if (std::abs(implied - stated) > salinity_limit * stated)
      findings.add({Kind::SalinityDoesNotFit, std::nullopt, std::nullopt, implied, stated, 1.0});
  } else if (const double given = sums(assay, false).mass / 1000.0;
             given > (1.0 + salinity_limit) * stated) {
    findings.add({Kind::Impossible, std::nullopt, std::nullopt, given, stated, 1.0});
  }
  if (sanity.charge_balance && std::abs(*sanity.charge_balance) > charge_limit)
    findings.add({Kind::ChargesDoNotBalance, std::nullopt, std::nullopt, *sanity.charge_balance,
                  charge_limit, 1.0});
}

}  // namespace

AssaySanity assay_sanity(const Assay& assay) {
  const std::vector<Value> majors = measured_values(assay, true);
  Findings findings;
  find_swaps(majors, findings);
  find_unit_slips(majors, measured_values(assay, false), findings);
  find_other_forms(majors, findings);
  find_impossible(assay, findings);
  AssaySanity sanity;
  fill_sums(assay, sanity);
  if (!findings.upset_the_sums())
    judge_sums(assay, sanity, findings);
  find_far(majors, findings);
  sanity.findings = findings.take();
  return sanity;
}

}  // namespace brinegate
