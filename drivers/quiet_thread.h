// SPDX-License-Identifier: Apache-2.0
// A thread that takes no signals: those belong to the shell's loop.
#pragma once

#include <thread>
#include <utility>

#include <signal.h>

namespace brinegate::drivers {

template <class Function>
std::thread start_quiet_thread(Function function) {
  sigset_t all;
  sigset_t before;
  sigfillset(&all);
  pthread_sigmask(SIG_SETMASK, &all, &before);  // a new thread inherits the mask of its maker
  std::thread thread(std::move(function));
  pthread_sigmask(SIG_SETMASK, &before, nullptr);
  return thread;
}

}  // namespace brinegate::drivers
