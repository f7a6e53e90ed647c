#pragma once
// The shipped table without a file reader: the nine main causes of scene.hpp and the rare ones.

#include "support/scene.hpp"

namespace layproof::testing {

/// Frequencies as in causes.toml before they are brought to a sum of 1.
inline cause::CauseTable shipped_table() {
    using cause::Cause;
    constexpr double minute = 60.0 * measure::kRadPerArcsec;
    cause::CauseTable t = main_table();
    t.of(Cause::rod_height_wrong_on_all) = {0.002, {{0.3, 0.0, 0.0}}};
    t.of(Cause::wrong_name) = {0.003, {}};
    t.of(Cause::out_of_level) = {0.001, {{0.0, minute, 0.0}}};
    t.of(Cause::vertical_index_wrong) = {0.001, {{0.0, minute, 0.0}}};
    t.of(Cause::gross_direction) = {0.001, {{0.0, 60.0 * minute, 0.0}}};
    t.of(Cause::gross_zenith) = {0.001, {{0.0, 60.0 * minute, 0.0}}};
    t.of(Cause::gross_distance) = {0.001, {{1.0, 0.0, 0.0}}};
    t.pairs = 0.008;
    return t;
}

}  // namespace layproof::testing
