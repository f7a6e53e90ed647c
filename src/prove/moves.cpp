#include "prove/moves.hpp"

#include <algorithm>
#include <map>
#include <optional>
#include <set>
#include <tuple>
#include <utility>

namespace layproof::prove {
namespace {

using network::NetworkDiagnosis;
using network::NetworkExplanation;
using network::NetworkSight;
using network::NetworkSuspect;
using network::SiteNetwork;

std::size_t at(int i) {
    return static_cast<std::size_t>(i);
}

/// The point, and whether in height.
using MoveKey = std::pair<int, bool>;

std::optional<MoveKey> key_of(const NetworkSuspect& suspect) {
    const bool is_height = suspect.cause == cause::Cause::mark_height_changed;
    if (suspect.cause != cause::Cause::mark_moved && !is_height) return std::nullopt;
    return MoveKey(suspect.point, is_height);
}

bool is_before_all(const NetworkSuspect& suspect) {
    return suspect.after_sight < 0;
}

bool is_after(const NetworkSight& sight, const NetworkSight& first) {
    if (sight.time_s && first.time_s) return *sight.time_s >= *first.time_s;
    return std::pair(sight.setup, sight.booked.front()) >=
           std::pair(first.setup, first.booked.front());
}

struct Sum {
    double probability = 0.0;
    double best = 0.0;
    int suspect = -1;
    double weight = 0.0;
    Eigen::VectorXd mean;
    Eigen::MatrixXd square;
};

/// Each thing that moved with the sum over its gaps.
std::map<MoveKey, Sum> sums_of(const NetworkDiagnosis& diagnosis) {
    std::map<MoveKey, Sum> sums;
    for (std::size_t h = 0; h < diagnosis.suspects.size(); ++h) {
        const auto key = key_of(diagnosis.suspects[h]);
        if (!key) continue;
        Sum& sum = sums[*key];
        sum.probability += diagnosis.probability[h];
        if (diagnosis.probability[h] > sum.best) {
            sum.best = diagnosis.probability[h];
            sum.suspect = static_cast<int>(h);
        }
    }
    for (const NetworkExplanation& e : diagnosis.explanations) {
        if (e.amount.size() == 0) continue;
        for (const int member : e.members) {
            const auto key = key_of(diagnosis.suspects[at(member)]);
            if (!key) continue;
            Sum& sum = sums[*key];
            if (sum.suspect < 0 || is_before_all(diagnosis.suspects[at(member)]) !=
                                       is_before_all(diagnosis.suspects[at(sum.suspect)]))
                continue;
            const int offset = diagnosis.amount_offset(e, member);
            const int size = diagnosis.columns_of(member);
            const Eigen::VectorXd mean = e.amount.segment(offset, size);
            if (sum.weight == 0.0) {
                sum.mean = Eigen::VectorXd::Zero(size);
                sum.square = Eigen::MatrixXd::Zero(size, size);
            }
            sum.weight += e.probability;
            sum.mean += e.probability * mean;
            sum.square += e.probability * (e.amount_covariance.block(offset, offset, size, size) +
                                           mean * mean.transpose());
        }
    }
    return sums;
}

/// Who used it where it no longer was: from the earliest gap that is still possible.
std::set<int> users_of(const SiteNetwork& network, const NetworkDiagnosis& diagnosis,
                       const MoveKey& key, double probability) {
    constexpr double kStillPossible = 0.05;
    std::set<int> used;
    for (std::size_t h = 0; h < diagnosis.suspects.size(); ++h) {
        const NetworkSuspect& suspect = diagnosis.suspects[h];
        if (key_of(suspect) != key || diagnosis.probability[h] < kStillPossible * probability)
            continue;
        for (const NetworkSight& sight : network.sights) {
            if (sight.point != key.first || sight.purpose != measure::Purpose::control) continue;
            if (!is_before_all(suspect) &&
                !is_after(sight, network.sights[at(suspect.before_sight)]))
                continue;
            used.insert(sight.setup);
        }
    }
    return used;
}

}  // namespace

std::vector<Move> moves_of(const SiteNetwork& network, const NetworkDiagnosis& diagnosis) {
    std::vector<Move> moves;
    for (const auto& [key, sum] : sums_of(diagnosis)) {
        if (sum.probability < kListedFrom * 2.5 || sum.weight <= 0.0) continue;
        Move move;
        move.point = key.first;
        move.is_height = key.second;
        move.probability = std::min(sum.probability, 1.0);
        move.suspect = sum.suspect;
        move.amount = sum.mean / sum.weight;
        move.covariance = sum.square / sum.weight - move.amount * move.amount.transpose();
        std::set<int> told;
        for (const int setup : users_of(network, diagnosis, key, move.probability)) {
            move.setups.push_back(setup);
            for (const NetworkSight& sight : network.sights)
                if (sight.setup == setup && sight.purpose == measure::Purpose::lay &&
                    told.insert(sight.point).second)
                    move.points.push_back(sight.point);
        }
        moves.push_back(std::move(move));
    }
    std::stable_sort(moves.begin(), moves.end(),
                     [](const Move& a, const Move& b) { return a.probability > b.probability; });
    return moves;
}

std::vector<LikelyCause> causes_of(const NetworkDiagnosis& diagnosis) {
    std::map<std::tuple<int, int, int, int, int, int, std::vector<int>>, Sum> sums;
    for (std::size_t h = 0; h < diagnosis.suspects.size(); ++h) {
        const NetworkSuspect& s = diagnosis.suspects[h];
        Sum& sum =
            sums[{static_cast<int>(s.cause), s.point, s.setup, s.sight, s.level, s.tape, s.setups}];
        sum.probability += diagnosis.probability[h];
        if (diagnosis.probability[h] <= sum.best) continue;
        sum.best = diagnosis.probability[h];
        sum.suspect = static_cast<int>(h);
    }
    std::vector<LikelyCause> causes;
    for (const auto& [key, sum] : sums) {
        if (sum.probability < kListedFrom) continue;
        const auto in = std::find_if(
            diagnosis.explanations.begin(), diagnosis.explanations.end(), [&](const auto& e) {
                return e.amount.size() > 0 && std::find(e.members.begin(), e.members.end(),
                                                        sum.suspect) != e.members.end();
            });
        if (in == diagnosis.explanations.end()) continue;
        causes.push_back({sum.suspect, std::min(sum.probability, 1.0),
                          in->amount.segment(diagnosis.amount_offset(*in, sum.suspect),
                                             diagnosis.columns_of(sum.suspect))});
    }
    std::stable_sort(causes.begin(), causes.end(), [](const LikelyCause& a, const LikelyCause& b) {
        return a.probability > b.probability;
    });
    if (causes.size() > kMostCauses) causes.resize(kMostCauses);
    return causes;
}

}  // namespace layproof::prove
