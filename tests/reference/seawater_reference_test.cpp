// SPDX-License-Identifier: Apache-2.0
// Sea water against published check values and tables computed with the TEOS-10 toolbox. Each row
// of tests/reference/data names its own source; each test counts the rows it used.
#include <algorithm>
#include <cmath>
#include <stdexcept>
#include <string>
#include <utility>

#include <gtest/gtest.h>

#include "rules/seawater.h"
#include "tests/reference/csv.h"

namespace brinegate {
namespace {

using reference::Row;
using reference::table;

constexpr double conductivity_of_35_at_15 = 42.914;  // mS/cm, Culkin & Smith 1980

Celsius temperature(const Row& row) {
  return Celsius(row.number("t90_degC"));
}
PracticalSalinity salinity(const Row& row) {
  return PracticalSalinity(row.number("SP"));
}
MilliSiemensPerCm conductivity_column(const Row& row) {
  return MilliSiemensPerCm(row.number("C_mS_cm"));
}
double relative_error(double got, double expected) {
  return std::abs(got / expected - 1.0);
}

TEST(SeawaterReference, SalinityFollowsFromConductivityTo1e9) {
  int rows = 0;
  for (const Row& row : table("conductivity_to_sp.csv")) {
    const PracticalSalinity got = practical_salinity(conductivity_column(row), temperature(row));
    EXPECT_NEAR(got.value(), row.number("SP"), 1e-9)
        << row.text("C_mS_cm") << " mS/cm at " << row.text("t90_degC") << " °C";
    ++rows;
  }
  EXPECT_EQ(rows, 1584);
}

// The columns are complex-step derivatives of an independent implementation, exact to 1e-14.
TEST(SeawaterReference, SensitivitiesAreTheDerivativesOfSalinity) {
  int rows = 0;
  for (const Row& row : table("conductivity_to_sp.csv")) {
    const SalinitySensitivity got =
        salinity_sensitivity(conductivity_column(row), temperature(row));
    EXPECT_LT(relative_error(got.per_millisiemens_per_cm, row.number("dSP_dC")), 1e-10);
    EXPECT_LT(relative_error(got.per_celsius, row.number("dSP_dt")), 1e-10);
    ++rows;
  }
  EXPECT_EQ(rows, 1584);
}

TEST(SeawaterReference, TemperaturesAreConvertedToTheScaleOfTheEquations) {
  int telling = 0;
  for (const Row& row : table("conductivity_to_sp.csv")) {
    const double wrong = row.number("SP_if_t68_ignored");
    if (std::abs(wrong - row.number("SP")) < 1e-6)
      continue;
    const PracticalSalinity got = practical_salinity(conductivity_column(row), temperature(row));
    EXPECT_GT(std::abs(got.value() - wrong), 1e-7);
    ++telling;
  }
  EXPECT_EQ(telling, 1584);
}

TEST(SeawaterReference, ConductivityFollowsFromSalinityTo1e10) {
  int rows = 0;
  for (const Row& row : table("sp_to_conductivity.csv")) {
    EXPECT_NEAR(conductivity(salinity(row), temperature(row)).value(), row.number("C_mS_cm"), 1e-10)
        << "SP " << row.text("SP") << " at " << row.text("t90_degC") << " °C";
    ++rows;
  }
  EXPECT_EQ(rows, 936);
}

// Conductivity of a check row, from whichever of C, R and Rt it gives.
MilliSiemensPerCm conductivity_of_check(const Row& row) {
  if (row.has("C_mS_cm"))
    return conductivity_column(row);
  if (row.has("R"))
    return MilliSiemensPerCm(row.number("R") * conductivity_of_35_at_15);
  // Rt is the ratio to SP 35 at the same temperature.
  return row.number("Rt") * conductivity(PracticalSalinity(35.0), temperature(row));
}

double check_value(const Row& row) {
  const std::string& quantity = row.text("quantity");
  if (quantity == "SP")
    return practical_salinity(conductivity_of_check(row), temperature(row)).value();
  if (quantity == "C")
    return conductivity(salinity(row), temperature(row)).value();
  if (quantity == "R")
    return conductivity(salinity(row), temperature(row)).value() / conductivity_of_35_at_15;
  if (quantity == "rt35")
    return conductivity(PracticalSalinity(35.0), temperature(row)).value() /
           conductivity_of_35_at_15;
  throw std::runtime_error("unknown quantity " + quantity);
}

// Left out: rows under pressure (there is none in a reservoir) and the one row whose stored copy is
// a misprint (use=no).
TEST(SeawaterReference, AgreesWithPublishedPss78CheckValues) {
  int used = 0;
  int under_pressure = 0;
  int misprints = 0;
  for (const Row& row : table("pss78_checks.csv")) {
    if (row.text("use") != "yes") {
      ++misprints;
    } else if (row.number("p_dbar") != 0.0) {
      ++under_pressure;
    } else {
      EXPECT_NEAR(check_value(row), row.number("published_value"), row.number("tolerance"))
          << row.text("id") << ", " << row.text("source");
      ++used;
    }
  }
  EXPECT_EQ(used, 11);
  EXPECT_EQ(under_pressure, 20);
  EXPECT_EQ(misprints, 1);
}

TEST(SeawaterReference, DensityIsThatOfTeos10) {
  int rows = 0;
  for (const Row& row : table("density_sg.csv")) {
    const double got = density(salinity(row), temperature(row)).value();
    const double expected = row.number("rho_teos10_kg_m3");
    EXPECT_NEAR(got, expected, 1e-8);
    EXPECT_LT(relative_error(got, expected), 1e-9);
    EXPECT_NEAR(reference_salinity(salinity(row)).value(), row.number("SR_g_kg"), 1e-12);
    ++rows;
  }
  EXPECT_EQ(rows, 828);
}

// Two equations of state, not an error of either: the bounds are what the tables differ by.
TEST(SeawaterReference, DensityStaysWithinTheKnownDistanceToEos80) {
  int rows = 0;
  double largest = 0.0;
  for (const Row& row : table("density_sg.csv")) {
    const double distance =
        std::abs(density(salinity(row), temperature(row)).value() - row.number("rho_eos80_kg_m3"));
    EXPECT_LE(distance, 0.0083);
    largest = std::max(largest, distance);
    ++rows;
  }
  EXPECT_EQ(rows, 828);
  EXPECT_GT(largest, 0.0080);  // or it would be EOS-80
}

TEST(SeawaterReference, SpecificGravityAtItsTemperaturesAgreesWithBothEquationsOfState) {
  struct Gravity {
    const char* teos10;
    const char* eos80;
    double distance;  // by which the two equations of state differ
    double reference;
    bool at_row_temperature;
  };
  const Gravity gravities[] = {{"sg2020_teos10", "sg2020_eos80", 4.1e-6, 20.0, false},
                               {"sg2525_teos10", "sg2525_eos80", 4.4e-6, 25.0, false},
                               {"sgt4_teos10", "sgt4_eos80", 8.5e-6, 4.0, true}};
  int used = 0;
  for (const Row& row : table("density_sg.csv")) {
    for (const Gravity& g : gravities) {
      const GravityTemperatures t{g.at_row_temperature ? temperature(row) : Celsius(g.reference),
                                  Celsius(g.reference)};
      const double got = specific_gravity(salinity(row), t);
      EXPECT_NEAR(got, row.number(g.teos10), 1e-11);
      EXPECT_NEAR(got, row.number(g.eos80), g.distance);
      EXPECT_NEAR(salinity_of_gravity(row.number(g.teos10), t).value(), row.number("SP"), 1e-9);
      ++used;
    }
  }
  EXPECT_EQ(used, 3 * 828);
}

// Left out: TEOS-10 examples, all under pressure, and compressibilities. What is left are EOS-80
// densities and volume anomalies at one atmosphere, met within the distance of the two equations.
TEST(SeawaterReference, PublishedDensitiesAtOneAtmosphereAreMetWithinTheDistanceOfTheEquations) {
  int densities = 0;
  int anomalies = 0;
  int left_out = 0;
  for (const Row& row : table("density_checks.csv")) {
    const std::string& quantity = row.text("quantity");
    if (row.text("use") != "yes" || row.number("p_dbar") != 0.0 || quantity == "K_bar") {
      ++left_out;
      continue;
    }
    const double rho = density(PracticalSalinity(row.number("S")), temperature(row)).value();
    if (quantity == "rho_kg_m3") {
      EXPECT_NEAR(rho, row.number("published_value"), 0.0083) << row.text("id");
      ++densities;
    } else if (quantity == "svan_1e-8_m3_kg") {
      const double sea = density(PracticalSalinity(35.0), Celsius(0.0)).value();
      // 0.0083 kg/m³ twice, as a volume.
      EXPECT_NEAR(1e8 / rho - 1e8 / sea, row.number("published_value"), 2.0 * 0.0083e8 / 1e6)
          << row.text("id");
      ++anomalies;
    } else {
      ADD_FAILURE() << "unknown quantity " << quantity;
    }
  }
  EXPECT_EQ(densities, 4);
  EXPECT_EQ(anomalies, 4);
  EXPECT_EQ(left_out, 23);
}

LinearCompensation compensation(double percent) {
  return {Celsius(25.0), percent / 100.0};
}

TEST(SeawaterReference, LinearCompensationIsAppliedAndUndone) {
  int rows = 0;
  for (const Row& row : table("compensated_conductivity.csv")) {
    const LinearCompensation c = compensation(row.number("alpha_pct_per_degC"));
    const MilliSiemensPerCm shown(row.number("C25_shown_mS_cm"));
    const MilliSiemensPerCm in_situ = uncompensated(shown, temperature(row), c);
    EXPECT_NEAR(in_situ.value(), row.number("C_mS_cm"), 1e-12 * row.number("C_mS_cm"));
    EXPECT_NEAR(compensated(conductivity_column(row), temperature(row), c).value(), shown.value(),
                1e-12 * shown.value());
    EXPECT_NEAR(practical_salinity(in_situ, temperature(row)).value(), row.number("SP"), 1e-9);
    EXPECT_NEAR(practical_salinity(shown, Celsius(25.0)).value(), row.number("SP_naive"), 1e-9);
    ++rows;
  }
  EXPECT_EQ(rows, 1170);
}

// What it costs to read a compensated display as the conductivity of sea water at 25 °C.
TEST(SeawaterReference, ReadingACompensatedDisplayNaivelyIsWrongByTheTabulatedError) {
  int rows = 0;
  for (const Row& row : table("compensated_error_table.csv")) {
    const MilliSiemensPerCm in_situ = conductivity(salinity(row), temperature(row));
    for (const auto& [alpha, column] : {std::pair{1.9, "error_alpha_1p9_psu"},
                                        {2.0, "error_alpha_2p0_psu"},
                                        {2.1, "error_alpha_2p1_psu"}}) {
      const MilliSiemensPerCm shown = compensated(in_situ, temperature(row), compensation(alpha));
      const PracticalSalinity naive = practical_salinity(shown, Celsius(25.0));
      EXPECT_NEAR((naive - salinity(row)).value(), row.number(column), 1e-9);
    }
    ++rows;
  }
  EXPECT_EQ(rows, 54);
}

// The sea water rows only: PSS-78 does not describe potassium chloride.
TEST(SeawaterReference, CalibrationStandardsOfSeaWaterHaveTheirConductivity) {
  int rows = 0;
  for (const Row& row : table("kcl_standards.csv")) {
    if (row.text("amount_unit") != "SP" || row.text("use") != "yes")
      continue;
    ASSERT_EQ(row.text("t_scale"), "ITS-90");
    const PracticalSalinity sp(row.number("amount"));
    const Celsius t(row.number("t_degC"));
    EXPECT_NEAR(conductivity(sp, t).value(), row.number("kappa_mS_cm"), 1e-10) << row.text("id");
    ++rows;
  }
  EXPECT_EQ(rows, 5);
}

}  // namespace
}  // namespace brinegate
