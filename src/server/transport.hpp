#pragma once
// Connections: HTTP/1.1 over TCP. The one place that knows the library.
//
// One thread reads and writes all connections, so that streams of events, idle and slow clients
// cost no threads; requests are worked on by a few others.

#include <cstdint>
#include <functional>
#include <memory>
#include <string>

#include "base/result.hpp"
#include "server/message.hpp"
#include "server/waits.hpp"

namespace layproof::server {

class Site;

class Transport {
public:
    static constexpr std::size_t kMostConnections = 512;
    static constexpr std::size_t kMostWaiting = 256;  ///< requests that no thread has begun
    static constexpr int kWorkers = 16;
    /// What a stream may be behind before it is closed; the client comes back by itself.
    static constexpr std::size_t kMostUnsent = std::size_t{1} << 20U;
    static constexpr std::size_t kLargestHead = std::size_t{16} << 10U;

    /// Listens at once. Refuses cannot_listen when the address cannot be had. Port 0: any that is
    /// free.
    static Result<std::unique_ptr<Transport>> listen(const std::string& address, std::uint16_t port,
                                                     const Waits& waits);
    ~Transport();

    std::uint16_t port() const;
    bool is_loopback() const;

    /// Begins to take connections for the site, which must outlive stop().
    void start(Site& site);

    /// Sends the text to all streams. From any thread.
    void publish(std::string events);
    /// Streams that are open.
    std::size_t streams() const;

    /// From here on SIGINT and SIGTERM end wait(), and not the process.
    void heed_signals();
    /// Returns when the process is told to end or stop() was called.
    void wait();

    /// Closes everything; returns when all work has ended.
    void stop();

private:
    struct State;
    explicit Transport(std::unique_ptr<State> state);
    std::unique_ptr<State> state_;
};

}  // namespace layproof::server
