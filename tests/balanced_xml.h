// SPDX-License-Identifier: Apache-2.0
// Whether a text is well-formed as far as tags, quotes and ampersands go.
#pragma once

#include <algorithm>
#include <string>
#include <vector>

#include <gtest/gtest.h>

namespace brinegate {

inline testing::AssertionResult is_balanced_xml(const std::string& text) {
  std::vector<std::string> open;
  std::size_t roots = 0;
  for (std::size_t i = 0; i < text.size(); ++i) {
    if (text[i] == '&') {
      const auto end = text.find(';', i);
      const std::string name = text.substr(i + 1, end == std::string::npos ? 0 : end - i - 1);
      if (name != "amp" && name != "lt" && name != "gt" && name != "quot")
        return testing::AssertionFailure() << "a bare & at " << text.substr(i, 40);
    }
    if (text[i] == '>')
      return testing::AssertionFailure() << "a bare > before " << text.substr(i, 40);
    if (text[i] != '<')
      continue;
    const auto end = text.find('>', i);
    if (end == std::string::npos)
      return testing::AssertionFailure() << "a tag without end: " << text.substr(i, 40);
    const std::string tag = text.substr(i + 1, end - i - 1);
    i = end;
    if (tag.starts_with('!'))
      continue;
    if (tag.find('<') != std::string::npos || std::count(tag.begin(), tag.end(), '"') % 2 != 0)
      return testing::AssertionFailure() << "broken tag: " << tag;
    if (tag.starts_with('/')) {
      if (open.empty() || open.back() != tag.substr(1))
        return testing::AssertionFailure() << "nothing open for <" << tag << ">";
      open.pop_back();
    } else {
      roots += open.empty() ? 1U : 0U;
      if (!tag.ends_with('/'))
        open.push_back(tag.substr(0, tag.find_first_of(" \n")));
    }
  }
  if (!open.empty() || roots != 1)
    return testing::AssertionFailure() << open.size() << " left open, " << roots << " roots";
  return testing::AssertionSuccess();
}

}  // namespace brinegate
