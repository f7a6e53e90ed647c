#include "job/digest.hpp"

#include <nettle/sha2.h>

namespace layproof::job {

struct Sha256::State {
    sha256_ctx context{};
};

Sha256::Sha256() : state_(std::make_unique<State>()) {
    sha256_init(&state_->context);
}
Sha256::~Sha256() = default;

void Sha256::add(std::span<const std::uint8_t> bytes) {
    if (!bytes.empty()) sha256_update(&state_->context, bytes.size(), bytes.data());
}

Digest Sha256::finish() {
    Digest out;
    sha256_digest(&state_->context, out.bytes.size(), out.bytes.data());
    return out;
}

Digest sha256(std::span<const std::uint8_t> bytes) {
    Sha256 hash;
    hash.add(bytes);
    return hash.finish();
}

std::string to_hex(std::span<const std::uint8_t> bytes) {
    constexpr std::string_view kDigits = "0123456789abcdef";
    std::string out;
    out.reserve(bytes.size() * 2);
    for (const std::uint8_t byte : bytes) {
        out += kDigits[byte >> 4U];
        out += kDigits[byte & 0xFU];
    }
    return out;
}

namespace {

int hex_value(char c) {
    if (c >= '0' && c <= '9') return c - '0';
    if (c >= 'a' && c <= 'f') return c - 'a' + 10;
    if (c >= 'A' && c <= 'F') return c - 'A' + 10;
    return -1;
}

}  // namespace

bool from_hex(std::string_view text, std::span<std::uint8_t> out) {
    if (text.size() != out.size() * 2) return false;
    for (std::size_t i = 0; i < out.size(); ++i) {
        const int high = hex_value(text[2 * i]);
        const int low = hex_value(text[2 * i + 1]);
        if (high < 0 || low < 0) return false;
        out[i] = static_cast<std::uint8_t>(high * 16 + low);
    }
    return true;
}

std::string Digest::to_text() const {
    return to_hex(bytes);
}

std::optional<Digest> Digest::from_text(std::string_view text) {
    Digest out;
    if (!from_hex(text, out.bytes)) return std::nullopt;
    return out;
}

}  // namespace layproof::job
