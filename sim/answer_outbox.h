// SPDX-License-Identifier: Apache-2.0
// The answers of a served line on their way out: each after its delay, one write at a time, and no
// more than a bound at once, so that a client that only asks is not remembered for ever.
#pragma once

#include <cstddef>
#include <deque>
#include <memory>
#include <utility>

#include <boost/asio/buffer.hpp>
#include <boost/asio/steady_timer.hpp>
#include <boost/asio/write.hpp>

#include "rules/time.h"
#include "sim/modbus_slave.h"

namespace brinegate::sim {

// The stream must outlive the outbox; the owner holds both, is kept alive while an answer waits,
// and is told to stop() when a write fails.
template <class Stream>
class AnswerOutbox {
 public:
  AnswerOutbox(Stream& stream, std::size_t limit) : stream_(&stream), limit_(limit) {}

  [[nodiscard]] bool is_full() const { return waiting_ >= limit_; }

  template <class Owner>
  void send(const std::shared_ptr<Owner>& owner, Pdu frame, Duration delay) {
    ++waiting_;
    if (delay <= Duration::zero())
      return queue(owner, std::move(frame));
    auto timer = std::make_shared<boost::asio::steady_timer>(stream_->get_executor(), delay);
    timer->async_wait(
        [this, owner, timer, frame = std::move(frame)](boost::system::error_code error) mutable {
          if (!error)
            queue(owner, std::move(frame));
        });
  }

 private:
  template <class Owner>
  void queue(const std::shared_ptr<Owner>& owner, Pdu frame) {
    frames_.push_back(std::move(frame));
    if (frames_.size() == 1)
      write_next(owner);
  }

  template <class Owner>
  void write_next(const std::shared_ptr<Owner>& owner) {
    boost::asio::async_write(*stream_, boost::asio::buffer(frames_.front()),
                             [this, owner](boost::system::error_code error, std::size_t) {
                               if (error)
                                 return owner->stop();
                               frames_.pop_front();
                               --waiting_;
                               if (!frames_.empty())
                                 write_next(owner);
                             });
  }

  Stream* stream_;
  std::size_t limit_;
  std::deque<Pdu> frames_;
  std::size_t waiting_ = 0;
};

}  // namespace brinegate::sim
