#include "job/digest.hpp"

#include <gtest/gtest.h>

#include <string>

namespace layproof::job {
namespace {

Digest of(std::string_view text) {
    return sha256({reinterpret_cast<const std::uint8_t*>(text.data()), text.size()});
}

// NIST, "Cryptographic Standards and Guidelines: Example Values", SHA-256 (one and two blocks), for
// FIPS 180-4; the empty message and the million letters from NIST's SHA test vectors (SHAVS).
TEST(Sha256, nist_examples_give_their_digests) {
    EXPECT_EQ(of("abc").to_text(),
              "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad");
    EXPECT_EQ(of("abcdbcdecdefdefgefghfghighijhijkijkljklmklmnlmnomnopnopq").to_text(),
              "248d6a61d20638b8e5c026930c3e6039a33ce45964ff2167f6ecedd419db06c1");
    EXPECT_EQ(of("").to_text(), "e3b0c44298fc1c149afbf4c8996fb92427ae41e4649b934ca495991b7852b855");
    EXPECT_EQ(of(std::string(1'000'000, 'a')).to_text(),
              "cdc76e5c9914fb9281a1c7e284d73e67f1809a48a497200e046d39ccc7112cd0");
}

TEST(Sha256, message_in_pieces_gives_the_same_and_finish_starts_afresh) {
    const std::string text(1000, 'x');
    Sha256 hash;
    for (int round = 0; round < 2; ++round) {
        for (std::size_t at = 0; at < text.size();) {
            const std::size_t count = std::min<std::size_t>(1 + at % 77, text.size() - at);
            hash.add({reinterpret_cast<const std::uint8_t*>(text.data()) + at, count});
            at += count;
        }
        EXPECT_EQ(hash.finish(), of(text));
    }
}

TEST(Digest, text_round_trip_and_bad_text) {
    const Digest digest = of("abc");
    EXPECT_EQ(Digest::from_text(digest.to_text()), digest);
    EXPECT_EQ(Digest::from_text(""), std::nullopt);
    EXPECT_EQ(Digest::from_text(digest.to_text() + "0"), std::nullopt);
    std::string bad = digest.to_text();
    bad[5] = 'g';
    EXPECT_EQ(Digest::from_text(bad), std::nullopt);
}

}  // namespace
}  // namespace layproof::job
