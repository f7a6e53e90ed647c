// Files that are no tables: refused, whatever their size.

#include <gtest/gtest.h>

#include <cstdint>
#include <cstring>
#include <string>

#include "base/random.hpp"
#include "exchange/exchange_support.hpp"
#include "exchange/tables/instrument.hpp"
#include "exchange/tables/readers.hpp"

namespace layproof::exchange {
namespace {

using testing::expect_refused;
using testing::file;

constexpr std::size_t kHundredMegabytes = 100'000'000;

class Rubbish : public ::testing::Test {
protected:
    /// Every reader refuses the bytes with this code. A pass over 100 MB takes about 0.1 s; one
    /// that looked back from each byte would not end before the test is given up.
    static void expect_all_refused(std::string bytes, ErrorCode code) {
        const Document document = file(std::move(bytes));
        EXPECT_EQ(read_marks(document).refusal().code, code);
        EXPECT_EQ(read_sights(document).refusal().code, code);
        EXPECT_EQ(read_setups(document).refusal().code, code);
        EXPECT_EQ(read_points(document).refusal().code, code);
        EXPECT_EQ(read_instrument(document).refusal().code, ErrorCode::file_too_large);
    }
};

TEST_F(Rubbish, hundred_megabytes_of_random_bytes_are_not_text) {
    Random random(7);
    std::string bytes(kHundredMegabytes, '\0');
    for (std::size_t i = 0; i + 8 <= bytes.size(); i += 8) {
        const std::uint64_t word = random.bits();
        std::memcpy(bytes.data() + i, &word, sizeof word);
    }
    bytes.replace(0, 10, "mark,east\n");
    expect_all_refused(std::move(bytes), ErrorCode::not_utf8);
}

TEST_F(Rubbish, hundred_megabytes_of_one_line_are_too_large) {
    expect_all_refused(std::string(kHundredMegabytes, 'x'), ErrorCode::file_too_large);
}

TEST_F(Rubbish, hundred_megabytes_of_short_lines_have_no_header) {
    std::string bytes;
    bytes.reserve(kHundredMegabytes + 100);
    while (bytes.size() < kHundredMegabytes) bytes += "q,w,e,r,t,y\n";
    expect_all_refused(std::move(bytes), ErrorCode::header_missing);
}

TEST_F(Rubbish, hundred_megabytes_of_quotes_are_an_open_quote_or_no_header) {
    std::string bytes(kHundredMegabytes, '"');
    expect_all_refused(std::move(bytes), ErrorCode::quote_open);
}

TEST_F(Rubbish, invalid_utf8_is_refused_at_its_character) {
    expect_refused(read_marks(file("mark,east [m],north [m],height [m]\nßA,1,2,3\nß\xE4,1,2,3\n")),
                   ErrorCode::not_utf8, 3, 2);
    expect_refused(read_marks(file(std::string("mark,east\0north\n", 16))), ErrorCode::not_utf8, 1,
                   10);
}

}  // namespace
}  // namespace layproof::exchange
