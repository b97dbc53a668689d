// SPDX-License-Identifier: Apache-2.0
#include "rules/chemistry/composition.h"

#include <array>

#include <gtest/gtest.h>

namespace brinegate {
namespace {

Composition calcium(CensoredValue content) {
  Composition composition;
  composition[Analyte::Calcium] = content;
  return composition;
}

TEST(Composition, ContentGoesWithSalinity) {
  const auto content =
      content_at(PracticalSalinity(17.5), calcium(measured(412.0, 8.0)), Analyte::Calcium);
  ASSERT_TRUE(content);
  EXPECT_DOUBLE_EQ(content->low, 206.0);
  EXPECT_DOUBLE_EQ(content->standard_uncertainty, 4.0);
}

TEST(Composition, WhatWasNotAnalysedIsAbsentAndNotZero) {
  EXPECT_FALSE(content_at(PracticalSalinity(35.0), calcium(measured(412.0, 8.0)), Analyte::Iron));
}

TEST(Composition, AMixtureHoldsTheMeanByMass) {
  const Composition one = calcium(measured(400.0, 0.0));
  const Composition other = calcium(measured(440.0, 0.0));
  const std::array<SaltShare, 2> salts{{{&one, 3.0}, {&other, 1.0}}};
  EXPECT_DOUBLE_EQ(mixture(salts)[Analyte::Calcium]->middle(), 410.0);
}

TEST(Composition, AMixtureKeepsBothExtremesOfACensoredPart) {
  const Composition one = calcium(measured(400.0, 0.0));
  const Composition other = calcium(below(10.0));
  const std::array<SaltShare, 2> salts{{{&one, 1.0}, {&other, 1.0}}};
  EXPECT_DOUBLE_EQ(mixture(salts)[Analyte::Calcium]->low, 200.0);
  EXPECT_DOUBLE_EQ(mixture(salts)[Analyte::Calcium]->high, 205.0);
}

TEST(Composition, WhatOnePartDoesNotNameIsNotKnownOfTheMixture) {
  const Composition one = calcium(measured(400.0, 0.0));
  const Composition other;
  const std::array<SaltShare, 2> salts{{{&one, 1.0}, {&other, 1.0}}};
  EXPECT_TRUE(mixture(salts).empty());
  const std::array<SaltShare, 2> only_one{{{&one, 1.0}, {&other, 0.0}}};
  EXPECT_EQ(mixture(only_one), one);
}

}  // namespace
}  // namespace brinegate
