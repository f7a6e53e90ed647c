// A connection as a stream of events.

#include "server/connection_internal.hpp"

#include <boost/asio/post.hpp>
#include <boost/asio/write.hpp>

#include "server/site.hpp"

namespace layproof::server::internal {

void Connection::send_events(const std::shared_ptr<const std::string>& events) {
    unsent_ += events->size();
    if (unsent_ > Transport::kMostUnsent) return close();
    queue_.push_back(events);
    if (queue_.size() == 1) write_events();
}

void Connection::begin_stream(Response response) {
    const std::string head = head_of(response, true);
    const bool is_heard = work([self = shared_from_this()] {
        auto job = std::make_shared<const std::string>(self->shared_.site->job_now());
        net::post(self->stream_.get_executor(), [self, job] {
            if (!job->empty() && self->shared_.streams.contains(self)) self->send_events(job);
        });
    });
    if (!is_heard) return;
    // One of the streams before it is told anything: no change in between is lost to it, and the
    // end of the work it is told of comes after.
    shared_.streams.insert(shared_from_this());
    ++shared_.stream_count;
    watch_for_end();
    send_events(std::make_shared<const std::string>(head + shared_.site->first_events()));
}

void Connection::watch_for_end() {
    stream_.expires_never();
    buffer_.clear();
    stream_.async_read_some(buffer_.prepare(512),
                            [self = shared_from_this()](error_code error, std::size_t) {
                                if (error) return self->close();
                                self->watch_for_end();
                            });
}

void Connection::write_events() {
    stream_.expires_after(shared_.waits.write);
    net::async_write(stream_, net::buffer(*queue_.front()),
                     [self = shared_from_this()](error_code error, std::size_t bytes) {
                         if (error) return self->close();
                         self->unsent_ -= bytes;
                         self->queue_.pop_front();
                         if (!self->queue_.empty()) self->write_events();
                     });
}

}  // namespace layproof::server::internal
