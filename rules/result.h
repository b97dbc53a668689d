// SPDX-License-Identifier: Apache-2.0
// A value, or the error that stands in its place. For what can go wrong in the world; our own bugs
// are assertions. (std::expected is not usable with the compilers of Debian 12.)
#pragma once

#include <cassert>
#include <string>
#include <utility>
#include <variant>

namespace brinegate {

// What went wrong, in a sentence that says what, where, and what to write or do instead.
struct Error {
  std::string message;
};

template <class T, class E = Error>
class [[nodiscard]] Result {
 public:
  Result(T value) : state_(std::in_place_index<0>, std::move(value)) {}  // NOLINT(*-explicit-*)
  Result(E error) : state_(std::in_place_index<1>, std::move(error)) {}  // NOLINT(*-explicit-*)

  [[nodiscard]] bool ok() const { return state_.index() == 0; }
  explicit operator bool() const { return ok(); }

  [[nodiscard]] const T& value() const& { return *std::get_if<0>(checked(0)); }
  [[nodiscard]] T&& value() && { return std::move(*std::get_if<0>(checked(0))); }
  [[nodiscard]] const E& error() const { return *std::get_if<1>(checked(1)); }

  const T& operator*() const& { return value(); }
  const T* operator->() const { return &value(); }

 private:
  const std::variant<T, E>* checked(std::size_t index) const {
    assert(state_.index() == index);
    (void)index;
    return &state_;
  }
  std::variant<T, E>* checked(std::size_t index) {
    assert(state_.index() == index);
    (void)index;
    return &state_;
  }

  std::variant<T, E> state_;
};

// The result of something that has no value to give.
struct Done {};

}  // namespace brinegate
