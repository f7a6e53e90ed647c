#include <gtest/gtest.h>
// rapidcheck/gtest.h wants gtest first.
#include <rapidcheck/gtest.h>

#include <limits>

#include "job/canonical_internal.hpp"

namespace layproof::job {
namespace {

Bytes row_bytes(const Row& row) {
    Canonical out;
    out.row(row);
    return out.out();
}

TEST(Canonical, values_have_their_written_form) {
    Canonical out;
    out.integer(-2);
    out.real(1.0);
    out.text("ab");
    out.bytes(Bytes{0xFE});
    out.nothing();
    const Bytes expected{1, 0xFF, 0xFF, 0xFF, 0xFF, 0xFF, 0xFF, 0xFF, 0xFE,  // −2
                         2, 0x3F, 0xF0, 0,    0,    0,    0,    0,    0,     // 1.0
                         3, 0,    0,    0,    0,    0,    0,    0,    2,    'a',  'b',
                         4, 0,    0,    0,    0,    0,    0,    0,    1,    0xFE, 0};
    EXPECT_EQ(out.out(), expected);
}

TEST(Canonical, minus_zero_is_zero_and_the_next_number_is_not) {
    EXPECT_EQ(row_bytes({0.0}), row_bytes({-0.0}));
    EXPECT_NE(row_bytes({0.0}), row_bytes({std::numeric_limits<double>::denorm_min()}));
    EXPECT_NE(row_bytes({0.0}), row_bytes({std::int64_t{0}}));
}

TEST(Canonical, text_cut_elsewhere_differs) {
    EXPECT_NE(row_bytes({std::string("ab"), std::string("c")}),
              row_bytes({std::string("a"), std::string("bc")}));
    EXPECT_NE(row_bytes({std::string("a"), std::monostate{}}), row_bytes({std::string("a")}));
    EXPECT_NE(row_bytes({std::string("a")}), row_bytes({Bytes{'a'}}));
}

Value value_of(int kind, std::int64_t number, const std::string& text) {
    switch (kind) {
        case 0:
            return std::monostate{};
        case 1:
            return number;
        case 2:
            return static_cast<double>(number) / 8.0;
        case 3:
            return text;
        default:
            return Bytes(text.begin(), text.end());
    }
}

RC_GTEST_PROP(Canonical, different_rows_have_different_bytes, ()) {
    const auto make = [] {
        Row row;
        const int count = *rc::gen::inRange(0, 4);
        for (int i = 0; i < count; ++i) {
            row.push_back(value_of(*rc::gen::inRange(0, 5), *rc::gen::inRange(-3, 4),
                                   *rc::gen::container<std::string>(
                                       rc::gen::elementOf(std::string{'a', 'b', '\0', '\3'}))));
        }
        return row;
    };
    const Row a = make();
    const Row b = make();
    RC_ASSERT((a == b) == (row_bytes(a) == row_bytes(b)));
}

TEST(ContentDigest, fact_from_a_document_is_the_same_under_two_ids_and_another_is_not) {
    FactRecord fact;
    fact.kind = "mark";
    fact.row = {std::string("H1"), 1.0};
    FactRecord other = fact;
    other.id.bytes[15] = 1;
    other.writer.bytes[3] = 9;
    other.position = 17;
    other.recorded_ms = 5;
    EXPECT_NE(content_digest(fact), content_digest(other));
    fact.source.document = other.source.document = Digest{};
    EXPECT_EQ(content_digest(fact), content_digest(other));
    other.source.revision = "B";
    EXPECT_NE(content_digest(fact), content_digest(other));
}

TEST(ChainDigest, every_part_counts) {
    FactRecord fact;
    fact.kind = "mark";
    fact.row = {std::string("H1"), 1.0};
    const Digest before{};
    const Digest now = chain_digest(before, fact);
    std::vector<FactRecord> changed(8, fact);
    changed[0].id.bytes[0] = 1;
    changed[1].writer.bytes[0] = 1;
    changed[2].position = 1;
    changed[3].kind = "point";
    changed[4].recorded_ms = 1;
    changed[5].source.document = Digest{};
    changed[6].source.revision = "A";
    changed[7].row[1] = 2.0;
    for (const FactRecord& other : changed) EXPECT_NE(chain_digest(before, other), now);
    Digest another;
    another.bytes[31] = 1;
    EXPECT_NE(chain_digest(another, fact), now);
}

}  // namespace
}  // namespace layproof::job
