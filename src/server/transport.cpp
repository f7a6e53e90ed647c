// Beast asks for <utility> before anything of its own in C++20.
#include <utility>

#include "server/transport.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <atomic>
#include <boost/asio/bind_executor.hpp>
#include <boost/asio/io_context.hpp>
#include <boost/asio/ip/tcp.hpp>
#include <boost/asio/post.hpp>
#include <boost/asio/signal_set.hpp>
#include <boost/asio/steady_timer.hpp>
#include <boost/asio/thread_pool.hpp>
#include <boost/asio/write.hpp>
#include <boost/beast/core/flat_buffer.hpp>
#include <boost/beast/core/tcp_stream.hpp>
#include <boost/beast/http/parser.hpp>
#include <boost/beast/http/read.hpp>
#include <boost/beast/http/string_body.hpp>
#include <condition_variable>
#include <deque>
#include <limits>
#include <mutex>
#include <optional>
#include <set>
#include <thread>

#include "server/site.hpp"

namespace layproof::server {
namespace {

namespace net = boost::asio;
namespace beast = boost::beast;
namespace http = beast::http;
using boost::system::error_code;
using net::ip::tcp;

/// How long a client that was refused may go on sending, so that it reads why before it is cut off.
constexpr std::chrono::seconds kLingerTime{2};
constexpr std::size_t kMostLingering = std::size_t{32} << 20U;

std::string text_of(boost::string_view view) {
    return {view.data(), view.size()};
}

std::string_view reason_of(int status) {
    const auto view = http::obsolete_reason(static_cast<http::status>(status));
    return {view.data(), view.size()};
}

class Session;

/// What the sessions share; touched by the thread that reads and writes, but for the atomics.
struct Shared {
    Site* site = nullptr;
    net::thread_pool* workers = nullptr;
    std::atomic<std::size_t> connections = 0;
    std::atomic<std::size_t> waiting = 0;
    std::atomic<std::size_t> stream_count = 0;
    std::set<std::shared_ptr<Session>> streams;
};

class Session : public std::enable_shared_from_this<Session> {
public:
    Session(tcp::socket socket, Shared& shared) : stream_(std::move(socket)), shared_(shared) {
        ++shared_.connections;
    }
    ~Session() { --shared_.connections; }
    Session(const Session&) = delete;
    Session& operator=(const Session&) = delete;

    void start() {
        error_code ignored;
        stream_.socket().set_option(tcp::no_delay(true), ignored);
        read_head();
    }

    /// Adds events to a stream; one that is too far behind is closed.
    void send_events(const std::shared_ptr<const std::string>& events) {
        unsent_ += events->size();
        if (unsent_ > Transport::kMostUnsent) return close();
        queue_.push_back(events);
        if (queue_.size() == 1) write_events();
    }

private:
    void close() {
        if (shared_.streams.erase(shared_from_this()) > 0) --shared_.stream_count;
        error_code ignored;
        stream_.socket().shutdown(tcp::socket::shutdown_both, ignored);
        stream_.close();
    }

    /// Between two requests a client may be idle for longer than within one.
    void wait_for_next() {
        parser_.reset();
        if (buffer_.size() > 0) return read_head();
        stream_.expires_after(Transport::kIdleTime);
        stream_.async_read_some(buffer_.prepare(4096),
                                [self = shared_from_this()](error_code error, std::size_t bytes) {
                                    if (error) return self->close();
                                    self->buffer_.commit(bytes);
                                    self->read_head();
                                });
    }

    void read_head() {
        parser_.emplace();
        parser_->header_limit(static_cast<std::uint32_t>(Transport::kLargestHead));
        // The site says how large once it has seen the head.
        parser_->body_limit(std::numeric_limits<std::uint64_t>::max());
        stream_.expires_after(Transport::kHeadTime);
        http::async_read_header(
            stream_, buffer_, *parser_,
            [self = shared_from_this()](error_code error, std::size_t) { self->on_head(error); });
    }

