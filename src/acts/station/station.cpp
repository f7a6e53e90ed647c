#include "acts/station/station.hpp"

#include <algorithm>
#include <optional>
#include <utility>

#include "acts/belief/job_belief.hpp"
#include "acts/setup/setup_inputs.hpp"
#include "acts/setup/setup_work.hpp"

namespace layproof::acts {
namespace {

/// Has anything been sighted since the set-ups were finished, or do several tell of each other?
bool has_more_to_know(const internal::StationInputs& inputs) {
    if (inputs.setups.size() > 1) return true;
    for (const internal::OneSetup& one : inputs.setups)
        for (const measure::Sight& sight : one.input.sights)
            if (sight.purpose != measure::Purpose::control) return true;
    return false;
}

}  // namespace

Result<StationAnswer> run_station(const StationRequest& request) {
    auto inputs = internal::read_inputs(request);
    if (!inputs) return inputs.refusal();
    StationAnswer answer;
    answer.unit = inputs->unit;
    answer.style.unit = inputs->unit;
    if (request.show) answer.style = *request.show;
    answer.confidence = request.confidence;
    answer.explain = request.explain;
    answer.notices = std::move(inputs->notices);
    // What cannot be adjusted as a whole is placed alone.
    std::optional<internal::JobBelief> belief;
    if (request.only_station || has_more_to_know(*inputs)) {
        auto found = internal::believe_alone(request, *inputs, answer.style);
        const bool is_final = !found && (found.refusal().code == ErrorCode::cannot_read ||
                                         found.refusal().code == ErrorCode::stopped);
        if (is_final) return found.refusal();
        if (found && (found->network.setups.size() > 1 || has_more_to_know(*inputs)))
            belief.emplace(std::move(*found));
    }
    for (const internal::OneSetup& one : inputs->setups) {
        auto work = internal::work_of(
            request, *inputs, one, answer.style,
            belief ? belief->states_of(one.input.setup.station) : internal::StateBeliefs());
        if (!work) return work.refusal();
        if (belief)
            internal::heed_own_setup(*belief, answer.style, answer.confidence, work->report);
        answer.stations.push_back(std::move(work->report));
    }
    return answer;
}

bool is_proven(const StationAnswer& answer) {
    return !answer.stations.empty() &&
           std::all_of(answer.stations.begin(), answer.stations.end(), [](const auto& report) {
               return report.verdict.word == station::Word::proven;
           });
}

}  // namespace layproof::acts
