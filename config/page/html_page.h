// SPDX-License-Identifier: Apache-2.0
// A sheet for people: one file, with its style inside, without
// script, light or dark as the reader's system is. Well-formed XML too.
#pragma once

#include <string>
#include <string_view>

#include "config/page/svg.h"

namespace brinegate::page {

// `body` is HTML.
std::string html_page(std::string_view title, std::string_view body);
// With a sentence under it that says what there is to see.
std::string html_figure(const Svg& svg, std::string_view sentence);
std::string html_paragraph(std::string_view text);
std::string html_preformatted(std::string_view text);

}  // namespace brinegate::page
