// SPDX-License-Identifier: Apache-2.0
#include "config/page/html_page.h"

#include <fmt/format.h>

namespace brinegate::page {
namespace {

// Two hues that stay apart without colour vision; a second line is dashed as well.
constexpr std::string_view style_sheet = R"(
:root { color-scheme: light dark; --paper: #fdfdfb; --ink: #1d2326; --quiet: #667076;
  --grid: #e4e6e3; --first: #1f5f99; --second: #b3541e; --band: #1f5f99; --good: #5f7f52; }
@media (prefers-color-scheme: dark) { :root { --paper: #15191b; --ink: #dfe3e2; --quiet: #929c9f;
  --grid: #2a3033; --first: #7fb4e6; --second: #e59a62; --band: #7fb4e6; --good: #93b586; } }
body { margin: 2.5rem auto; max-width: 56rem; padding: 0 1rem; background: var(--paper);
  color: var(--ink); font: 16px/1.5 system-ui, sans-serif; }
h1 { font-size: 1.35rem; font-weight: 600; }
h2 { font-size: 1rem; font-weight: 600; margin: 1.2rem 0 0.3rem; break-after: avoid; }
table { border-collapse: collapse; width: 100%; font-size: 0.9rem; }
th { color: var(--quiet); font-weight: 400; text-align: left; }
th, td { padding: 0.1rem 0.8rem 0.1rem 0; vertical-align: top;
  border-bottom: 1px solid var(--grid); }
.pair { display: grid; grid-template-columns: 5fr 6fr; gap: 0 1.5rem; }
@media screen and (max-width: 40rem) { .pair { display: block; } }
pre { font: 13px/1.45 ui-monospace, monospace; overflow-x: auto; }
figure { margin: 2.5rem 0; }
figcaption { color: var(--quiet); max-width: 46rem; }
svg { width: 100%; height: auto; overflow: visible; }
svg svg { overflow: hidden; }
text { font: 12px system-ui, sans-serif; fill: var(--ink); }
text.tick, text.title { fill: var(--quiet); }
text.first { fill: var(--first); }
text.second { fill: var(--second); }
line, path { fill: none; stroke-width: 1.5; stroke-linejoin: round; }
.grid { stroke: var(--grid); stroke-width: 1; }
.axis { stroke: var(--quiet); stroke-width: 1; }
.mark { stroke: var(--quiet); stroke-width: 1; stroke-dasharray: 2 3; }
line.first, path.first, circle.first { stroke: var(--first); }
line.second, path.second, circle.second { stroke: var(--second); }
path.second { stroke-dasharray: 6 3; }
path.truth { stroke: var(--ink); stroke-width: 2; }
path.future { stroke: var(--ink); stroke-dasharray: 2 4; }
path.faint { stroke: var(--second); stroke-width: 1; opacity: 0.6; }
path.fainter { stroke: var(--good); stroke-width: 1; opacity: 0.8; }
circle { stroke-width: 1.5; fill: var(--first); }
circle.hollow { fill: var(--paper); stroke: var(--first); }
polygon.band { fill: var(--band); opacity: 0.14; }
polygon.inner { fill: var(--band); opacity: 0.28; }
rect.tolerance { fill: var(--good); opacity: 0.15; }
rect.permitted { fill: var(--good); }
rect.still { fill: var(--quiet); opacity: 0.7; }
rect.gap { fill: var(--second); opacity: 0.7; }
@page { size: A4; margin: 12mm; }
@media print {
  :root { color-scheme: light; --paper: #fff; --ink: #000; --quiet: #444; --grid: #ccc; }
  body { margin: 0; max-width: none; padding: 0; font-size: 11px; }
  h1 { font-size: 16px; margin: 0; } h2 { font-size: 12px; margin: 6px 0 2px; }
  p, pre { margin: 3px 0; font-size: 10px; } table { font-size: 10px; } figure { margin: 4px 0; }
  td, th { padding: 0 6px 0 0; }
}
)";

}  // namespace

std::string html_page(std::string_view title, std::string_view body) {
  return fmt::format(R"(<!DOCTYPE html>
<html lang="en">
<head>
<meta charset="utf-8"/>
<meta name="viewport" content="width=device-width, initial-scale=1"/>
<title>{0}</title>
<style>{1}</style>
</head>
<body>
<h1>{0}</h1>
{2}</body>
</html>
)",
                     escaped(title), style_sheet, body);
}

std::string html_figure(const Svg& svg, std::string_view sentence) {
  return fmt::format("<figure>\n{}<figcaption>{}</figcaption>\n</figure>\n", svg.str(),
                     escaped(sentence));
}

std::string html_paragraph(std::string_view text) {
  return fmt::format("<p>{}</p>\n", escaped(text));
}

std::string html_preformatted(std::string_view text) {
  return fmt::format("<pre>{}</pre>\n", escaped(text));
}

}  // namespace brinegate::page
