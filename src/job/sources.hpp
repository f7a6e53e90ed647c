#pragma once
// Where a job file gets the time and its random bits from. Handed in, so that a test decides both.

#include <cstdint>
#include <span>

namespace layproof::job {

class Clock {
public:
    virtual ~Clock() = default;
    /// UTC milliseconds since 1970-01-01.
    virtual std::int64_t now_ms() = 0;
};

class Entropy {
public:
    virtual ~Entropy() = default;
    /// Fills all of `out` with unpredictable bits. False: there are none to be had.
    virtual bool fill(std::span<std::uint8_t> out) = 0;
};

/// The machine's clock.
class SystemClock final : public Clock {
public:
    std::int64_t now_ms() override;
};

/// The operating system's random source.
class SystemEntropy final : public Entropy {
public:
    bool fill(std::span<std::uint8_t> out) override;
};

}  // namespace layproof::job
