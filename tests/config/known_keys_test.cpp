// SPDX-License-Identifier: Apache-2.0
// The one list of keys, and what must agree with it: the schema, the documentation, the example.
#include "config/known_keys.h"

#include <map>
#include <regex>
#include <set>
#include <utility>

#include <gmock/gmock.h>
#include <gtest/gtest.h>
#include <nlohmann/json.hpp>

#include "config/chemistry/json_keys.h"
#include "config/load.h"
#include "tests/config/cellar.h"

namespace brinegate::config {
namespace {

using ::testing::HasSubstr;
using ::testing::Not;

std::set<std::string> names(const Section& section, bool required_only) {
  std::set<std::string> result;
  for (const Key& key : section.keys)
    if (!required_only || key.need == Need::Required)
      result.emplace(key.name);
  return result;
}

TEST(KnownKeys, AreExactlyThoseOfTheSchema) {
  const auto schema = nlohmann::json::parse(content_of("config/schema.json"));
  std::size_t sections = 0;
  for (const auto& [name, definition] : schema.at("$defs").items())
    sections += definition.contains("properties") ? 1U : 0U;
  EXPECT_EQ(sections, known::sections.size());
  for (const Section& section : known::sections) {
    SCOPED_TRACE(section.name);
    const auto& definition = schema.at("$defs").at(std::string(section.name));
    std::set<std::string> properties;
    for (const auto& [name, property] : definition.at("properties").items()) {
      properties.insert(name);
      EXPECT_FALSE(property.at("description").get<std::string>().empty()) << name;
    }
    EXPECT_EQ(properties, names(section, false));
    EXPECT_EQ(definition.at("required").get<std::set<std::string>>(), names(section, true));
    EXPECT_EQ(definition.at("additionalProperties"), false);
  }
}

// Key -> the cells of its row, of one section of the documentation.
std::map<std::string, std::vector<std::string>> documented(const std::string& readme,
                                                           std::string_view section) {
  const std::string mark = "<!-- section " + std::string(section) + " -->";
  const std::size_t begin = readme.find(mark);
  if (begin == std::string::npos)
    return {};
  std::istringstream lines(readme.substr(begin + mark.size() + 2));
  std::map<std::string, std::vector<std::string>> rows;
  for (std::string line; std::getline(lines, line) && !line.empty();) {
    if (line.rfind("| `", 0) != 0)
      continue;
    std::vector<std::string> cells;
    static const std::regex separator(R"( \| )");
    const std::string inside = line.substr(2, line.size() - 4);
    std::copy(std::sregex_token_iterator(inside.begin(), inside.end(), separator, -1), {},
              std::back_inserter(cells));
    rows[cells.front().substr(1, cells.front().size() - 2)] = cells;
  }
  return rows;
}

TEST(KnownKeys, AreAllDocumentedWithMeaningUnitDefaultAndTheSameExample) {
  const std::string readme = content_of("config/README.md");
  std::vector<Section> sections(known::sections.begin(), known::sections.end());
  sections.insert(sections.end(), json_keys::sections.begin(), json_keys::sections.end());
  for (const Section& section : sections) {
    SCOPED_TRACE(section.name);
    const auto rows = documented(readme, section.name);
    EXPECT_EQ(rows.size(), section.keys.size());
    for (const Key& key : section.keys) {
      SCOPED_TRACE(key.name);
      ASSERT_EQ(rows.count(std::string(key.name)), 1U);
      const auto& cells = rows.at(std::string(key.name));
      ASSERT_EQ(cells.size(), 5U);
      EXPECT_EQ(cells[3] == "required", key.need == Need::Required);
      EXPECT_EQ(cells[4], "`" + std::string(key.example) + "`");
    }
  }
}

TEST(KnownKeys, AllStandInTheExample) {
  const std::string example = content_of("config/example.toml");
  for (const Section& section : known::sections)
    for (const Key& key : section.keys) {
      const std::regex use("(^|[\\n{,] ?|\\[|\\.)" + std::string(key.name) + "( = |\\.|\\])");
      EXPECT_TRUE(std::regex_search(example, use)) << section.name << ": " << key.name;
    }
}

// Each alone in its table, so other errors come too: only what is said of this key counts.
TEST(KnownKeys, HaveNoExampleThatTheLoaderRefuses) {
  const std::pair<std::string, Section> tables[]{{"[link.rack]\n", known::link},
                                                 {"[profile.reef]\n", known::profile}};
  for (const auto& [header, section] : tables)
    for (const Key& key : section.keys) {
      const std::string text =
          header + std::string(key.name) + " = " + std::string(key.example) + "\n";
      for (const Problem& problem : load_text(text, "example").errors)
        EXPECT_THAT(problem.message, Not(HasSubstr("'" + std::string(key.name) + "'")));
    }
}

TEST(Example, LoadsWithoutAnError) {
  const Loaded loaded = load_text(content_of("config/example.toml"), "example.toml");
  for (const Problem& problem : loaded.errors)
    ADD_FAILURE() << render(problem);
  ASSERT_TRUE(loaded.site);
  EXPECT_EQ(loaded.site->stations.size(), 2U);
}

TEST(Example, HasAPumpThatSwitchesOffByItself) {
  const Loaded loaded = load_text(content_of("config/example.toml"), "example.toml");
  ASSERT_TRUE(loaded.site);
  const auto& pump = loaded.site->stations.front().pump;
  EXPECT_TRUE(pump->output.lapses_by_itself());
  EXPECT_TRUE(pump->second_cutoff->lapses_by_itself());
}

}  // namespace
}  // namespace brinegate::config
