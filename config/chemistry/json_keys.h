// SPDX-License-Identifier: Apache-2.0
// Every key of a lot's, a water test's and a tank's JSON file, with an example of its value. README
// describes the same.
#pragma once

#include <array>

#include "config/known_keys.h"

namespace brinegate::config::json_keys {

inline constexpr std::array lot_keys{
    Key{"lot", Need::Optional, R"("H-2291")"},  // else it is said beside the file
    Key{"salt", Need::Optional, R"("Harbour blend")"},
    Key{"expires", Need::Optional, R"("2029-03-02")"},
    Key{"dry_fraction", Need::Optional, "0.93"},
    Key{"assay", Need::Required, R"({ "salinity": "35 ppt", "values": { "Ca": "421 mg/L" } })"},
};
inline constexpr std::array assay_keys{
    Key{"salinity", Need::Optional, R"("35 ppt")"},
    Key{"temperature", Need::Optional, R"("25 C")"},
    Key{"method", Need::Optional, R"("ICP-OES")"},
    Key{"ppm", Need::Optional, R"("mg/L")"},
    Key{"values", Need::Required, R"({ "Ca": "421 mg/L" })"},
};
inline constexpr std::array value_keys{
    Key{"value", Need::Required, R"("421 mg/L")"},
    Key{"uncertainty", Need::Optional, R"("4 mg/L")"},
    Key{"detection_limit", Need::Optional, R"("2 ug/L")"},
};
inline constexpr std::array test_keys{
    Key{"tested", Need::Optional, R"("2026-11-02T18:00")"},
    Key{"salinity", Need::Optional, R"("34.8 ppt")"},
    Key{"temperature", Need::Optional, R"("25 C")"},
    Key{"method", Need::Optional, R"("ICP-OES")"},
    Key{"ppm", Need::Optional, R"("mg/L")"},
    Key{"values", Need::Required, R"({ "Ca": "421 mg/L" })"},
};
inline constexpr std::array tank_keys{
    Key{"tank", Need::Required, R"("reef")"},
    Key{"volume", Need::Required, R"("800 L")"},
    Key{"salinity", Need::Optional, R"("35 ppt")"},
    Key{"temperature", Need::Optional, R"("25 C")"},
    Key{"wanted", Need::Optional, R"({ "Ca": ["400 mg/L", "450 mg/L"] })"},
    Key{"consumption", Need::Optional, R"({ "alkalinity": "0.3 dKH/d" })"},
    Key{"limits", Need::Optional, R"({ "salinity_step": "0.5 ppt" })"},
};
inline constexpr std::array wanted_keys{
    Key{"from", Need::Optional, R"("400 mg/L")"},  // else 0
    Key{"to", Need::Required, R"("450 mg/L")"},
    Key{"weight", Need::Optional, "2"},
    Key{"never_above", Need::Optional, "true"},
};
inline constexpr std::array limits_keys{
    Key{"salinity_step", Need::Optional, R"("0.5 ppt")"},
    Key{"temperature_step", Need::Optional, R"("1 C")"},
};

inline constexpr Section lot{"lot", lot_keys, true};
inline constexpr Section assay{"assay", assay_keys, true};
inline constexpr Section value{"value", value_keys, true};
inline constexpr Section test{"test", test_keys, true};
inline constexpr Section tank{"tank", tank_keys, true};
inline constexpr Section wanted{"wanted", wanted_keys, true};
inline constexpr Section limits{"limits", limits_keys, true};
inline constexpr std::array sections{lot, assay, value, test, tank, wanted, limits};

}  // namespace brinegate::config::json_keys
