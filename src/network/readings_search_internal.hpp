#pragma once
// The readings that are tried: what could explain the misfits of a fit, most promising first.

#include <vector>

#include "network/readings.hpp"
#include "network/readings_fit_internal.hpp"

namespace layproof::network::internal {

/// One reading in terms of the model.
struct ReadingTrial {
    ReadingKind kind{};
    int a = -1, b = -1;  ///< points: exchanged, booked and meant, mistyped
    int setup = -1;
    int vector = -1;  ///< wrong_name
    double ratio = 1.0;
    bool is_height = false;  ///< mark_mistyped
    std::vector<int> group;  ///< older_revision: points
    Complex shift;           ///< older_revision
    double log_odds = 0.0;
    double gain = 0.0;  ///< how much it may explain: for the order alone

    bool is_same(const ReadingTrial& other) const;
};

/// Re-reads the model; the set-ups it concerns.
std::vector<int> apply(const ReadingTrial& trial, ReadingModel& model);

/// Whether the sights that a trial gave another name do land at it: a name is no place to put what
/// fits nowhere.
bool agrees(const ReadingTrial& trial, const ReadingModel& before, const ReadingModel& after,
            const ReadingState& state);

/// Set-ups whose worst misfit is not as stated.
std::vector<int> misfitting(const std::vector<double>& worst);

/// What exchanges or names of marks and points could explain the misfit of these set-ups, and which
/// exchange would fit as well in set-ups with few marks.
std::vector<ReadingTrial> name_trials(const ReadingModel& model, const ReadingState& state,
                                      const std::vector<int>& setups,
                                      const cause::CauseTable& table);
std::vector<ReadingTrial> as_good_trials(const ReadingModel& model, const ReadingState& state,
                                         const cause::CauseTable& table);
/// Exchanged axes, other units, an older revision.
std::vector<ReadingTrial> list_trials(const ReadingModel& model, const ReadingState& state,
                                      const std::vector<int>& setups);

}  // namespace layproof::network::internal
