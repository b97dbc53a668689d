// SPDX-License-Identifier: Apache-2.0
// Lets an exploration look at a private member: a key is exact only where it holds all of a
// machine's state, and no machine should show that to everybody. An explicit instantiation is the
// one place where a private name may be written ([temp.spec.general]). To be used in this
// namespace, with each name once.
//
//   BRINEGATE_REVEAL(gate_of, Station, gate_);   ...   station.*gate_of()
#pragma once

namespace brinegate::explore {

template <class Tag, auto member>
struct Reveal {
  friend constexpr auto revealed(Tag) { return member; }
};

}  // namespace brinegate::explore

#define BRINEGATE_REVEAL(function, Class, member)         \
  struct Tag_##function {                                 \
    friend constexpr auto revealed(Tag_##function);       \
  };                                                      \
  template struct Reveal<Tag_##function, &Class::member>; \
  constexpr auto function() {                             \
    return revealed(Tag_##function{});                    \
  }                                                       \
  static_assert(true)
