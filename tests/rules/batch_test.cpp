// SPDX-License-Identifier: Apache-2.0
#include "rules/batch.h"

#include <gtest/gtest.h>

#include "rules/station_events.h"

namespace brinegate {
namespace {

SaltPortion portion(const std::string& lot, double weighed, double calcium,
                    double dry_fraction = 0.9) {
  SaltPortion result;
  result.salt = salt_of(lot).lot;
  result.salt.parts[0].version = 1;
  result.salt.composition.emplace()[Analyte::Calcium] = measured(calcium, 0.0);
  result.product.dry_fraction = dry_fraction;
  result.weighed = Grams(weighed);
  result.dry = result.weighed * dry_fraction;
  return result;
}

SaltPortion rest(const std::string& lot, double dry, double calcium) {
  SaltPortion result = portion(lot, 0.0, calcium);
  result.dry = Grams(dry);
  return result;
}

double calcium_of(const Batch& batch) {
  return (*batch.lots.composition)[Analyte::Calcium]->middle();
}

Batch batch_of(const std::vector<SaltPortion>& portions) {
  Batch batch;
  for (const SaltPortion& each : portions) {
    batch.salt_noted |= each.weighed > Grams(0.0);
    add_portion(batch, each);
  }
  return batch;
}

TEST(Batch, LotsCountByTheDrySaltThatTheyBrought) {
  const Batch batch =
      batch_of({portion("H-2291", 4000.0, 400.0, 0.75), portion("H-2304", 1000.0, 440.0, 1.0)});
  EXPECT_EQ(batch.lot, "H-2291 + H-2304");
  EXPECT_DOUBLE_EQ(batch.lots.parts[0].share, 0.75);
  EXPECT_DOUBLE_EQ(calcium_of(batch), 410.0);
  EXPECT_DOUBLE_EQ(batch.salt.value(), 5000.0);
  EXPECT_DOUBLE_EQ(batch.product.dry_fraction, 0.8) << "4 kg of the 5 kg are dry";
}

TEST(Batch, MoreOfALotCountsWithWhatThereIsOfIt) {
  const Batch batch = batch_of({portion("H-2291", 3000.0, 400.0), portion("H-2304", 1000.0, 440.0),
                                portion("H-2291", 1000.0, 400.0)});
  EXPECT_EQ(batch.portions.size(), 2U);
  EXPECT_DOUBLE_EQ(calcium_of(batch), 408.0);
}

TEST(Batch, ACorrectedWeightKeepsTheProportionsAndTheRest) {
  Batch batch = batch_of({rest("H-2250", 900.0, 500.0), portion("H-2291", 500.0, 400.0),
                          portion("H-2304", 500.0, 440.0)});
  EXPECT_DOUBLE_EQ(calcium_of(batch), 460.0);
  correct_weighed(batch, Grams(3000.0));
  EXPECT_DOUBLE_EQ(batch.salt.value(), 3000.0);
  EXPECT_DOUBLE_EQ(calcium_of(batch), 440.0);
}

TEST(Batch, OfALotThatWasNotWeighedOnlyWhatItHasInCommonWithTheRestIsKnown) {
  const Batch other = batch_of({rest("H-2250", 900.0, 500.0), portion("H-2291", 0.0, 400.0)});
  EXPECT_FALSE(other.lots.composition);
  EXPECT_EQ(other.lots.parts.size(), 2U);
  const Batch same = batch_of({rest("H-2291", 900.0, 400.0), portion("H-2291", 0.0, 400.0)});
  EXPECT_DOUBLE_EQ(calcium_of(same), 400.0);
  const Batch alone = batch_of({portion("H-2291", 0.0, 400.0)});
  EXPECT_DOUBLE_EQ(calcium_of(alone), 400.0);
}

}  // namespace
}  // namespace brinegate
