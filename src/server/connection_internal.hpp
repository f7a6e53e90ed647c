#pragma once
// One client's connection, and what all connections share. For this room only.

// Beast asks for <utility> before anything of its own in C++20.
#include <utility>

#include <atomic>
#include <boost/asio/ip/tcp.hpp>
#include <boost/asio/thread_pool.hpp>
#include <boost/beast/core/flat_buffer.hpp>
#include <boost/beast/core/tcp_stream.hpp>
#include <boost/beast/http/parser.hpp>
#include <boost/beast/http/string_body.hpp>
#include <cstdint>
#include <deque>
#include <functional>
#include <memory>
#include <optional>
#include <set>
#include <string>

#include "server/message.hpp"
#include "server/transport.hpp"

namespace layproof::server::internal {

namespace net = boost::asio;
namespace beast = boost::beast;
namespace http = beast::http;
using boost::system::error_code;
using net::ip::tcp;

class Connection;

/// What the connections share; touched by the thread that reads and writes, but for the atomics.
struct Shared {
    Site* site = nullptr;
    net::thread_pool* workers = nullptr;
    Waits waits;
    std::atomic<std::size_t> connections = 0;
    std::atomic<std::size_t> waiting = 0;
    std::atomic<std::size_t> stream_count = 0;
    std::set<std::shared_ptr<Connection>> streams;
};

/// Requests and their responses one after the other, or a stream of events. Lives as long as
/// something is waited for.
class Connection : public std::enable_shared_from_this<Connection> {
public:
    Connection(tcp::socket socket, Shared& shared) : stream_(std::move(socket)), shared_(shared) {
        ++shared_.connections;
    }
    ~Connection() { --shared_.connections; }
    Connection(const Connection&) = delete;
    Connection& operator=(const Connection&) = delete;

    void start();
    /// Adds events to a stream; one that is too far behind is closed.
    void send_events(const std::shared_ptr<const std::string>& events);

private:
    // A request.
    /// Between two requests a client may be idle for longer than within one.
    void wait_for_next();
    void read_head();
    void on_head(error_code error);
    void read_fields();
    void send_continue();
    void read_body();
    void on_body(error_code error);
    /// Has it done by another thread; false and refused when too much is waiting already.
    bool work(std::function<void()> job);

    // Its response.
    std::string head_of(const Response& response, bool is_stream) const;
    void write(Response response);
    void linger();
    void swallow(std::size_t swallowed);
    void close();

    // A stream of events.
    void begin_stream(Response response);
    /// A client of a stream sends nothing more: what comes is its going away.
    void watch_for_end();
    void write_events();

    beast::tcp_stream stream_;
    Shared& shared_;
    beast::flat_buffer buffer_{Transport::kLargestHead + (std::size_t{1} << 17U)};
    std::optional<http::request_parser<http::string_body>> parser_;
    Request request_;
    bool keep_ = false;
    std::string head_;
    Response response_;
    std::deque<std::shared_ptr<const std::string>> queue_;
    std::size_t unsent_ = 0;
};

}  // namespace layproof::server::internal
