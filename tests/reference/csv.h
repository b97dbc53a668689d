// SPDX-License-Identifier: Apache-2.0
// Reads the reference tables of tests/reference/data: '#' comments, one header line, no quoting.
// A missing file, column or number ends the test that asked for it.
#pragma once

#include <charconv>
#include <cstddef>
#include <fstream>
#include <map>
#include <stdexcept>
#include <string>
#include <system_error>
#include <utility>
#include <vector>

namespace brinegate::reference {

class Row {
 public:
  explicit Row(std::map<std::string, std::string> fields) : fields_(std::move(fields)) {}

  [[nodiscard]] const std::string& text(const std::string& column) const {
    return fields_.at(column);
  }
  [[nodiscard]] bool has(const std::string& column) const { return !text(column).empty(); }
  [[nodiscard]] double number(const std::string& column) const {
    const std::string& field = text(column);
    double value = 0.0;
    const auto [end, failure] = std::from_chars(field.data(), field.data() + field.size(), value);
    if (failure != std::errc{} || end != field.data() + field.size())
      throw std::runtime_error("column " + column + " is not a number: \"" + field + "\"");
    return value;
  }

 private:
  std::map<std::string, std::string> fields_;
};

inline std::vector<std::string> split(const std::string& line) {
  std::vector<std::string> fields{""};
  for (const char c : line) {
    if (c == ',')
      fields.emplace_back();
    else
      fields.back() += c;
  }
  return fields;
}

inline std::vector<Row> table(const std::string& name) {
  const std::string path = BRINEGATE_SOURCE_DIR "/tests/reference/data/" + name;
  std::ifstream file(path);
  if (!file)
    throw std::runtime_error("cannot read " + path);
  std::vector<std::string> header;
  std::vector<Row> rows;
  for (std::string line; std::getline(file, line);) {
    if (line.empty() || line.front() == '#')
      continue;
    const std::vector<std::string> fields = split(line);
    if (header.empty()) {
      header = fields;
      continue;
    }
    if (fields.size() != header.size())
      throw std::runtime_error(path + ": a row has another number of fields than the header");
    std::map<std::string, std::string> row;
    for (std::size_t i = 0; i < header.size(); ++i)
      row.emplace(header[i], fields[i]);
    rows.emplace_back(std::move(row));
  }
  return rows;
}

}  // namespace brinegate::reference
