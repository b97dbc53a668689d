// SPDX-License-Identifier: Apache-2.0
// The sheet on which the simulator's figures stand: one file, with its style inside, without
// script, light or dark as the reader's system is. Well-formed XML too.
#pragma once

#include <string>
#include <string_view>

#include "rules/result.h"
#include "sim/svg.h"

namespace brinegate::sim {

// `body` is HTML.
std::string html_page(std::string_view title, std::string_view body);
// With a sentence under it that says what there is to see.
std::string html_figure(const Svg& svg, std::string_view sentence);
std::string html_paragraph(std::string_view text);
std::string html_preformatted(std::string_view text);

// The error names the file.
Result<Done> write_file(const std::string& path, std::string_view text);

}  // namespace brinegate::sim
