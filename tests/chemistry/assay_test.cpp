// SPDX-License-Identifier: Apache-2.0
#include "rules/chemistry/assay.h"

#include <cmath>

#include <gtest/gtest.h>

namespace brinegate {
namespace {

TEST(Assay, ContentPerLitreGoesByTheDensityOfTheSample) {
  // TEOS-10: 1.0233436 kg/L at SP 35 and 25 °C; pure water at 4 °C 0.99997 kg/L (IAPWS-95).
  EXPECT_NEAR(content_of_per_litre(421.699, PracticalSalinity(35.0), Celsius(25.0)), 412.08, 1e-3);
  EXPECT_NEAR(content_of_per_litre(421.0, PracticalSalinity(0.0), Celsius(4.0)), 421.01, 3e-3);
}

TEST(Assay, PerLitreAndBackIsTheSame) {
  for (const double salinity : {5.0, 17.5, 35.0, 40.0})
    for (const double temperature : {4.0, 20.0, 30.0}) {
      const PracticalSalinity sp(salinity);
      const Celsius t(temperature);
      EXPECT_DOUBLE_EQ(content_of_per_litre(per_litre_of_content(412.0, sp, t), sp, t), 412.0);
    }
}

TEST(Assay, ReplicatesKnowTheirMeanByTheirScatter) {
  // JCGM 100, 4.2.3: s = 20, over the square root of 4.
  const double spread = 10.0 * std::sqrt(3.0);
  const CensoredValue mean =
      content_of_replicates({400.0 - spread, 400.0 - spread, 400.0 + spread, 400.0 + spread}, 0.03);
  EXPECT_DOUBLE_EQ(mean.middle(), 400.0);
  EXPECT_FALSE(mean.censored());
  EXPECT_NEAR(mean.standard_uncertainty, 10.0, 1e-12);
}

TEST(Assay, ReplicatesThatAgreeAreStillNoBetterThanHalfAnAnalysis) {
  EXPECT_DOUBLE_EQ(content_of_replicates({400.0, 400.0, 400.0}, 0.03).standard_uncertainty, 6.0);
}

TEST(Assay, CompositionIsWhatTheSampleComesToAtSeaSalinity) {
  Assay assay;
  assay.salinity = PracticalSalinity(17.5);
  assay.values[Analyte::Calcium].content = measured(206.0, 2.0);
  assay.values[Analyte::Lead].content = below(0.001);
  EXPECT_EQ(contents(assay)[Analyte::Calcium], measured(206.0, 2.0));
  EXPECT_EQ(composition_of(assay)[Analyte::Calcium], measured(412.0, 4.0));
  EXPECT_EQ(composition_of(assay)[Analyte::Lead], below(0.002));
  EXPECT_FALSE(composition_of(assay)[Analyte::Iron]);
}

}  // namespace
}  // namespace brinegate
