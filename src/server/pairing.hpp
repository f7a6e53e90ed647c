#pragma once
// Pairing of devices with a server that others can reach: a code of six digits is shown on the
// screen of the machine, works once, and gives the device that sends it a token. After
// kMostTries wrong ones a new code is shown, and no try is taken for a while that doubles each
// time. May be used by several threads.

#include <chrono>
#include <functional>
#include <mutex>
#include <string>
#include <string_view>
#include <vector>

#include "base/result.hpp"
#include "job/sources.hpp"

namespace layproof::server {

class Pairing {
public:
    using Clock = std::chrono::steady_clock;
    static constexpr int kMostTries = 5;
    static constexpr std::size_t kMostTokens = 256;  ///< the oldest goes
    static constexpr std::chrono::seconds kFirstWait{10};
    static constexpr std::chrono::seconds kLongestWait{600};

    /// `show` is called with every new code, the first one before this returns. Entropy must
    /// outlive the pairing.
    Pairing(job::Entropy& entropy, std::function<void(std::string_view)> show);

    /// A token of 128 bits in hexadecimal. Refuses pairing_code_wrong, server_busy while no try is
    /// taken.
    Result<std::string> pair(std::string_view code, Clock::time_point now);

    bool is_paired(std::string_view token) const;

private:
    void new_code();

    job::Entropy& entropy_;
    std::function<void(std::string_view)> show_;
    mutable std::mutex mutex_;
    std::string code_;  ///< empty: no random bits were to be had, and nobody is paired
    int tries_ = 0;
    std::chrono::seconds wait_ = kFirstWait;
    Clock::time_point closed_until_{};
    std::vector<std::string> tokens_;
};

/// Whether two texts are equal, in a time that depends on their lengths alone.
bool equal_in_constant_time(std::string_view a, std::string_view b);

}  // namespace layproof::server
