#pragma once
// A value or a refusal. Input that cannot be taken is a Refusal; a bad misfit, a weak geometry or
// an ambiguous set-up never is: those are answers.

#include <cassert>
#include <optional>
#include <string>
#include <utility>
#include <variant>

#include "base/error_code.hpp"

namespace layproof {

/// Where in the input: line and column count from 1; 0 means "not applicable".
struct Place {
    std::string file;
    int line = 0;
    int column = 0;

    friend bool operator==(const Place&, const Place&) = default;
};

/// Why an input was not taken: what was found, what was expected, and where.
struct Refusal {
    ErrorCode code{};
    Place place;
    std::string found;
    std::string expected;

    /// "marks.csv:3:7: found "abc", expected a number such as 12.345 [E110 not-a-number]"
    std::string to_text() const;
};

/// Holds a T or a Refusal. Check with ok() (or bool) before reading.
template <class T>
class [[nodiscard]] Result {
public:
    Result(T value) : state_(std::in_place_index<0>, std::move(value)) {}            // NOLINT
    Result(Refusal refusal) : state_(std::in_place_index<1>, std::move(refusal)) {}  // NOLINT

    bool ok() const { return state_.index() == 0; }
    explicit operator bool() const { return ok(); }

    T& value() & {
        assert(ok());
        return *std::get_if<0>(&state_);
    }
    const T& value() const& {
        assert(ok());
        return *std::get_if<0>(&state_);
    }
    T&& value() && {
        assert(ok());
        return std::move(*std::get_if<0>(&state_));
    }
    T& operator*() & { return value(); }
    const T& operator*() const& { return value(); }
    T* operator->() { return &value(); }
    const T* operator->() const { return &value(); }

    const Refusal& refusal() const& {
        assert(!ok());
        return *std::get_if<1>(&state_);
    }
    Refusal&& refusal() && {
        assert(!ok());
        return std::move(*std::get_if<1>(&state_));
    }

private:
    std::variant<T, Refusal> state_;
};

/// Nothing to return but success.
struct Done {};

}  // namespace layproof
