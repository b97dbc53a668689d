// SPDX-License-Identifier: Apache-2.0
#include "daemon/record_chain.h"

#include <gtest/gtest.h>

#include "daemon/store_tables.h"
#include "tests/temporary_folder.h"

namespace brinegate::daemon {
namespace {

RecordEntry entry(int number) {
  return {WallTime(std::chrono::seconds(number)), "mixer", "noted",
          R"({"salt_g":)" + std::to_string(number) + "}"};
}

class RecordChain : public testing::Test {
 protected:
  RecordChain() {
    RecordWriter writer = RecordWriter::open(folder_.path()).value();
    EXPECT_TRUE(writer.append({1, {entry(1), entry(2)}, {}}).ok());
    EXPECT_TRUE(writer.append({2, {entry(3)}, {}}).ok());
  }
  ChainVerdict verdict(const std::string& looked_for = "") {
    const auto found = verify_chain(folder_.path(), looked_for);
    EXPECT_TRUE(found.ok());
    return *found;
  }
  // As somebody with a general-purpose tool would.
  void tamper(const std::string& sql) {
    Connection database =
        Connection::open(database_file(folder_.path()), Connection::Access::ReadWriteCreate)
            .value();
    const auto done = database.execute(
        "DROP TRIGGER record_not_updated; DROP TRIGGER record_not_deleted; " + sql);
    ASSERT_TRUE(done.ok()) << done.error().message;
  }

  TemporaryFolder folder_;
};

// The digest of these bytes by another program: printf '\n1000000000\nmixer\nnoted\n{"salt_g":1}' |
// sha256sum
TEST_F(RecordChain, IsTheSha256OfTheHashBeforeAndTheEntry) {
  EXPECT_EQ(chain_hash("", entry(1)),
            "9b7acf0c9cc36a5692201d2e549940c29e510aa523b5a6efacb2a819ec4043c0");
}

TEST_F(RecordChain, HoldsAcrossAppendsAndRestarts) {
  EXPECT_EQ(verdict().entries, 3);
  EXPECT_EQ(verdict().broken, std::nullopt);
  RecordWriter writer = RecordWriter::open(folder_.path()).value();
  ASSERT_TRUE(writer.append({3, {entry(4)}, {}}).ok());
  EXPECT_EQ(verdict().entries, 4);
  EXPECT_EQ(verdict().broken, std::nullopt);
}

TEST_F(RecordChain, ShowsAnEntryThatWasAltered) {
  tamper("UPDATE record SET body = '{\"salt_g\":9}' WHERE seq = 2");
  EXPECT_EQ(verdict().broken, 2);
}

TEST_F(RecordChain, ShowsThatAnEntryIsMissingWhereTheNextOneStands) {
  tamper("DELETE FROM record WHERE seq = 2");
  EXPECT_EQ(verdict().broken, 3);
}

TEST_F(RecordChain, ShowsThatEntriesChangedPlaces) {
  tamper(
      "UPDATE record SET seq = -1 WHERE seq = 1; UPDATE record SET seq = 1 WHERE seq = 2; "
      "UPDATE record SET seq = 2 WHERE seq = -1;");
  EXPECT_EQ(verdict().broken, 1);
}

TEST_F(RecordChain, NoLongerHoldsAHashThatWasPrintedBeforeTheEndWasCutOff) {
  const std::string printed = verdict().last;
  EXPECT_EQ(verdict(printed).sought, 3);
  tamper("DELETE FROM record WHERE seq = 3");
  EXPECT_EQ(verdict(printed).broken, std::nullopt);
  EXPECT_EQ(verdict(printed).sought, std::nullopt);
}

TEST_F(RecordChain, GoesOnAfterAnAppendThatFailed) {
  RecordWriter writer = RecordWriter::open(folder_.path()).value();
  tamper(
      "CREATE TRIGGER no BEFORE INSERT ON record WHEN new.kind = 'bad' "
      "BEGIN SELECT RAISE(ABORT, 'no'); END");
  RecordEntry bad = entry(5);
  bad.kind = "bad";
  EXPECT_FALSE(writer.append({3, {entry(4), bad}, {}}).ok());
  EXPECT_TRUE(writer.append({4, {entry(6)}, {}}).ok());
  EXPECT_EQ(verdict().entries, 4);
  EXPECT_EQ(verdict().broken, std::nullopt);
}

}  // namespace
}  // namespace brinegate::daemon
