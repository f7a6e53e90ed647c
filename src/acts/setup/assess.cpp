#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "acts/setup/assess_internal.hpp"
#include "acts/setup/cause_words_internal.hpp"
#include "acts/shared/words.hpp"
#include "cause/diagnose.hpp"
#include "cause/next_sight.hpp"
#include "measure/angle.hpp"

namespace layproof::acts::internal {
namespace {

/// A sight that tells less than this is not worth a walk.
constexpr double kSmallGain_bits = 0.02;
/// Sights that would split an entry are worked out for entries at least so probable.
constexpr double kWorthSplitting = 0.05;

/// Rival places share the probability as their sums of squares tell (equal prior, equal volume).
void add_rivals(const station::Solved& solved, std::vector<station::Belief>& beliefs) {
    const station::Pose& best = solved.best.pose;
    double sum = 1.0;
    std::vector<station::Belief> rivals;
    for (std::size_t i = 0; i < solved.others.size(); ++i) {
        const station::Pose& other = solved.others[i];
        station::Belief belief = station::belief_of(best);
        const Eigen::Vector3d by = other.position_m - best.position_m;
        belief.mean[station::state_east] = by.x();
        belief.mean[station::state_north] = by.y();
        belief.mean[station::state_height] = by.z();
        belief.mean[station::state_orientation] =
            measure::wrap_pi(other.orientation_rad - best.orientation_rad);
        const double more = solved.others_statistic[i] - solved.best.global_test.statistic;
        belief.weight = std::exp(-0.5 * std::max(more, 0.0));
        sum += belief.weight;
        rivals.push_back(belief);
    }
    beliefs.insert(beliefs.end(), rivals.begin(), rivals.end());
    if (rivals.empty()) return;
    for (station::Belief& belief : beliefs) belief.weight /= sum;
}

std::vector<station::UsedMark> not_sighted(const station::Prepared& setup,
                                           const std::vector<frame::Mark>& marks) {
    std::vector<bool> used(marks.size(), false);
    for (const station::UsedMark& mark : setup.marks)
        if (mark.input_index >= 0) used[static_cast<std::size_t>(mark.input_index)] = true;
    std::vector<station::UsedMark> out;
    for (std::size_t i = 0; i < marks.size(); ++i) {
        const frame::Mark& mark = marks[i];
        if (used[i] || !mark.has_plan()) continue;
        station::UsedMark other;
        other.name = mark.name;
        other.has_plan = true;
        other.has_height = mark.has_height();
        other.given_m << *mark.east_m, *mark.north_m, mark.height_m.value_or(setup.origin_m.z());
        other.sd_m << mark.sd_east_m, mark.sd_north_m, mark.sd_height_m;
        other.input_index = static_cast<int>(i);
        out.push_back(std::move(other));
    }
    return out;
}

bool is_nothing(const cause::Entry& entry) {
    return !entry.is_pair && entry.members.front().cause == cause::Cause::nothing_wrong;
}

station::Pose moved(const station::Pose& pose, const station::State& by) {
    station::Pose out = pose;
    out.position_m += Eigen::Vector3d(by[station::state_east], by[station::state_north],
                                      pose.has_height ? by[station::state_height] : 0.0);
    out.orientation_rad =
        measure::wrap_0_2pi(pose.orientation_rad + by[station::state_orientation]);
    return out;
}

std::string way_word(cause::Way way) {
    switch (way) {
        case cause::Way::again:
            return "again";
        case cause::Way::other_face:
            return "other-face";
        case cause::Way::rod_turned:
            return "rod-turned";
        case cause::Way::bipod:
            return "bipod";
        case cause::Way::short_rod:
            return "short-rod";
        case cause::Way::tape:
            return "tape";
        case cause::Way::new_mark:
            return "new-mark";
    }
    return "again";
}

CauseReport report_of(const cause::Entry& entry, const station::Prepared& setup,
                      const measure::LengthStyle& style) {
    CauseReport out;
    out.cause = cause_word(entry);
    out.subjects = subjects_of(entry);
    out.probability = entry.probability;
    out.is_pair = entry.is_pair;
    out.estimate = estimate_list(entry.members.front(), setup);
    out.says = capital(cause_clause(entry, setup, style)) + ".";
    for (const cause::Explanation& e : entry.members)
        out.members.push_back({std::string(cause::to_word(e.cause)), e.subjects, e.probability,
                               e.log_evidence, estimate_list(e, setup)});
    return out;
}

}  // namespace

Assessment assess(const station::Prepared& setup, const station::Solved& solved,
                  const std::vector<frame::Mark>& marks, const cause::CauseTable& table,
                  const measure::LengthStyle& style) {
    Assessment out;
    const std::vector<station::UsedMark> others = not_sighted(setup, marks);
    const cause::Diagnosis diagnosis = cause::diagnose(setup, solved.best, table, others);
    out.beliefs = diagnosis.beliefs;
    add_rivals(solved, out.beliefs);

    for (const cause::Entry& entry : diagnosis.entries) {
        CauseReport report = report_of(entry, setup, style);
        if (is_nothing(entry)) {
            out.nothing_wrong = entry.probability;
        } else if (entry.probability >= kWorthSplitting) {
            const bool splits = entry.members.size() > 1 && !entry.is_pair;
            const auto ranked =
                cause::rank_next_sights(setup, diagnosis, others, splits ? &entry : nullptr);
            const std::string put_right = remedy(entry, setup, style);
            if (!put_right.empty()) {
                report.next = capital(put_right) + ".";
            } else if (!ranked.empty() && ranked.front().gain_bits > kSmallGain_bits) {
                report.next = capital(sight_phrase(ranked.front())) + ".";
            }
        }
        out.causes.push_back(std::move(report));
    }
    const auto ranked = cause::rank_next_sights(setup, diagnosis, others);
    if (!ranked.empty() && ranked.front().gain_bits > kSmallGain_bits) {
        const cause::NextSight& best = ranked.front();
        out.next_sight = NextSightReport{
            best.target,
            capital(sight_phrase(best)) +
                ": of all sights it tells most about what may be wrong and where the station is.",
            best.gain_bits, way_word(best.way), best.second};
    }

    const cause::Entry& first = diagnosis.entries.front();
    const cause::Entry* likeliest = nullptr;
    for (const cause::Entry& entry : diagnosis.entries)
        if (!is_nothing(entry)) {
            likeliest = &entry;
            break;
        }
    if (likeliest != nullptr) {
        out.clause = cause_clause(*likeliest, setup, style);
        out.remedy = remedy(*likeliest, setup, style);
        const bool splits = likeliest->members.size() > 1 && !likeliest->is_pair;
        const auto splitters =
            splits ? cause::rank_next_sights(setup, diagnosis, others, likeliest) : ranked;
        if (!splitters.empty() && splitters.front().gain_bits > kSmallGain_bits)
            out.splitting = sight_phrase(splitters.front());
    }
    if (!is_nothing(first)) {
        ExplainedReport explained;
        explained.cause = cause_word(first);
        explained.subjects = subjects_of(first);
        explained.pose = moved(solved.best.pose, diagnosis.best_state);
        out.explained_beliefs = out.beliefs;
        // Covariance of the state if the explanation holds, over its sizes and members.
        for (station::Belief& belief : out.explained_beliefs) belief.mean -= diagnosis.best_state;
        out.explained = explained;
    }
    out.diagnosis = diagnosis;
    return out;
}

}  // namespace layproof::acts::internal
