// SPDX-License-Identifier: Apache-2.0
// Contents drawn against what is wanted, one line an analyte, for a terminal of 80 columns without
// colour:
//
//   Major ions                                          T     L     A    wanted
//   Calcium        ·········[━━━━━━━━]·T··A····  L▸   460   520   472   400-450 mg/L
//
// Every wanted range takes the same columns, whatever its numbers: what stands left of the bar is
// too little, right of it too much, as many widths of the range off as of the bar. What is off the
// scale stands beyond its end with an arrow. What was not found is somewhere along its dashes.
#pragma once

#include <optional>
#include <string>
#include <vector>

namespace brinegate::daemon {

// All values of one strip are in one unit.
struct StripRange {
  double low = 0.0;
  double high = 0.0;  // not below `low`
};

struct StripMark {
  char letter = '?';
  StripRange where;    // a point, or all that a censored value may be
  std::string number;  // as it stands in the letter's column
};

struct Strip {
  std::string name;
  std::optional<StripRange> wanted;  // nothing: the scale begins at 0 and holds every mark
  std::optional<double> usual;       // where nothing is wanted: the middle of the scale, a "|"
  std::vector<StripMark> marks;      // where two meet, the first is seen
  std::string wanted_text;
  std::string unit;
};

struct StripGroup {
  std::string heading;
  std::vector<Strip> strips;
};

enum class Glyphs { Unicode, Ascii };
// By the locale's character set: LC_ALL, else LC_CTYPE, else LANG.
Glyphs glyphs_of_environment();

// `letters` head the columns of numbers, in this order; a strip without a mark of a letter leaves
// its column empty. Six letters at most have room.
std::string strips_text(const std::vector<StripGroup>& groups, const std::string& letters,
                        Glyphs glyphs);

}  // namespace brinegate::daemon
