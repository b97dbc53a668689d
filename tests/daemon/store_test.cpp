// SPDX-License-Identifier: Apache-2.0
// What the store promises: acknowledged is durable, the record only grows, a failing disk is said
// and survived, one daemon a folder (S7, S11).
#include "daemon/store.h"

#include <csignal>
#include <fstream>
#include <future>
#include <map>
#include <mutex>
#include <set>

#include <gmock/gmock.h>
#include <gtest/gtest.h>
#include <sys/resource.h>

#include "daemon/record_view.h"
#include "tests/daemon/child_process.h"
#include "tests/temporary_folder.h"

namespace brinegate::daemon {
namespace {

using ::testing::ElementsAre;
using ::testing::HasSubstr;
using ::testing::IsEmpty;
using ::testing::SizeIs;

using Days = std::chrono::duration<std::int64_t, std::ratio<86400>>;

// Collects answers; wait_for() returns once that ticket was answered.
class Answers {
 public:
  Store::Answered collector() {
    return [this](const StoreAnswer& answer) {
      {
        const std::lock_guard guard(mutex_);
        answers_.emplace(answer.ticket, answer);
      }
      changed_.notify_all();
    };
  }
  StoreAnswer wait_for(std::uint64_t ticket) {
    std::unique_lock guard(mutex_);
    changed_.wait(guard, [&] { return answers_.count(ticket) > 0; });
    return answers_.at(ticket);
  }

