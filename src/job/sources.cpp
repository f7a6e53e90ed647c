#include "job/sources.hpp"

#include <sys/random.h>

#include <algorithm>
#include <chrono>
#include <cstddef>

namespace layproof::job {

std::int64_t SystemClock::now_ms() {
    using namespace std::chrono;
    return duration_cast<milliseconds>(system_clock::now().time_since_epoch()).count();
}

bool SystemEntropy::fill(std::span<std::uint8_t> out) {
    // getentropy gives at most 256 bytes a call (POSIX.1-2024).
    constexpr std::size_t kMost = 256;
    while (!out.empty()) {
        const std::size_t count = std::min(out.size(), kMost);
        if (getentropy(out.data(), count) != 0) return false;
        out = out.subspan(count);
    }
    return true;
}

}  // namespace layproof::job
