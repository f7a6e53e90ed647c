#pragma once
// The name of a fact, a writer or a job: 128 bits, in order of time, the same on no two machines.
//
// Layout of version 7 of RFC 9562 (section 5.7): 48 bits of UTC milliseconds, 4 bits version,
// 2 bits variant, 74 random bits. Within one millisecond the maker adds a random step of 1 to 2^32
// to the 74 bits (section 6.2, method 2), so that ids of one maker always rise. Two makers meet
// with a probability of about n² / 2^75 for n ids made in the same millisecond.

#include <array>
#include <compare>
#include <cstdint>
#include <optional>
#include <string>
#include <string_view>

#include "job/sources.hpp"

namespace layproof::job {

struct FactId {
    std::array<std::uint8_t, 16> bytes{};

    /// The time in it: UTC milliseconds since 1970-01-01.
    std::int64_t time_ms() const;
    /// "0190163d-8694-739b-aea5-966c26f8ad91".
    std::string to_text() const;
    /// 32 hexadecimal digits, with the four dashes or without; anything else is nothing.
    static std::optional<FactId> from_text(std::string_view text);
    /// The largest id of that millisecond: id <= last_of(t) says "made at t or before".
    static FactId last_of(std::int64_t time_ms);

    friend auto operator<=>(const FactId&, const FactId&) = default;
};

using WriterId = FactId;
using JobId = FactId;

/// The last millisecond an id can carry (year 10889).
inline constexpr std::int64_t kLastIdTime_ms = (std::int64_t{1} << 48) - 1;

/// Makes rising ids. A time that goes back by at most kClockSlack_ms is taken as the last one
/// given; a time that goes back further is believed.
class IdMaker {
public:
    static constexpr std::int64_t kClockSlack_ms = 3'600'000;

    explicit IdMaker(Entropy& entropy) : entropy_(&entropy) {}

    /// Ids made from here on follow `id` (within the slack).
    void continue_after(const FactId& id) { last_ = id; }

    /// Nothing, if the entropy source gave nothing or the time does not fit into an id.
    std::optional<FactId> next(std::int64_t time_ms);

private:
    Entropy* entropy_;
    std::optional<FactId> last_;
};

}  // namespace layproof::job
