#include "server/transport.hpp"

#include <fmt/format.h>

#include <boost/asio/io_context.hpp>
#include <boost/asio/post.hpp>
#include <boost/asio/signal_set.hpp>
#include <boost/asio/steady_timer.hpp>
#include <condition_variable>
#include <mutex>
#include <thread>
#include <vector>

#include "server/connection_internal.hpp"
#include "server/site.hpp"

namespace layproof::server {

namespace net = boost::asio;
using boost::system::error_code;
using internal::Connection;
using internal::Shared;
using net::ip::tcp;

namespace {

Refusal no_address(const std::string& address, std::uint16_t port, const error_code& error) {
    return {ErrorCode::cannot_listen,
            {fmt::format("{}:{}", address, port), 0, 0},
            error.message(),
            "an address of this machine and a port that is free (--port 0 takes any)"};
}

}  // namespace

struct Transport::State {
    Shared shared;  // outlives the connections, which live in the context
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
                std::make_shared<Connection>(std::move(socket), shared)->start();
            accept();
        });
    }

    void send_to_all(const std::shared_ptr<const std::string>& events) {
        const std::vector<std::shared_ptr<Connection>> all(shared.streams.begin(),
                                                           shared.streams.end());
        for (const auto& connection : all) connection->send_events(events);
    }

    void beat() {
        heartbeat.expires_after(shared.waits.heartbeat);
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

Result<std::unique_ptr<Transport>> Transport::listen(const std::string& address, std::uint16_t port,
                                                     const Waits& waits) {
    auto state = std::make_unique<State>();
    state->shared.waits = waits;
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
