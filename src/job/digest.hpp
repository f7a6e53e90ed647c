#pragma once
// SHA-256 (FIPS 180-4) of bytes, computed by Nettle, a library kept for this purpose.

#include <array>
#include <compare>
#include <cstddef>
#include <cstdint>
#include <memory>
#include <optional>
#include <span>
#include <string>
#include <string_view>
#include <vector>

namespace layproof::job {

using Bytes = std::vector<std::uint8_t>;

/// 32 bytes of SHA-256. Shown as 64 lower-case hexadecimal digits.
struct Digest {
    std::array<std::uint8_t, 32> bytes{};

    std::string to_text() const;
    /// 64 hexadecimal digits, either case; anything else is nothing.
    static std::optional<Digest> from_text(std::string_view text);
    friend auto operator<=>(const Digest&, const Digest&) = default;
};

/// Takes bytes in pieces: add() as often as wanted, then finish(), which starts afresh.
class Sha256 {
public:
    Sha256();
    ~Sha256();
    Sha256(const Sha256&) = delete;
    Sha256& operator=(const Sha256&) = delete;

    void add(std::span<const std::uint8_t> bytes);
    Digest finish();

private:
    struct State;
    std::unique_ptr<State> state_;
};

Digest sha256(std::span<const std::uint8_t> bytes);

/// Lower-case hexadecimal.
std::string to_hex(std::span<const std::uint8_t> bytes);
/// Fills `out` from exactly 2 × out.size() hexadecimal digits; false if `text` is anything else.
bool from_hex(std::string_view text, std::span<std::uint8_t> out);

}  // namespace layproof::job
