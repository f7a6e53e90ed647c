#pragma once
// The one place where what may be wrong meets the verdict: probable causes, what is believed about
// the station's state, and the next sight worth taking.

#include <optional>
#include <vector>

#include "acts/setup/setup_report.hpp"
#include "cause/cause_table.hpp"
#include "cause/diagnose.hpp"
#include "station/aids.hpp"
#include "station/prepared.hpp"

namespace layproof::acts::internal {

struct Assessment {
    cause::Diagnosis diagnosis;
    std::vector<CauseReport> causes;       ///< most probable first
    std::vector<station::Belief> beliefs;  ///< about the state against the pose; weights sum to one
    std::optional<NextSightReport> next_sight;
    /// The likeliest explanation, when it is likelier than "nothing wrong": its pose and beliefs.
    std::optional<ExplainedReport> explained;
    std::vector<station::Belief> explained_beliefs;
    double nothing_wrong = 1.0;  ///< probability
    std::string clause;          ///< the likeliest explanation in words
    std::string splitting;       ///< the sight that would split or confirm it, in words
    std::string remedy;
};

/// `marks`: all of the job; those not sighted may be what a sight was really to, or be sighted
/// next.
Assessment assess(const station::Prepared& setup, const station::Solved& solved,
                  const std::vector<frame::Mark>& marks, const cause::CauseTable& table,
                  const measure::LengthStyle& style);

}  // namespace layproof::acts::internal
