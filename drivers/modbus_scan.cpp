// SPDX-License-Identifier: Apache-2.0
#include "drivers/modbus_scan.h"

#include <cerrno>
#include <optional>
#include <thread>
#include <utility>

#include "drivers/modbus_bus.h"
#include "drivers/modbus_codec.h"

namespace brinegate::drivers {

using config::LineTrouble;
using config::ModbusTable;

namespace {

// Codes of the MODBUS Application Protocol Specification V1.1b3, section 7.
constexpr int illegal_function = 1;
constexpr int gateway_path_unavailable = 10;
constexpr int gateway_target_silent = 11;  // the gateway answers for a unit that does not

constexpr int asked_before_given_up = 2;   // requests to a unit that stays silent
constexpr int silence_after_time_out = 8;  // on a serial line, in timeouts: see ModbusBus

LineTrouble trouble_of(int error, bool serial) {
  if (!serial) {
    return LineTrouble::NobodyAnswers;
  }
  switch (error) {
    case EACCES:
    case EPERM:
      return LineTrouble::NoPermission;
    case EBUSY:
    case EWOULDBLOCK:
      return LineTrouble::Busy;
    default:
      return LineTrouble::NoSuchDevice;
  }
}

bool is_serial(const config::Link& link) {
  return std::holds_alternative<config::SerialAddress>(link.address);
}

class Scan {
 public:
  explicit Scan(const config::Link& link) : link_(link), bus_(link) {}

  // A unit that reads nothing by function 4 may not answer it at all, so 3 is tried too.
  std::optional<FoundUnit> look_at(std::uint8_t unit, const ScanRange& range) {
    found_ = {unit, {}};
    answered_ = false;
    for (const ModbusTable table : {ModbusTable::Input, ModbusTable::Holding}) {
      if (!answered_) {
        ask(table, range.first_register, 1);
      }
    }
    for (const ModbusTable table : {ModbusTable::Input, ModbusTable::Holding}) {
      if (answered_) {
        collect(table, range.first_register, range.registers);
      }
    }
    return answered_ ? std::optional(std::move(found_)) : std::nullopt;
  }

  [[nodiscard]] std::optional<LineTrouble> trouble() const { return trouble_; }

 private:
  enum class Heard { Words, Exception, Nothing };

  bool ready() {
    // A device that takes one connection may need a moment to see that the last one has ended.
    constexpr int attempts = 3;
    for (int i = 0; !trouble_ && !bus_.connected() && !bus_.connect(); ++i) {
      if (i + 1 == attempts) {
        trouble_ = trouble_of(errno, is_serial(link_));
      } else {
        std::this_thread::sleep_for(link_.timeout);
      }
    }
    if (!trouble_ && !bus_.resynchronise([] { return false; })) {
      trouble_ = bus_.connected() ? LineTrouble::NeverSilent : LineTrouble::NoSuchDevice;
    }
    return !trouble_;
  }

  // The words, where there are any, are appended to what was found.
  Heard ask(ModbusTable table, std::uint16_t first, std::uint16_t count) {
    if (!ready()) {
      return Heard::Nothing;
    }
    const auto words = bus_.read(found_.unit, table, first, count);
    if (words) {
      answered_ = true;
      words_ = *words;
      return Heard::Words;
    }
    const bool from_gateway = bus_.last_exception() == gateway_path_unavailable ||
                              bus_.last_exception() == gateway_target_silent;
    if (words.error() != SampleFault::DeviceException || from_gateway) {
      return Heard::Nothing;
    }
    answered_ = true;
    return Heard::Exception;
  }

  // A device refuses a block of which it lacks one register, so what is refused is asked by halves.
  void collect(ModbusTable table, std::uint16_t first, std::uint16_t count) {
    const Heard heard = ask(table, first, count);
    if (heard == Heard::Words) {
      return keep(table, first);
    }
    if (heard == Heard::Nothing || count == 1 || bus_.last_exception() == illegal_function) {
      return;
    }
    const auto half = static_cast<std::uint16_t>((count + 1) / 2);
    collect(table, first, half);
    collect(table, first + half, count - half);
  }

  void keep(ModbusTable table, std::uint16_t first) {
    auto& runs = found_.runs;
    if (runs.empty() || runs.back().table != table ||
        runs.back().first + runs.back().words.size() != first) {
      runs.push_back({table, first, {}});
    }
    runs.back().words.insert(runs.back().words.end(), words_.begin(), words_.end());
  }

  const config::Link& link_;
  ModbusBus bus_;
  FoundUnit found_;
  std::vector<std::uint16_t> words_;  // of the latest answer
  bool answered_ = false;             // the unit, to anything
  std::optional<LineTrouble> trouble_;
};

}  // namespace

Duration longest_scan(const config::Link& link, const ScanRange& range) {
  const int units = range.last_unit - range.first_unit + 1;
  return units * asked_before_given_up * link.timeout *
         (is_serial(link) ? 1 + silence_after_time_out : 1);
}

Result<std::vector<FoundUnit>, LineTrouble> scan(
    const config::Link& link, const ScanRange& range,
    const std::function<void(std::uint8_t unit)>& progress) {
  Scan line(link);
  std::vector<FoundUnit> found;
  for (int unit = range.first_unit; unit <= range.last_unit; ++unit) {
    progress(static_cast<std::uint8_t>(unit));
    auto one = line.look_at(static_cast<std::uint8_t>(unit), range);
    if (line.trouble()) {
      return *line.trouble();
    }
    if (one) {
      found.push_back(*std::move(one));
    }
  }
  return found;
}

Result<double, SampleFault> read_once(const config::Link& link,
                                      const config::ModbusSource& source) {
  ModbusBus bus(link);
  bus.connect();
  const auto words = bus.read(source.unit, source.table, source.address,
                              static_cast<std::uint16_t>(register_count(source.encoding)));
  return words ? decode(source.encoding, source.order, *words)
               : Result<double, SampleFault>(words.error());
}

}  // namespace brinegate::drivers
