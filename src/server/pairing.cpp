#include "server/pairing.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cstdint>
#include <span>
#include <utility>

namespace layproof::server {

bool equal_in_constant_time(std::string_view a, std::string_view b) {
    if (a.size() != b.size()) return false;
    unsigned difference = 0;
    for (std::size_t i = 0; i < a.size(); ++i)
        difference |= static_cast<unsigned>(static_cast<unsigned char>(a[i])) ^
                      static_cast<unsigned>(static_cast<unsigned char>(b[i]));
    return difference == 0;
}

Pairing::Pairing(job::Entropy& entropy, std::function<void(std::string_view)> show)
    : entropy_(entropy), show_(std::move(show)) {
    new_code();
}

void Pairing::new_code() {
    tries_ = 0;
    code_.clear();
    // Numbers above the last whole million would make small codes likelier.
    constexpr std::uint32_t kCodes = 1'000'000;
    constexpr std::uint32_t kLimit = UINT32_MAX / kCodes * kCodes;
    std::array<std::uint8_t, 4> bits{};
    while (entropy_.fill(bits)) {
        std::uint32_t number = 0;
        for (const std::uint8_t byte : bits) number = number << 8U | byte;
        if (number >= kLimit) continue;
        code_ = fmt::format("{:06}", number % kCodes);
        break;
    }
    if (show_) show_(code_);
}

Result<std::string> Pairing::pair(std::string_view code, Clock::time_point now) {
    const std::lock_guard lock(mutex_);
    if (now < closed_until_)
        return Refusal{ErrorCode::server_busy,
                       {},
                       "a code after too many wrong ones",
                       "a little patience, then the new code that stands on the screen"};
    std::array<std::uint8_t, 16> bits{};
    if (!code_.empty() && equal_in_constant_time(code, code_) && entropy_.fill(bits)) {
        std::string token;
        for (const std::uint8_t byte : bits) token += fmt::format("{:02x}", byte);
        if (tokens_.size() == kMostTokens) tokens_.erase(tokens_.begin());
        tokens_.push_back(token);
        wait_ = kFirstWait;
        new_code();
        return token;
    }
    if (++tries_ >= kMostTries) {
        closed_until_ = now + wait_;
        wait_ = std::min(wait_ * 2, kLongestWait);
        new_code();
    }
    return Refusal{ErrorCode::pairing_code_wrong,
                   {},
                   "another code",
                   "the six digits that stand on the screen of the machine that serves"};
}

bool Pairing::is_paired(std::string_view token) const {
    const std::lock_guard lock(mutex_);
    bool is_known = false;
    for (const std::string& known : tokens_)
        is_known = equal_in_constant_time(token, known) || is_known;
    return is_known;
}

}  // namespace layproof::server
