// SPDX-License-Identifier: Apache-2.0
// A station small enough to be explored whole, and the letters of what may come to it in one tick.
//
// What is abstracted: a tick is 20 minutes and all times are few ticks; the water has three levels;
// each probe shows one right value or one wrong one. In place of the forecast of dissolution, which
// is continuous, stands whatever it might say in any order; the scatter of the probes is none;
// between two ticks the smoothed level comes to rest; and of what evaporated one step of the level
// is remembered. No salt is noted, so the dose is no witness, and nothing is calibrated.
#pragma once

#include <string>
#include <vector>

#include "rules/station.h"

namespace brinegate::explore {

using namespace std::chrono_literals;

constexpr Duration tick = 20min;  // longer than the level is held against what it was
constexpr int dwell = 2;          // ticks, as all of these
constexpr int circulate = 2;
constexpr int standing = 2;
constexpr int longest_run = 4;
constexpr int no_flow = 2;
constexpr int readback_within = 1;
constexpr int waived_for = 3;
constexpr int cell_deadline = 1;  // the other probes must have come in this tick
constexpr Duration keep = 1000h;  // longer than any story
constexpr Duration long_pause = 2 * keep;

constexpr double low_litres = 20.0;
constexpr double full_litres = 100.0;
constexpr double asked_litres = 60.0;
constexpr double step_litres = 40.0;
constexpr double right_psu = 35.0;
constexpr double low_psu = 30.0;
constexpr double high_psu = 40.0;
constexpr double flow_litres_per_minute = 2.0;

enum class Shows { Right, TooLow, TooHigh, Simulated, Fault, Nothing };
enum class Contact { Off, On, Nothing };  // "off" and "on" as they are when all is well
enum class Readback { Follows, On, Off, Nothing };
enum class LevelShows { Same, Falls, Rises, Nothing };
enum class FlowShows { Follows, None, Nothing };
enum class Course { Settled, Dissolves, Unknown, FollowsTemperature };
enum class OnRecord { Current, None, Foreign };
enum class Asks { Nothing, Change, Stop, Begin, Note, Abandon, Acknowledge, Waive, Unwaive };
enum class Happens { Nothing, Ending, Restart, RestartWithoutProfile, LongPause };

// What comes in one tick. As it stands: all is well and nobody asks for anything.
struct Letter {
  Shows cell = Shows::Right;
  Shows bath = Shows::Right;
  Contact circulation = Contact::On;
  Contact leak = Contact::Off;
  Contact tank_high = Contact::Off;
  Readback readback = Readback::Follows;
  LevelShows level = LevelShows::Same;
  FlowShows flow = FlowShows::Follows;
  Course course = Course::Settled;
  bool record_kept = true;
  bool output_answers = true;
  OnRecord on_record = OnRecord::Current;
  Asks asks = Asks::Nothing;
  Happens happens = Happens::Nothing;
  std::string name = "all is well";
};

// Each has a cell and a thermometer, and further:
enum class Kind {
  ByLevel,      // is asked for each change; level and circulation
  ByFlow,       // is asked for each change; flow, read-back, contacts for a leak and a full tank
  WhileProven,  // flow and read-back
  Waiving,      // flow; a person may waive the temperature
};
StationSpec small_station(Kind kind);
Profile small_profile();  // waives the temperature, where anybody asks for that

// Every single thing that may differ from all being well; and any two of them of which one is what
// a person asks for or what becomes of the program, and the other leaves something behind.
std::vector<Letter> alphabet_of(Kind kind);

}  // namespace brinegate::explore
