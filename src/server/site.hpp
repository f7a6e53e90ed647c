#pragma once
// What the server answers to whom: the page, the acts of the open job, files, events. Knows nothing
// of connections.

#include <cstdint>
#include <functional>
#include <optional>
#include <string>
#include <string_view>

#include "door/door.hpp"
#include "server/message.hpp"
#include "server/pairing.hpp"

namespace layproof::server {

class Site {
public:
    static constexpr std::uint64_t kLargestRequest = std::uint64_t{1} << 20U;
    static constexpr std::uint64_t kLargestFile = std::uint64_t{8} << 20U;
    static constexpr std::size_t kLongestTarget = 2048;

    /// `pairing` null: nobody needs to be paired. `log` gets one line for each request refused.
    Site(acts::Door& door, Pairing* pairing, std::uint16_t port,
         std::function<void(std::string_view)> log);

    /// Looks at the head alone: an answer that needs no body, or nothing and how large the body may
    /// be. Quick: called between other connections' work.
    std::optional<Response> look(const Request& head, std::uint64_t& largest_body);

    /// The whole request. May take long.
    Response answer(const Request& request);

    /// A request that cannot even be read.
    Response refuse(const Request& head, int status, Refusal refusal);

    /// What a new stream begins with: how to come back, and the work that is going on.
    std::string first_events();
    /// Then, what the job holds now; empty when that cannot be read.
    std::string job_now();

    static std::string job_event(const acts::JobState& state);
    static std::string work_event(const acts::WorkNote& note);
    static std::string event(std::string_view name, std::string_view data);

private:
    bool is_own_host(const Request& head) const;
    bool is_own_origin(const Request& head) const;
    bool is_paired(const Request& head) const;
    Response page(const Request& head);
    Response record(const Request& head);
    Response pair(const Request& request);
    Response asked(const Request& request, acts::Asked answer);

    acts::Door& door_;
    Pairing* pairing_;
    std::uint16_t port_;
    std::function<void(std::string_view)> log_;
};

}  // namespace layproof::server