    void on_head(error_code error) {
        request_ = {};
        if (error) {
            // What is no HTTP gets an answer, if there is anybody to take it.
            const bool is_protocol =
                error.category() == http::make_error_code(http::error::end_of_stream).category() &&
                error != http::error::end_of_stream && error != http::error::partial_message;
            if (!is_protocol) return close();
            keep_ = false;
            const bool is_long = error == http::error::header_limit;
            return write(shared_.site->refuse(
                request_, is_long ? 431 : 400,
                {is_long ? ErrorCode::request_too_large : ErrorCode::request_malformed,
                 {},
                 is_long ? "a very long head of a request" : "something that is no HTTP request",
                 is_long ? fmt::format("at most {} bytes", Transport::kLargestHead)
                         : "a request of HTTP/1.1"}));
        }
        read_fields();
        const auto length = parser_->content_length();
        const bool has_body = parser_->chunked() || (length && *length > 0);
        std::uint64_t largest_body = 0;
        auto answer = shared_.site->look(request_, largest_body);
        if (!answer && length && *length > largest_body)
            answer = shared_.site->refuse(request_, 413,
                                          {ErrorCode::request_too_large,
                                           {},
                                           fmt::format("a body of {} bytes", *length),
                                           fmt::format("at most {}", largest_body)});
        keep_ = parser_->get().keep_alive() && !(answer && has_body);
        if (answer && answer->is_stream) return begin_stream(std::move(*answer));
        if (answer) return write(std::move(*answer));
        parser_->body_limit(largest_body);
        if (parser_->get()[http::field::expect] == "100-continue") return send_continue();
        read_body();
    }

    void read_fields() {
        const auto& head = parser_->get();
        const std::string target = text_of(head.target());
        const std::size_t question = target.find('?');
        request_.method = text_of(head.method_string());
        request_.path = target.substr(0, question);
        if (question != std::string::npos) request_.query = target.substr(question + 1);
        request_.has_one_host = head.count(http::field::host) == 1;
        request_.host = text_of(head[http::field::host]);
        request_.origin = text_of(head[http::field::origin]);
        request_.fetch_site = text_of(head["Sec-Fetch-Site"]);
        request_.content_type = text_of(head[http::field::content_type]);
        request_.authorization = text_of(head[http::field::authorization]);
        request_.accept_encoding = text_of(head[http::field::accept_encoding]);
        request_.if_none_match = text_of(head[http::field::if_none_match]);
        error_code error;
        const auto end = stream_.socket().local_endpoint(error);
        if (!error) request_.own_address = end.address().to_string();
    }

    void send_continue() {
        static constexpr std::string_view kContinue = "HTTP/1.1 100 Continue\r\n\r\n";
        net::async_write(stream_, net::buffer(kContinue.data(), kContinue.size()),
                         [self = shared_from_this()](error_code error, std::size_t) {
                             if (error) return self->close();
                             self->read_body();
                         });
    }

    void read_body() {
        stream_.expires_after(Transport::kBodyTime);
        http::async_read(
            stream_, buffer_, *parser_,
            [self = shared_from_this()](error_code error, std::size_t) { self->on_body(error); });
    }

    void on_body(error_code error) {
        if (error == http::error::body_limit) {
            keep_ = false;
            return write(shared_.site->refuse(
                request_, 413,
                {ErrorCode::request_too_large, {}, "a larger body", "a smaller one"}));
        }
        if (error) return close();
        request_.body = std::move(parser_->get().body());
        work([self = shared_from_this()] {
            Response answer = self->shared_.site->answer(self->request_);
            net::post(self->stream_.get_executor(), [self, answer = std::move(answer)]() mutable {
                self->write(std::move(answer));
            });
        });
    }