 private:
  std::mutex mutex_;
  std::condition_variable changed_;
  std::map<std::uint64_t, StoreAnswer> answers_;
};

std::unique_ptr<Store> open_store(const std::filesystem::path& data, Store::Answered answered,
                                  StoreOptions options = {}) {
  Result<std::unique_ptr<Store>> store = Store::open(data, std::move(answered), options);
  EXPECT_TRUE(store.ok()) << store.error().message;
  return std::move(store).value();
}

WallTime day(std::int64_t number) {
  return WallTime(Days(number));
}

RecordEntry entry(const std::string& kind, const std::string& body = "{}",
                  const std::string& station = "mixer") {
  return {day(20000), station, kind, body};
}

Append append_of(std::uint64_t ticket, std::size_t body_size = 2) {
  return {ticket, {entry("note", std::string(body_size, 'x'))}, {}};
}

std::vector<std::string> recorded_kinds(const std::filesystem::path& data,
                                        const RecordQuery& query) {
  const auto rows = query_record(data, query);
  EXPECT_TRUE(rows.ok());
  std::vector<std::string> kinds;
  for (const RecordRow& row : *rows) {
    kinds.push_back(row.entry.kind);
  }
  return kinds;
}

Connection open_database(const std::filesystem::path& data) {
  return Connection::open(database_file(data), Connection::Access::ReadWriteCreate).value();
}

std::int64_t count(const std::filesystem::path& data, const std::string& rows) {
  return *open_database(data).query_integer("SELECT count(*) FROM " + rows);
}

TEST(Store, GivesBackTheLatestStatesAfterARestart) {
  const TemporaryFolder folder;
  {
    Answers answers;
    const auto store = open_store(folder.path(), answers.collector());
    EXPECT_THAT(store->restored(), IsEmpty());
    store->append({1, {}, {{"batch", "b1", "mixer", R"({"phase":"mixing"})"}}});
    store->append(
        {2,
         {},
         {{"batch", "b1", "mixer", R"({"phase":"proven"})"}, {"station", "mixer", "mixer", "{}"}}});
    EXPECT_TRUE(answers.wait_for(2).ok);
  }
  Answers answers;
  const auto store = open_store(folder.path(), answers.collector());
  ASSERT_THAT(store->restored(), SizeIs(2));
  EXPECT_EQ(store->restored()[0].key, "b1");
  EXPECT_EQ(store->restored()[0].body, R"({"phase":"proven"})");
  EXPECT_EQ(store->restored()[1].table, "station");
}

TEST(Store, KeepsAStateNoLongerWhoseBodyIsEmpty) {
  const TemporaryFolder folder;
  Answers answers;
  const auto store = open_store(folder.path(), answers.collector());
  store->append({1, {}, {{"request", "mixer/1", "mixer", "{}"}, {"batch", "1", "mixer", "{}"}}});
  store->append({2, {}, {{"request", "mixer/1", "", ""}, {"request", "mixer/2", "mixer", "{}"}}});
  ASSERT_TRUE(answers.wait_for(2).ok);
  const auto states = query_states(folder.path(), "", "");
  ASSERT_TRUE(states.ok());
  ASSERT_THAT(*states, SizeIs(2));
  EXPECT_EQ((*states)[0].table, "batch");
  EXPECT_EQ((*states)[1].key, "mixer/2");
}

TEST(Store, WritesWhatIsQueuedBeforeItCloses) {
  const TemporaryFolder folder;
  Answers answers;
  const auto store = open_store(folder.path(), answers.collector());
  for (std::uint64_t ticket = 1; ticket <= 100; ++ticket) {
    store->append(append_of(ticket));
  }
  store->close();
  EXPECT_EQ(count(folder.path(), "record"), 100);
  store->append(append_of(101));
  EXPECT_FALSE(answers.wait_for(101).ok);
}

TEST(Store, AnswersTheRecordByStationKindAndNumberWhileItRunsAndAfter) {
  const TemporaryFolder folder;
  Answers answers;
  auto store = open_store(folder.path(), answers.collector());
  store->append({1, {entry("batch-begun"), entry("proven"), entry("alarm", "{}", "other")}, {}});
  store->append({2, {entry("shut"), entry("alarm", R"({"id":"leak"})")}, {}});
  ASSERT_TRUE(answers.wait_for(2).ok);
  for (const bool running : {true, false}) {
    SCOPED_TRACE(running);
    if (!running) {
      store.reset();
    }
    EXPECT_THAT(recorded_kinds(folder.path(), {}),
                ElementsAre("batch-begun", "proven", "alarm", "shut", "alarm"));
    EXPECT_THAT(recorded_kinds(folder.path(), {"mixer", {}, 2}), ElementsAre("shut", "alarm"));
    EXPECT_THAT(recorded_kinds(folder.path(), {"", {"alarm", "proven"}, 100}),
                ElementsAre("proven", "alarm", "alarm"));
    const auto alarms = query_record(folder.path(), {"mixer", {"alarm"}, 100});
    ASSERT_THAT(*alarms, SizeIs(1));
    EXPECT_EQ((*alarms)[0].entry.body, R"({"id":"leak"})");
    EXPECT_EQ((*alarms)[0].entry.at, day(20000));
  }
}

TEST(Store, FindsAllOfABatchHoweverMuchCameAfter) {
  const TemporaryFolder folder;
  Append years{1, {}, {}};
  const WallTime at{};
  years.entries.push_back({at, "mixer", "batch-begun", R"({"id":"b1"})"});
  years.entries.push_back({at, "mixer", "noted", R"({"batch":"b1","text":"about b2"})"});
  years.entries.push_back({at, "mixer", "noted", R"({"batch":"b2","text":"as b1"})"});
  for (int i = 0; i < 100'000; ++i) {
    years.entries.push_back({at, "mixer", "noted", R"({"batch":"b2","text":"more"})"});
  }
  Answers answers;
  const auto store = open_store(folder.path(), answers.collector());
  store->append(std::move(years));
  ASSERT_TRUE(answers.wait_for(1).ok);
  const auto rows = query_batch(folder.path(), "mixer", "b1");
  ASSERT_TRUE(rows.ok());
  ASSERT_THAT(*rows, SizeIs(2));
  EXPECT_EQ((*rows)[0].entry.kind, "batch-begun");
  EXPECT_EQ((*rows)[1].entry.body, R"({"batch":"b1","text":"about b2"})");
}

TEST(Store, SaysWhereNoDaemonHasRun) {
  const TemporaryFolder folder;
  const auto rows = query_record(folder.path(), {});
  ASSERT_FALSE(rows.ok());
  EXPECT_THAT(rows.error().message, HasSubstr("has not run"));
  EXPECT_THAT(std::filesystem::directory_iterator(folder.path()),
              std::filesystem::directory_iterator());
}

TEST(Store, RefusesToChangeOrDeleteWhatIsRecorded) {
  const TemporaryFolder folder;
  Answers answers;
  const auto store = open_store(folder.path(), answers.collector());
  store->append(append_of(1));
  ASSERT_TRUE(answers.wait_for(1).ok);
  Connection other = open_database(folder.path());
  for (const char* sql : {"DELETE FROM record", "UPDATE record SET kind = 'other'"}) {
    const Result<Done> changed = other.execute(sql);
    ASSERT_FALSE(changed.ok());
    EXPECT_THAT(changed.error().message, HasSubstr("append-only"));
  }
}

TEST(Store, WritesAnAppendWholeOrNotAtAll) {
  const TemporaryFolder folder;
  Answers answers;
  const auto store = open_store(folder.path(), answers.collector());
  // A trigger that refuses one of the rows stands for any failure half-way.
  ASSERT_TRUE(open_database(folder.path())
                  .execute("CREATE TRIGGER fault BEFORE INSERT ON state WHEN new.key = 'bad' "
                           "BEGIN SELECT RAISE(ABORT, 'injected'); END")
                  .ok());
  store->append(
      {1, {entry("proven")}, {{"batch", "b1", "mixer", "{}"}, {"batch", "bad", "mixer", "{}"}}});
  const StoreAnswer failed = answers.wait_for(1);
  EXPECT_FALSE(failed.ok);
  EXPECT_THAT(failed.error, HasSubstr("injected"));
  EXPECT_EQ(count(folder.path(), "record"), 0);
  EXPECT_EQ(count(folder.path(), "state"), 0);
  store->append(append_of(2));
  EXPECT_TRUE(answers.wait_for(2).ok);
}

// Writes as fast as it can and tells the pipe each acknowledged ticket.
int write_until_killed(const std::filesystem::path& data, int pipe_end) {
  const auto store = open_store(data, [pipe_end](const StoreAnswer& answer) {
    if (answer.ok) {
      write_number(pipe_end, answer.ticket);
    }
  });
  for (std::uint64_t ticket = 1;; ++ticket) {
    Append append = append_of(ticket, 200);
    append.entries[0].body = std::to_string(ticket);
    append.states.push_back({"batch", "b1", "mixer", std::to_string(ticket)});
    store->append(std::move(append));
    store->append_readings({ticket, {{"mixer", "cell_a", day(20000), Quality::Good, 53.0}}});
    if (ticket % 64 == 0) {
      std::this_thread::yield();
    }
  }
}

TEST(Store, KilledWhileWritingLosesNothingAcknowledged) {
  for (const int acknowledged_before : {1, 7, 60, 300}) {
    SCOPED_TRACE(acknowledged_before);
    const TemporaryFolder folder;
    std::set<std::string> acknowledged;
    {
      ChildProcess child([&](int end) { return write_until_killed(folder.path(), end); });
      for (int i = 0; i < acknowledged_before; ++i) {
        acknowledged.insert(std::to_string(child.read_number().value()));
      }
      child.kill_and_wait();
      while (const auto last = child.read_number()) {
        acknowledged.insert(std::to_string(*last));
      }
    }
    const auto rows = query_record(folder.path(), {"", {}, 1000000});
    ASSERT_TRUE(rows.ok()) << rows.error().message;
    std::set<std::string> recorded;
    for (const RecordRow& row : *rows) {
      recorded.insert(row.entry.body);
    }
    EXPECT_TRUE(
        std::includes(recorded.begin(), recorded.end(), acknowledged.begin(), acknowledged.end()));
    Answers answers;
    const auto store = open_store(folder.path(), answers.collector());
    EXPECT_EQ(store->restored().at(0).body, rows->back().entry.body);
    Statement check = open_database(folder.path()).prepare("PRAGMA quick_check");
    ASSERT_TRUE(*check.step());
    EXPECT_EQ(check.text(0), "ok");
  }
}

// The limit on a file's size stands for a disk that is full: the write fails in the same place.
int fill_the_disk_and_free_it(const std::filesystem::path& data) {
  std::signal(SIGXFSZ, SIG_IGN);
  Answers answers;
  const auto store = open_store(data, answers.collector());
  store->append(append_of(1));
  if (!answers.wait_for(1).ok) {
    return 1;
  }
  rlimit limit{};
  getrlimit(RLIMIT_FSIZE, &limit);
  const rlim_t unlimited = limit.rlim_cur;
  limit.rlim_cur = 256 * 1024;
  setrlimit(RLIMIT_FSIZE, &limit);
  store->append(append_of(2, 1024 * 1024));
  store->append(append_of(3, 1024 * 1024));
  const StoreAnswer full = answers.wait_for(3);
  if (answers.wait_for(2).ok || full.ok || full.error.empty()) {
    return 2;
  }
  limit.rlim_cur = unlimited;
  setrlimit(RLIMIT_FSIZE, &limit);
  store->append(append_of(4, 1024 * 1024));
  return answers.wait_for(4).ok ? 0 : 3;
}

TEST(Store, FullDiskIsSaidAndTheNextAppendIsTriedAgain) {
  const TemporaryFolder folder;
  ChildProcess child([&](int) { return fill_the_disk_and_free_it(folder.path()); });
  EXPECT_EQ(child.wait_for_end(), 0);
  EXPECT_EQ(count(folder.path(), "record"), 2);
}

TEST(Store, DeletedDatabaseIsSaidInsteadOfWrittenToNowhere) {
  const TemporaryFolder folder;
  Answers answers;
  const auto store = open_store(folder.path(), answers.collector());
  std::filesystem::remove(database_file(folder.path()));
  store->append(append_of(1));
  EXPECT_FALSE(answers.wait_for(1).ok);
  EXPECT_THAT(answers.wait_for(1).error, HasSubstr("deleted or replaced"));
}

TEST(Store, MoreThanTheQueueHoldsIsRefusedAtOnce) {
  const TemporaryFolder folder;
  Answers answers;
  std::promise<void> disk_returns;
  const auto hold = disk_returns.get_future().share();
  const auto store =
      open_store(folder.path(),
                 [&, collect = answers.collector()](const StoreAnswer& answer) {
                   collect(answer);
                   if (answer.ticket == 1) {
                     hold.wait();  // the store's thread stands still, as on a disk that hangs
                   }
                 },
                 {.history = {}, .queue_limit = 2});
  store->append(append_of(1));
  ASSERT_TRUE(answers.wait_for(1).ok);
  for (std::uint64_t ticket = 2; ticket <= 4; ++ticket) {
    store->append(append_of(ticket));
  }
  const StoreAnswer refused = answers.wait_for(4);
  EXPECT_FALSE(refused.ok);
  EXPECT_THAT(refused.error, HasSubstr("too slow"));
  disk_returns.set_value();
  EXPECT_TRUE(answers.wait_for(3).ok);
}

AppendReadings readings_at(std::uint64_t ticket, std::int64_t first_day, int rows) {
  AppendReadings append{ticket, {}};
  for (int i = 0; i < rows; ++i) {
    const auto at = day(first_day) + std::chrono::seconds(i);
    append.rows.push_back({"mixer", "cell_a", at, Quality::Good, 53.07});
    append.rows.push_back({"mixer", "bath", at, Quality::Bad, std::nullopt});
  }
  return append;
}

TEST(Store, KeepsReadingsWithTheirQualityAndWithoutAValueWhereThereIsNone) {
  const TemporaryFolder folder;
  Answers answers;
  const auto store = open_store(folder.path(), answers.collector());
  store->append_readings(readings_at(1, 20000, 3));
  ASSERT_TRUE(answers.wait_for(1).ok);
  EXPECT_EQ(count(folder.path(), "reading WHERE quality = 2 AND value = 53.07"), 3);
  EXPECT_EQ(count(folder.path(), "reading WHERE quality = 0 AND value IS NULL"), 3);
}

TEST(Store, DeletesReadingsPastTheirAgeInSmallSteps) {
  const TemporaryFolder folder;
  Answers answers;
  const auto store =
      open_store(folder.path(), answers.collector(),
                 {.history = {.readings = std::chrono::hours(24 * 400)}, .queue_limit = 4096});
  store->append_readings(readings_at(1, 20000, 10));
  store->append_readings(readings_at(2, 20399, 10));  // nothing is 400 days old yet
  ASSERT_TRUE(answers.wait_for(2).ok);
  EXPECT_EQ(count(folder.path(), "reading"), 40);
  store->append_readings(readings_at(3, 20401, 1));  // 2 rows come, 4 of the 20 old ones go
  ASSERT_TRUE(answers.wait_for(3).ok);
  EXPECT_EQ(count(folder.path(), "reading"), 40 + 2 - 4);
  store->append_readings(readings_at(4, 20402, 50));
  ASSERT_TRUE(answers.wait_for(4).ok);
  EXPECT_EQ(count(folder.path(), "reading"), 20 + 2 + 100);
}

TEST(Store, SecondDaemonOnTheFolderIsRefusedAndToldWhoHoldsIt) {
  const TemporaryFolder folder;
  Answers answers;
  auto store = open_store(folder.path(), answers.collector());
  const auto second = Store::open(folder.path(), answers.collector());
  ASSERT_FALSE(second.ok());
  EXPECT_THAT(second.error().message, HasSubstr("in use by process " + std::to_string(getpid())));
  EXPECT_THAT(second.error().message, HasSubstr(folder.path().string()));
  store.reset();
  EXPECT_TRUE(Store::open(folder.path(), answers.collector()).ok());
}

// A page of each table that is decided by, and the head of the file.
TEST(Store, RefusesADamagedDatabaseAndNamesIt) {
  constexpr std::int64_t page_size = 4096;
  for (const char* table : {"record", "state", "sqlite_schema"}) {
    const TemporaryFolder folder;
    std::int64_t page = 1;
    {
      Answers answers;
      const auto store = open_store(folder.path(), answers.collector());
      store->append({1, {entry("note")}, {{"batch", "b1", "mixer", "{}"}}});
      ASSERT_TRUE(answers.wait_for(1).ok);
    }
    if (std::string(table) != "sqlite_schema") {
      page = *open_database(folder.path())
                  .query_integer("SELECT rootpage FROM sqlite_schema WHERE name = '" +
                                 std::string(table) + "'");
    }
    {
      std::fstream file(database_file(folder.path()),
                        std::ios::in | std::ios::out | std::ios::binary);
      file.seekp((page - 1) * page_size);
      file << std::string(64, '\x5a');
    }
    const auto refused = Store::open(folder.path(), [](const StoreAnswer&) {});
    ASSERT_FALSE(refused.ok()) << table;
    EXPECT_THAT(refused.error().message, HasSubstr("brinegate.db")) << table;
  }
}

TEST(Store, RefusesADatabaseOfAnotherLayoutOrAnotherKind) {
  const TemporaryFolder folder;
  Answers answers;
  open_store(folder.path(), answers.collector()).reset();
  ASSERT_TRUE(open_database(folder.path()).execute("PRAGMA user_version = 99").ok());
  const auto newer = Store::open(folder.path(), answers.collector());
  ASSERT_FALSE(newer.ok());
  EXPECT_THAT(newer.error().message, HasSubstr("version 99"));
  EXPECT_FALSE(query_record(folder.path(), {}).ok());

  std::filesystem::remove(database_file(folder.path()));
  std::ofstream(database_file(folder.path())) << std::string(5000, 'x');
  const auto foreign = Store::open(folder.path(), answers.collector());
  ASSERT_FALSE(foreign.ok());
  EXPECT_THAT(foreign.error().message, HasSubstr("not a database"));
}

}  // namespace
}  // namespace brinegate::daemon
