// SPDX-License-Identifier: Apache-2.0
#include "daemon/chemistry_text.h"

#include <algorithm>
#include <functional>
#include <optional>
#include <string_view>
#include <utility>
#include <vector>

#include <fmt/format.h>
#include <fmt/ranges.h>
#include <nlohmann/json.hpp>

#include "config/chemistry/chemistry_advice.h"
#include "daemon/command_text.h"
#include "daemon/json_member.h"

namespace brinegate::daemon {
namespace {

using Json = nlohmann::ordered_json;
using Rows = std::vector<std::vector<std::string>>;

constexpr std::size_t lots_side_by_side = 3;

const Json& member_of(const Json& object, const char* key) {
  static const Json none;
  const auto found = object.find(key);
  return found == object.end() ? none : *found;
}

std::string shown(const Json& content) {
  return content.is_object() ? text_of(content, "shown") : "";
}

std::string capital(std::string text) {
  if (!text.empty())
    text[0] = static_cast<char>(std::toupper(static_cast<unsigned char>(text[0])));
  return text;
}

std::string title(const Json& lot) {
  const Json& version = member_of(lot, "version");
  std::string name = text_of(lot, "lot");
  if (version.is_number() && version.get<int>() > 1)
    name += fmt::format("/{}", version.get<int>());
  return name;
}

std::string with_salt(const Json& lot) {
  const std::string salt = text_of(lot, "salt");
  return salt.empty() ? title(lot) : fmt::format("{}, {}", title(lot), salt);
}

std::string salinity_text(const Json& salinity) {
  return fmt::format("{:.2f} ppt", salinity.value("reference_salinity_g_kg", 0.0));
}

std::string date_of(const Json& object, const char* key) {
  return text_of(object, key).substr(0, 10);
}

// A number without its unit, which stands at the end of the line.
std::string without_unit(std::string text, const std::string& unit) {
  if (text.size() > unit.size() + 1 && text.ends_with(" " + unit))
    text.resize(text.size() - unit.size() - 1);
  // Between what two waters may have: the strip shows from where.
  if (const std::size_t to = text.find(" to "); to != std::string::npos)
    text.replace(0, to + 4, "<");
  if (text.starts_with("< "))
    text.erase(1, 1);
  return text;
}

struct Marked {
  char letter;
  std::function<const Json&(const Json& row)> content;
};

std::optional<StripMark> mark_of(char letter, const Json& content, const std::string& unit) {
  if (!content.is_object())
    return std::nullopt;
  return StripMark{letter,
                   {content.value("low", 0.0), content.value("high", 0.0)},
                   without_unit(shown(content), unit)};
}

Strip strip_of(const Json& row, const std::vector<Marked>& marked) {
  const std::string unit = text_of(row, "unit");
  Strip strip{text_of(row, "name"), {}, {}, {}, "", unit};
  if (const Json& wanted = member_of(row, "wanted"); wanted.is_object()) {
    strip.wanted = StripRange{wanted.value("low", 0.0), wanted.value("high", 0.0)};
    strip.wanted_text = text_of(wanted, "shown");
  } else if (const Json& natural = member_of(row, "natural");
             natural.is_number() && text_of(row, "group") == "major ions") {
    strip.usual = natural.get<double>();
  }
  for (const Marked& each : marked)
    if (auto mark = mark_of(each.letter, each.content(row), unit))
      strip.marks.push_back(std::move(*mark));
  return strip;
}

// The letters' columns of numbers stand in the order of `letters`, whatever covers what.
std::string strips_of(const Json& rows, const std::vector<Marked>& marked,
                      const std::string& letters, Glyphs glyphs) {
  std::vector<StripGroup> groups;
  for (const Json& row : rows) {
    Strip strip = strip_of(row, marked);
    if (strip.marks.empty())
      continue;
    const std::string heading = capital(text_of(row, "group"));
    if (groups.empty() || groups.back().heading != heading)
      groups.push_back({heading, {}});
    groups.back().strips.push_back(std::move(strip));
  }
  return strips_text(groups, letters, glyphs);
}

Marked marked(char letter, const char* key) {
  return {letter, [key](const Json& row) -> const Json& { return member_of(row, key); }};
}

// The marks in words, in the order in which they cover each other.
std::string legend(const std::vector<std::string>& letters) {
  return wrapped(fmt::format("{}. [] is wanted, | is sea water. Where letters meet, the first of "
                             "these is seen. Dashes: anywhere up to the letter, not found.",
                             fmt::join(letters, ", ")),
                 0, 0);
}

std::string names_of(const Json& symbols) {
  std::string names;
  for (const Json& symbol : symbols)
    names += (names.empty() ? "" : ", ") + symbol.get<std::string>();
  return names;
}

std::string left_out(std::string_view why, const Json& symbols) {
  return symbols.empty() ? "" : wrapped(fmt::format("{}: {}.", why, names_of(symbols)), 2, 0);
}

std::string steps_text(const Json& view) {
  std::string text;
  for (const Json& step : member_of(view, "steps"))
    if (step.value("moves", false))
      text +=
          (step.value("too_large", false) ? "! " : "  ") + wrapped(text_of(step, "sentence"), 2, 2);
  return text;
}

std::string sentences_text(const Json& list) {
  std::string text;
  for (const Json& each : list)
    text += "- " + wrapped(text_of(each, "sentence"), 2, 2);
  return text;
}

}  // namespace

std::string findings_text(const Json& findings) {
  return sentences_text(findings);
}

std::string lots_text(const Json& view) {
  Rows rows{{"lot", "salt", "expires", "values", "to look at"}};
  for (const Json& lot : member_of(view, "lots")) {
    const auto findings = lot.value("findings", std::size_t{0});
    rows.push_back(
        {title(lot), text_of(lot, "salt"), text_of(lot, "expires"),
         fmt::format("{}", lot.value("values", std::size_t{0})),
         findings == 0 ? "" : fmt::format("{} finding{}", findings, findings == 1 ? "" : "s")});
  }
  return rows.size() == 1 ? "No lots yet: `brinegate lot add FILE` puts one on record.\n"
                          : aligned(rows, 0);
}

std::string lot_text(const Json& view) {
  const Json& sample = member_of(view, "sample");
  Rows facts{{"analysed", fmt::format("at {}{}{}", salinity_text(sample),
                                      text_of(sample, "method").empty() ? "" : ", by ",
                                      text_of(sample, "method"))}};
  if (!text_of(view, "expires").empty())
    facts.push_back({"expires", text_of(view, "expires")});
  if (const Json& fraction = member_of(view, "dry_fraction"); fraction.is_number())
    facts.push_back({"dry fraction", fmt::format("{:.3g}", fraction.get<double>())});
  if (!text_of(view, "entered").empty())
    facts.push_back(
        {"entered", fmt::format("{} {}", date_of(view, "entered"), text_of(view, "entered_by"))});
  std::string text = with_salt(view) + "\n" + aligned(facts);
  Rows rows;
  std::string group;
  for (const Json& row : member_of(view, "analytes")) {
    if (const std::string of = text_of(row, "group"); of != group)
      rows.push_back({capital(group = of), "", "", ""});
    const Json& natural = member_of(row, "natural");
    rows.push_back({"  " + text_of(row, "name"), shown(member_of(row, "content")),
                    natural.is_number()
                        ? fmt::format("{} {}", config::three_digits(natural.get<double>()),
                                      text_of(row, "unit"))
                        : "",
                    text_of(row, "written")});
  }
  rows.insert(rows.begin(),
              {"", "at " + salinity_text(member_of(view, "at")), "sea water", "written"});
  text += "\n" + aligned(rows, 0);
  const Json& findings = member_of(member_of(view, "sanity"), "findings");
  if (!findings.empty())
    text += "\nWhat cannot be right, or hardly\n" + findings_text(findings);
  return text;
}

std::string comparison_text(const Json& view, Glyphs glyphs) {
  const Json& lots = member_of(view, "lots");
  const bool with_tank = member_of(view, "tank").is_string();
  std::string text;
  for (std::size_t first = 0; first < lots.size(); first += lots_side_by_side) {
    std::vector<Marked> marks;
    std::string letters;
    std::vector<std::string> names;
    if (with_tank) {
      marks.push_back(marked('T', "tank"));
      letters = "T";
      names.push_back(fmt::format("T {} now", text_of(view, "tank")));
    }
    const std::size_t end = std::min(first + lots_side_by_side, lots.size());
    for (std::size_t i = first; i < end; ++i) {
      const char letter = static_cast<char>('a' + (i % 26));
      marks.push_back(
          {letter, [i](const Json& row) -> const Json& { return member_of(row, "lots").at(i); }});
      letters += letter;
      names.push_back(fmt::format("{} {}", letter, title(lots.at(i))));
    }
    text += (text.empty() ? "" : "\n") +
            strips_of(member_of(view, "analytes"), marks, letters, glyphs) + "\n" + legend(names);
  }
  text += fmt::format("In water of {}.\n", salinity_text(member_of(view, "at")));
  for (const Json& lot : lots)
    if (lot.value("findings", std::size_t{0}) > 0)
      text +=
          wrapped(fmt::format("The analysis of {} has what cannot be right: `brinegate lot show` "
                              "says what.",
                              title(lot)),
                  2, 0);
  return text;
}

std::string ranking_text(const Json& view, Glyphs glyphs) {
  std::string text = wrapped(text_of(view, "headline"), 0, 0) + "\n";
  Rows rows{{"place", "lot", "score", ""}};
  for (const Json& lot : member_of(view, "lots")) {
    std::string why;
    for (const Json& veto : member_of(lot, "vetoes"))
      why += (why.empty() ? "Vetoed. " : " ") + text_of(veto, "sentence");
    const Json& costs = member_of(lot, "costs");
    if (why.empty())
      for (std::size_t i = 0; i < std::min<std::size_t>(costs.size(), 3); ++i)
        why += (i == 0 ? "" : " ") + text_of(costs.at(i), "sentence");
    if (lot.value("ties_with_first", false) && rows.size() > 1)
      why.insert(0, "Cannot be told from the first. ");
    rows.push_back({fmt::format("{}", lot.value("place", 0)), title(lot),
                    fmt::format("{:.3f} ± {:.3f}", lot.value("score", 0.0),
                                lot.value("standard_uncertainty", 0.0)),
                    why});
  }
  text += aligned(rows, 0);
  text += "0 is best: within every wanted range. ± is one standard uncertainty.\n";
  if (const Json& lots = member_of(view, "lots"); !lots.empty())
    text += "\n" +
            strips_of(member_of(lots.front(), "analytes"),
                      {marked('T', "tank"), marked('A', "after"), marked('L', "new_water")}, "TLA",
                      glyphs) +
            "\n" +
            legend({fmt::format("T {} now", text_of(view, "tank")),
                    "A after " + text_of(member_of(view, "plan"), "shown"),
                    "L " + title(lots.front())});
  text += steps_text(view);
  text += left_out("Wanted, but not counted because some lot does not name it",
                   member_of(view, "not_in_every_lot"));
  text += left_out("Wanted, but not counted because the tank has no test of it",
                   member_of(view, "not_tested"));
  return text;
}

std::string tanks_text(const Json& view) {
  Rows rows{{"tank", "volume", "salinity", "tests", "latest test", "latest change"}};
  for (const Json& tank : member_of(view, "tanks"))
    rows.push_back({text_of(tank, "tank"), fmt::format("{:g} L", tank.value("volume_l", 0.0)),
                    salinity_text(member_of(tank, "at")),
                    fmt::format("{}", tank.value("tests", std::size_t{0})),
                    date_of(tank, "latest_test"), date_of(tank, "latest_change")});
  return rows.size() == 1 ? "No tanks yet: `brinegate tank add FILE` puts one on record.\n"
                          : aligned(rows, 0);
}

std::string tank_text(const Json& view, Glyphs glyphs) {
  std::string text =
      fmt::format("{}: {:g} L at {} and {:g} °C; tests: {}, changes: {}\n\n", text_of(view, "tank"),
                  view.value("volume_l", 0.0), salinity_text(member_of(view, "at")),
                  view.value("temperature_c", 0.0), view.value("tests", std::size_t{0}),
                  view.value("changes", std::size_t{0}));
  const Json& analytes = member_of(view, "analytes");
  text += strips_of(analytes, {marked('N', "now"), marked('T', "latest")}, "TN", glyphs) + "\n" +
          legend({"N now", "T latest test"});
  Rows used;
  for (const Json& row : analytes) {
    const Json& consumption = member_of(row, "consumption");
    const std::string from = text_of(consumption, "from");
    if (from == "estimated")
      used.push_back({text_of(row, "name"), shown(consumption),
                      fmt::format("estimated from {} tests", consumption.value("tests", 0))});
    else if (from == "set")
      used.push_back({text_of(row, "name"), shown(consumption), "set by the keeper"});
  }
  if (!used.empty())
    text += "\nUsed up, by all but water changes\n" + aligned(used);
  return text;
}

std::string forecast_text(const Json& view, Glyphs glyphs) {
  const Json& plan = member_of(view, "plan");
  const Json& lot = member_of(view, "lot");
  std::string text = wrapped(fmt::format("{} with {}, {}", text_of(view, "tank"), with_salt(lot),
                                         text_of(plan, "shown")),
                             0, 0) +
                     "\n";
  const Json& analytes = member_of(view, "analytes");
  text += strips_of(analytes,
                    {marked('T', "tank"), marked('A', "after"), marked('E', "tends_to"),
                     marked('L', "new_water")},
                    "TLAE", glyphs) +
          "\n" +
          legend({"T now", "A after " + text_of(plan, "shown"), "E where that tends to for ever",
                  "L " + title(lot)});
  Rows until;
  for (const Json& row : analytes)
    if (const std::string sentence = text_of(row, "sentence"); !sentence.empty())
      until.push_back({text_of(row, "name"), sentence});
  if (!until.empty())
    text += "\nIn the wanted range\n" + aligned(until);
  text += steps_text(view);
  text +=
      left_out("Not foretold because the tank has no test of it", member_of(view, "not_tested"));
  text += left_out("Not foretold because the lot does not name it", member_of(view, "not_in_lot"));
  return text;
}

std::string review_text(const Json& view) {
  const Json& outcomes = member_of(view, "outcomes");
  if (outcomes.empty())
    return "Nothing to review: it takes two water tests, and changes between them whose lot is "
           "known.\n";
  return wrapped(fmt::format("{}: the latest test ({}) against what the one before and the changes "
                             "since foretold.",
                             text_of(view, "tank"), date_of(view, "latest_test")),
                 0, 0) +
         sentences_text(outcomes);
}

}  // namespace brinegate::daemon