    /// Has it done by another thread, unless too much is waiting already.
    template <class Job>
    void work(Job job) {
        if (shared_.waiting >= Transport::kMostWaiting)
            return write(shared_.site->refuse(request_, 503,
                                              {ErrorCode::server_busy,
                                               {},
                                               "more requests than can be worked on",
                                               "the same request a little later"}));
        ++shared_.waiting;
        // No request and no response is timed while it is worked on.
        stream_.expires_never();
        net::post(*shared_.workers, [job = std::move(job), shared = &shared_] {
            --shared->waiting;
            job();
        });
    }

    std::string head_of(const Response& response, bool is_stream) const {
        std::string head =
            fmt::format("HTTP/1.1 {} {}\r\n", response.status, reason_of(response.status));
        for (const auto& [name, value] : response.headers)
            head += fmt::format("{}: {}\r\n", name, value);
        if (!is_stream && response.status != 304)
            head += fmt::format("Content-Length: {}\r\n", response.body().size());
        head +=
            keep_ && !is_stream ? "Connection: keep-alive\r\n\r\n" : "Connection: close\r\n\r\n";
        return head;
    }

    void write(Response response) {
        response_ = std::move(response);
        head_ = head_of(response_, false);
        const bool has_body = request_.method != "HEAD" && response_.status != 304;
        const std::string_view body = has_body ? response_.body() : std::string_view();
        stream_.expires_after(Transport::kWriteTime);
        const std::array<net::const_buffer, 2> parts{net::buffer(head_),
                                                     net::buffer(body.data(), body.size())};
        net::async_write(stream_, parts,
                         [self = shared_from_this()](error_code error, std::size_t) {
                             if (error) return self->close();
                             if (self->keep_) return self->wait_for_next();
                             self->linger();
                         });
    }

    void linger() {
        error_code ignored;
        stream_.socket().shutdown(tcp::socket::shutdown_send, ignored);
        stream_.expires_after(kLingerTime);
        swallow(0);
    }

    void swallow(std::size_t swallowed) {
        buffer_.clear();
        stream_.async_read_some(buffer_.prepare(65536), [self = shared_from_this(), swallowed](
                                                            error_code error, std::size_t bytes) {
            if (error || swallowed + bytes > kMostLingering) return self->close();
            self->swallow(swallowed + bytes);
        });
    }

    void begin_stream(Response response) {
        head_ = head_of(response, true);
        work([self = shared_from_this()] {
            auto first = std::make_shared<const std::string>(self->head_ +
                                                             self->shared_.site->first_events());
            net::post(self->stream_.get_executor(), [self, first] {
                self->shared_.streams.insert(self);
                ++self->shared_.stream_count;
                self->watch_for_end();
                self->send_events(first);
            });
        });
    }

    /// A client of a stream sends nothing more: what comes is its going away.
    void watch_for_end() {
        stream_.expires_never();
        buffer_.clear();
        stream_.async_read_some(buffer_.prepare(512),
                                [self = shared_from_this()](error_code error, std::size_t) {
                                    if (error) return self->close();
                                    self->watch_for_end();
                                });
    }

    void write_events() {
        stream_.expires_after(Transport::kWriteTime);
        net::async_write(stream_, net::buffer(*queue_.front()),
                         [self = shared_from_this()](error_code error, std::size_t bytes) {
                             if (error) return self->close();
                             self->unsent_ -= bytes;
                             self->queue_.pop_front();
                             if (!self->queue_.empty()) self->write_events();
                         });
    }

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

Refusal no_address(const std::string& address, std::uint16_t port, const error_code& error) {
    return {ErrorCode::cannot_read,
            {fmt::format("{}:{}", address, port), 0, 0},
            error.message(),
            "an address of this machine and a port that is free (--port 0 takes any)"};
}

}  // namespace

struct Transport::State {
    Shared shared;  // outlives the sessions, which live in the context
    net::io_context context{1};
    tcp::acceptor acceptor{context};
    net::steady_timer heartbeat{context};
    net::steady_timer breath{context};
    net::signal_set signals{context};
    net::thread_pool workers{kWorkers};
    std::thread thread;
    bool is_loopback = true;

