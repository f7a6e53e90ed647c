#include "server/server.hpp"

#include <atomic>
#include <chrono>
#include <condition_variable>
#include <mutex>
#include <optional>
#include <thread>
#include <utility>

#include "server/pairing.hpp"
#include "server/site.hpp"
#include "server/transport.hpp"

namespace layproof::server {
namespace {

constexpr std::chrono::milliseconds kBetweenLooks{250};
constexpr std::chrono::seconds kBetweenInboxLooks{1};

}  // namespace

struct Server::State {
    std::unique_ptr<Transport> transport;
    std::unique_ptr<acts::Door> door;
    std::optional<Pairing> pairing;
    std::optional<Site> site;

    std::mutex mutex;
    std::condition_variable wake;
    bool is_ending = false;
    std::thread watcher;

    /// Tells the streams when the job file changed and what lasts, and looks into the inbox.
    void watch() {
        std::uint64_t seen = 0;
        auto next_inbox = std::chrono::steady_clock::now();
        std::unique_lock lock(mutex);
        while (!is_ending) {
            lock.unlock();
            if (std::chrono::steady_clock::now() >= next_inbox) {
                next_inbox = std::chrono::steady_clock::now() + kBetweenInboxLooks;
                if (door->look_at_inbox())
                    transport->publish(Site::event("inbox", *door->ask("inbox", "{}").json));
            }
            door->look_at_work();
            if (transport->streams() > 0) {
                const auto state = door->state();
                if (state && state->generation != seen) {
                    seen = state->generation;
                    transport->publish(Site::job_event(*state));
                }
            }
            lock.lock();
            wake.wait_for(lock, kBetweenLooks, [&] { return is_ending; });
        }
    }

    void end() {
        if (door) door->close();
        {
            const std::lock_guard lock(mutex);
            is_ending = true;
        }
        wake.notify_all();
        if (watcher.joinable()) watcher.join();
        if (transport) transport->stop();
    }
};

Server::Server(std::unique_ptr<State> state) : state_(std::move(state)) {}

Server::~Server() {
    stop();
}

Result<std::unique_ptr<Server>> Server::start(const std::string& job_path,
                                              const ServerOptions& options, job::Clock& clock,
                                              job::Entropy& entropy) {
    auto state = std::make_unique<State>();
    auto transport = Transport::listen(options.address, options.port, options.waits);
    if (!transport) return transport.refusal();
    state->transport = std::move(*transport);
    Transport* const to = state->transport.get();
    auto door =
        acts::Door::open(job_path, options.door, clock, entropy,
                         [to](const acts::WorkNote& note) { to->publish(Site::work_event(note)); });
    if (!door) return door.refusal();
    state->door = std::move(*door);
    if (options.must_pair) state->pairing.emplace(entropy, options.show_code);
    state->site.emplace(*state->door, state->pairing ? &*state->pairing : nullptr, to->port(),
                        options.log);
    to->start(*state->site);
    State* const running = state.get();
    state->watcher = std::thread([running] { running->watch(); });
    return std::unique_ptr<Server>(new Server(std::move(state)));
}

std::uint16_t Server::port() const {
    return state_->transport->port();
}

bool Server::is_loopback() const {
    return state_->transport->is_loopback();
}

void Server::heed_signals() {
    state_->transport->heed_signals();
}

void Server::wait() {
    state_->transport->wait();
}

void Server::stop() {
    state_->end();
}

}  // namespace layproof::server
