// SPDX-License-Identifier: Apache-2.0
// What the history costs at one reading a second: insertion, room on disk, and drawing all of it by
// the summaries against the naive query over every reading, in one run. Argument: days, else 30.
#include <chrono>
#include <cmath>
#include <cstdlib>
#include <filesystem>

#include <fmt/format.h>

#include "daemon/history_tables.h"
#include "daemon/store_tables.h"
#include "tests/temporary_folder.h"

namespace brinegate::daemon {
namespace {

using namespace std::chrono_literals;

constexpr WallTime begin{std::chrono::hours(24 * 365 * 56)};
constexpr int rows_at_once = 300;
constexpr Duration drawn_every = 24h;

template <class Work>
double seconds_of(Work work) {
  const auto start = std::chrono::steady_clock::now();
  work();
  return std::chrono::duration<double>(std::chrono::steady_clock::now() - start).count();
}

std::uintmax_t bytes_on_disk(const std::filesystem::path& data) {
  std::uintmax_t bytes = 0;
  for (const auto& file : std::filesystem::directory_iterator(data)) {
    bytes += file.file_size();
  }
  return bytes;
}

void write_days(HistoryWriter& writer, int days) {
  AppendReadings append;
  for (std::int64_t second = 0; second < 86400LL * days; ++second) {
    const double value = 53.0 + 0.01 * std::sin(static_cast<double>(second));
    append.rows.push_back(
        {"mixer", "cell_a", begin + std::chrono::seconds(second), Quality::Good, value});
    if (append.rows.size() == rows_at_once) {
      if (!writer.append(append).ok()) {
        std::abort();
      }
      append.rows.clear();
    }
  }
}

// As one would without summaries.
std::int64_t draw_naively(const std::filesystem::path& data) {
  Connection connection = open_reader(data).value();
  Statement select = connection.prepare(
      "SELECT min(at_ns), avg(value) FILTER (WHERE quality > 0), min(value), max(value), "
      "min(quality) FROM reading WHERE series = 1 GROUP BY at_ns / 86400000000000 ORDER BY 1");
  std::int64_t rows = 0;
  while (*select.step()) {
    ++rows;
  }
  return rows;
}

int run(int days) {
  const TemporaryFolder folder;
  const RecordWriter record = RecordWriter::open(folder.path()).value();
  const Duration forever = 24h * 36600;
  HistoryWriter writer = HistoryWriter::open(folder.path(), {forever, forever}).value();
  const double written = seconds_of([&] { write_days(writer, days); });
  const double readings = 86400.0 * days;
  std::size_t rows = 0;
  const HistoryQuery query{"mixer", "cell_a", begin, begin + 24h * days, drawn_every};
  const double drawn =
      seconds_of([&] { rows = query_history(folder.path(), query)->value().size(); });
  std::int64_t naive_rows = 0;
  const double naive = seconds_of([&] { naive_rows = draw_naively(folder.path()); });
  fmt::print(
      "{} days at 1 Hz: {:.0f} readings a second written, {:.1f} bytes each with summaries\n", days,
      readings / written, static_cast<double>(bytes_on_disk(folder.path())) / readings);
  fmt::print(
      "drawn by day: {:.1f} ms for {} rows; naively {:.1f} ms for {}: {:.0f} times as long\n",
      1e3 * drawn, rows, 1e3 * naive, naive_rows, naive / drawn);
  return 0;
}

}  // namespace
}  // namespace brinegate::daemon

int main(int argc, char** argv) {
  return brinegate::daemon::run(argc > 1 ? std::atoi(argv[1]) : 30);
}