    std::mutex mutex;
    std::condition_variable ended;
    bool is_ended = false;

    void accept() {
        acceptor.async_accept([this](error_code error, tcp::socket socket) {
            if (error == net::error::operation_aborted) return;
            if (error) {
                // Out of file descriptors, most likely: some connection will end.
                breath.expires_after(std::chrono::milliseconds(100));
                breath.async_wait([this](error_code stopped) {
                    if (!stopped) accept();
                });
                return;
            }
            if (shared.connections < kMostConnections)
                std::make_shared<Session>(std::move(socket), shared)->start();
            accept();
        });
    }

    void send_to_all(const std::shared_ptr<const std::string>& events) {
        const std::vector<std::shared_ptr<Session>> all(shared.streams.begin(),
                                                        shared.streams.end());
        for (const auto& session : all) session->send_events(events);
    }

    void beat() {
        heartbeat.expires_after(kHeartbeat);
        heartbeat.async_wait([this](error_code stopped) {
            if (stopped) return;
            send_to_all(std::make_shared<const std::string>(":\n\n"));
            beat();
        });
    }

    void say_ended() {
        {
            const std::lock_guard lock(mutex);
            is_ended = true;
        }
        ended.notify_all();
    }
};

Transport::Transport(std::unique_ptr<State> state) : state_(std::move(state)) {}

Transport::~Transport() {
    stop();
}

Result<std::unique_ptr<Transport>> Transport::listen(const std::string& address,
                                                     std::uint16_t port) {
    auto state = std::make_unique<State>();
    error_code error;
    const auto where = net::ip::make_address(address, error);
    if (error) return no_address(address, port, error);
    const tcp::endpoint end(where, port);
    state->acceptor.open(end.protocol(), error);
    if (!error) state->acceptor.set_option(net::socket_base::reuse_address(true), error);
    if (!error) state->acceptor.bind(end, error);
    if (!error) state->acceptor.listen(net::socket_base::max_listen_connections, error);
    if (error) return no_address(address, port, error);
    state->is_loopback = where.is_loopback();
    return std::unique_ptr<Transport>(new Transport(std::move(state)));
}

std::uint16_t Transport::port() const {
    error_code error;
    const auto end = state_->acceptor.local_endpoint(error);
    return error ? std::uint16_t{0} : end.port();
}

bool Transport::is_loopback() const {
    return state_->is_loopback;
}

void Transport::start(Site& site) {
    state_->shared.site = &site;
    state_->shared.workers = &state_->workers;
    state_->accept();
    state_->beat();
    state_->thread = std::thread([state = state_.get()] { state->context.run(); });
}

void Transport::publish(std::string events) {
    auto shared = std::make_shared<const std::string>(std::move(events));
    net::post(state_->context, [state = state_.get(), shared] { state->send_to_all(shared); });
}

std::size_t Transport::streams() const {
    return state_->shared.stream_count;
}

void Transport::heed_signals() {
    error_code ignored;
    state_->signals.add(SIGINT, ignored);
    state_->signals.add(SIGTERM, ignored);
    state_->signals.async_wait([state = state_.get()](error_code, int) { state->say_ended(); });
}

void Transport::wait() {
    std::unique_lock lock(state_->mutex);
    state_->ended.wait(lock, [&] { return state_->is_ended; });
}

void Transport::stop() {
    if (!state_) return;
    state_->say_ended();
    if (state_->thread.joinable()) {
        net::post(state_->context, [state = state_.get()] {
            error_code ignored;
            state->acceptor.close(ignored);
        });
        // What is being worked on ends first; its answers are not waited for.
        state_->workers.join();
        state_->context.stop();
        state_->thread.join();
    }
    state_->shared.streams.clear();
}

}  // namespace layproof::server
