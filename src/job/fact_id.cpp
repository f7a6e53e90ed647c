#include "job/fact_id.hpp"

#include <cstddef>

#include "job/digest.hpp"

namespace layproof::job {
namespace {

constexpr std::uint64_t kVersion = 0x7;
constexpr std::uint64_t kVariant = 0x2;
constexpr std::uint64_t kLowMask = (std::uint64_t{1} << 62U) - 1;

/// The 74 random bits: 12 in `high`, 62 in `low`.
struct Tail {
    std::uint64_t high = 0;
    std::uint64_t low = 0;
};

std::uint64_t read_u64(const std::uint8_t* bytes) {
    std::uint64_t value = 0;
    for (int i = 0; i < 8; ++i) value = (value << 8U) | bytes[i];
    return value;
}

void write_u64(std::uint64_t value, std::uint8_t* bytes) {
    for (int i = 7; i >= 0; --i) {
        bytes[i] = static_cast<std::uint8_t>(value & 0xFFU);
        value >>= 8U;
    }
}

FactId assemble(std::int64_t time_ms, const Tail& tail) {
    FactId id;
    write_u64((static_cast<std::uint64_t>(time_ms) << 16U) | (kVersion << 12U) | tail.high,
              id.bytes.data());
    write_u64((kVariant << 62U) | tail.low, id.bytes.data() + 8);
    return id;
}

Tail tail_of(const FactId& id) {
    return {read_u64(id.bytes.data()) & 0xFFFU, read_u64(id.bytes.data() + 8) & kLowMask};
}

}  // namespace

std::int64_t FactId::time_ms() const {
    return static_cast<std::int64_t>(read_u64(bytes.data()) >> 16U);
}

std::string FactId::to_text() const {
    const std::string hex = to_hex(bytes);
    return hex.substr(0, 8) + "-" + hex.substr(8, 4) + "-" + hex.substr(12, 4) + "-" +
           hex.substr(16, 4) + "-" + hex.substr(20);
}

std::optional<FactId> FactId::from_text(std::string_view text) {
    std::string digits;
    for (std::size_t i = 0; i < text.size(); ++i) {
        const bool dash_place = i == 8 || i == 13 || i == 18 || i == 23;
        if (text[i] == '-' && text.size() == 36 && dash_place) continue;
        digits += text[i];
    }
    FactId id;
    if (!from_hex(digits, id.bytes)) return std::nullopt;
    return id;
}

FactId FactId::last_of(std::int64_t time_ms) {
    if (time_ms < 0) return FactId{};
    FactId id;
    id.bytes.fill(0xFF);
    if (time_ms < kLastIdTime_ms) {
        write_u64((static_cast<std::uint64_t>(time_ms) << 16U) | 0xFFFFU, id.bytes.data());
    }
    return id;
}

std::optional<FactId> IdMaker::next(std::int64_t time_ms) {
    if (time_ms < 0 || time_ms > kLastIdTime_ms) return std::nullopt;
    std::array<std::uint8_t, 16> random{};
    if (!entropy_->fill(random)) return std::nullopt;

    if (last_.has_value()) {
        const std::int64_t back = last_->time_ms() - time_ms;
        if (back > 0 && back <= kClockSlack_ms) time_ms = last_->time_ms();
    }
    Tail tail{read_u64(random.data()) & 0xFFFU, read_u64(random.data() + 8) & kLowMask};
    if (last_.has_value() && last_->time_ms() == time_ms) {
        const Tail before = tail_of(*last_);
        const std::uint64_t step = (read_u64(random.data()) >> 32U) + 1;
        tail = {before.high, before.low + step};
        if (tail.low > kLowMask) {
            tail = {before.high + 1, tail.low & kLowMask};
            // All 74 bits used up within one millisecond: the next millisecond begins.
            if (tail.high > 0xFFFU) {
                if (time_ms == kLastIdTime_ms) return std::nullopt;
                ++time_ms;
                tail.high = 0;
            }
        }
    }
    last_ = assemble(time_ms, tail);
    return last_;
}

}  // namespace layproof::job
