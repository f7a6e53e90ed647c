#pragma once
// Small helpers of the exchange tests.

#include <gtest/gtest.h>

#include <string>
#include <utility>

#include "base/result.hpp"
#include "exchange/text/document.hpp"

namespace layproof::exchange::testing {

inline Document file(std::string bytes, std::string name = "test.csv") {
    return {std::move(name), std::move(bytes)};
}

template <class T>
void expect_refused(const Result<T>& result, ErrorCode code, int line, int column) {
    ASSERT_FALSE(result.ok()) << "read, but " << to_word(code) << " was expected";
    const Refusal& refusal = result.refusal();
    EXPECT_EQ(to_word(refusal.code), to_word(code)) << refusal.to_text();
    EXPECT_EQ(refusal.place.line, line) << refusal.to_text();
    EXPECT_EQ(refusal.place.column, column) << refusal.to_text();
    EXPECT_FALSE(refusal.place.file.empty()) << refusal.to_text();
    EXPECT_FALSE(refusal.found.empty()) << refusal.to_text();
    EXPECT_FALSE(refusal.expected.empty()) << refusal.to_text();
}

}  // namespace layproof::exchange::testing

// Reads, or ends the test with the refusal's text.
#define LAYPROOF_READ(name, expression) \
    const auto name = (expression);     \
    ASSERT_TRUE((name).ok()) << (name).refusal().to_text()
