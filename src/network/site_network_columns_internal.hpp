#pragma once
// Suspects as columns on the whitened linear form of a network.

#include <Eigen/Core>
#include <array>
#include <map>
#include <span>
#include <unordered_map>
#include <vector>

#include "base/index.hpp"
#include "network/site_network_causes.hpp"
#include "network/site_network_internal.hpp"

namespace layproof::network::internal {

/// One observation block at the solution, whitened: y = J δ + e.
struct WhiteBlock {
    adjust::ObservationId id;
    Eigen::MatrixXd jacobian;  ///< over its own blocks
    std::vector<adjust::ParameterId> blocks;
    std::vector<int> first;  ///< column of each block in `jacobian`
    Eigen::VectorXd misfit;
    Eigen::MatrixXd whitener;

    /// One behind the last column of block number b.
    int end_of(std::size_t b) const {
        return b + 1 < blocks.size() ? first[b + 1] : static_cast<int>(jacobian.cols());
    }
};

/// Rows of one observation block × columns of one suspect, without the heap.
inline constexpr int kMostRows = 3;
using RowsOf = Eigen::Matrix<double, Eigen::Dynamic, Eigen::Dynamic, Eigen::ColMajor, kMostRows,
                             infer::kMostColumns>;

/// What a suspect does to one block: whitened rows × its columns.
struct SuspectRows {
    int block = -1;  ///< into NetworkColumns::blocks
    RowsOf rows;
};

/// What one kind of change does to the sights that may show it, in such an order that each suspect
/// is about a run of them: a change after the k-th sight is in all that follow.
struct RowList {
    std::vector<SuspectRows> rows;
    std::unordered_map<int, int> of_block;  ///< into rows

    void add(int block, RowsOf one) {
        of_block.emplace(block, static_cast<int>(rows.size()));
        rows.push_back({block, std::move(one)});
    }
};

/// The rows of a suspect: first up to, not including, last.
struct RowRun {
    int list = -1;  ///< into NetworkColumns::lists
    int first = 0;
    int last = 0;
};

/// A change that may have come before a sight, or after it: nothing measured tells.
struct MaybeBefore {
    int suspect = -1;
    double share = 0.0;  ///< of the suspect's probability that it came before
    RowsOf rows;         ///< what it then does to the sight's block
};

/// A disturbance that no later sight would show.
struct OpenBump {
    double odds = 0.0;  ///< that one came before this sight
    RowsOf rows;
};

struct NetworkColumns {
    const SiteNetwork* network = nullptr;  ///< only while the columns are made
    std::vector<WhiteBlock> blocks;
    std::vector<int> block_of_sight;                              ///< −1: none
    std::vector<int> block_of_given_plan, block_of_given_height;  ///< per point
    std::vector<int> block_of_level, block_of_tape;               ///< −1: not used
    // The core: all that more than one sight speaks about.
    std::vector<int> core_at;  ///< per parameter block; −1: not in it
    int core_size = 0;
    Eigen::MatrixXd core_covariance;
    // Suspects, and those weighed in sets.
    std::vector<RowList> lists;
    std::vector<RowRun> runs;                     ///< per suspect
    std::vector<infer::Candidate> suspects;       ///< per suspect
    std::vector<std::vector<MaybeBefore>> maybe;  ///< per block
    std::vector<OpenBump> open;                   ///< per block; odds 0: none
    std::vector<double> unseen_bump_odds;         ///< per set-up, until its last sight
    std::vector<Eigen::VectorXd> bump_sizes;      ///< standard deviations of a disturbance
    std::vector<int> picked;                      ///< suspects in sets
    std::vector<int> picked_first;                ///< first column in `step` of each picked one
    Eigen::MatrixXd step;                         ///< core × columns: Q Jᵀ B
    // Per point: its parameters and what its place hangs on when it is not in the core.
    std::vector<int> plan_core, height_core;  ///< per point; −1
    std::vector<int> first_block;             ///< per point: of its first sight; −1
    std::vector<int> leaf_block;              ///< per point: its only sight's block; −1
    std::vector<adjust::ParameterId> plan, height;
    std::vector<NetworkExplanation> explanations;

    std::span<const SuspectRows> rows_of(int suspect) const {
        const RowRun& run = runs[at(suspect)];
        return std::span(lists[at(run.list)].rows).subspan(at(run.first), at(run.last - run.first));
    }
    /// What a suspect does to one block; null: nothing.
    const RowsOf* rows_at(int suspect, int block) const {
        const RowRun& run = runs[at(suspect)];
        const RowList& list = lists[at(run.list)];
        const auto found = list.of_block.find(block);
        if (found == list.of_block.end() || found->second < run.first || found->second >= run.last)
            return nullptr;
        return &list.rows[at(found->second)].rows;
    }
};

/// Everything that is suspected, its columns put into `columns`.
struct NetworkSuspects {
    std::vector<NetworkSuspect> who;
    std::array<std::map<int, double>, 2> move_odds;  ///< marks in plan, in height; per group
};
NetworkSuspects suspect_network(const SiteNetwork& network, const cause::CauseTable& table,
                                bool only_movement, NetworkColumns& columns);

/// Blocks, core and its covariance; false when the core is too large.
bool linearise_network(const SiteNetwork& network, NetworkColumns& out);

}  // namespace layproof::network::internal
