#pragma once
// A job served as a page: the open job, the page and the acts over HTTP, and events when the job
// file changes, whoever changed it.

#include <cstdint>
#include <functional>
#include <memory>
#include <string>
#include <string_view>

#include "base/result.hpp"
#include "door/door.hpp"
#include "job/sources.hpp"
#include "server/waits.hpp"

namespace layproof::server {

struct ServerOptions {
    std::string address = "127.0.0.1";
    std::uint16_t port = 0;  ///< 0: any that is free
    bool must_pair = false;  ///< devices send a code first
    acts::DoorOptions door;
    Waits waits;
    std::function<void(std::string_view)> log;        ///< one line for each refused request
    std::function<void(std::string_view)> show_code;  ///< every new pairing code
};

class Server {
public:
    /// Opens the job and listens. Clock and entropy must outlive the server.
    static Result<std::unique_ptr<Server>> start(const std::string& job_path,
                                                 const ServerOptions& options, job::Clock& clock,
                                                 job::Entropy& entropy);
    ~Server();

    std::uint16_t port() const;
    bool is_loopback() const;
    /// From here on SIGINT and SIGTERM end wait(), and not the process. Before anybody is told that
    /// the server is open, so that a quick Ctrl-C ends it cleanly too.
    void heed_signals();
    /// Returns when the process is told to end.
    void wait();
    void stop();

private:
    struct State;
    explicit Server(std::unique_ptr<State> state);
    std::unique_ptr<State> state_;
};

}  // namespace layproof::server
