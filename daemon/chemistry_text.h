// SPDX-License-Identifier: Apache-2.0
// Lots and tanks for people, from the JSON that everybody else gets too (daemon/engine/lot_view.h
// and tank_view.h).
#pragma once

#include <string>

#include <nlohmann/json_fwd.hpp>

#include "daemon/strip_text.h"

namespace brinegate::daemon {

std::string lots_text(const nlohmann::ordered_json& view);
std::string lot_text(const nlohmann::ordered_json& view);
std::string comparison_text(const nlohmann::ordered_json& view, Glyphs glyphs);
std::string ranking_text(const nlohmann::ordered_json& view, Glyphs glyphs);

std::string tanks_text(const nlohmann::ordered_json& view);
std::string tank_text(const nlohmann::ordered_json& view, Glyphs glyphs);
std::string forecast_text(const nlohmann::ordered_json& view, Glyphs glyphs);
std::string review_text(const nlohmann::ordered_json& view);

// What is wrong with an analysis, a sentence a line; empty where nothing is.
std::string findings_text(const nlohmann::ordered_json& findings);

}  // namespace brinegate::daemon
