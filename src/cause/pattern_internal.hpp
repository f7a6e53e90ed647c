#pragma once
// What one cause at one subject does to the rows of the misfit model, and how well the data like
// it.

#include <Eigen/Core>
#include <array>
#include <vector>

#include "cause/catalogue.hpp"
#include "cause/cause_table.hpp"
#include "infer/linear_evidence.hpp"
#include "station/misfit_model.hpp"
#include "station/prepared.hpp"

namespace layproof::cause::internal {

inline constexpr int kMostColumns = 3;
using Columns = Eigen::Matrix<double, Eigen::Dynamic, kMostColumns>;
using Vec = Eigen::Vector3d;
using Mat = Eigen::Matrix3d;

/// b = B·∇ on a few rows. Unused columns are zero and have no spread.
struct Pattern {
    Cause cause{};
    int mark = -1;
    int sight = -1;
    int columns = 0;
    std::vector<int> rows{};
    std::vector<Vec> by_amount{};  ///< per row: ∂y/∂∇
    /// Which state each column is (StateIndex), −1 if it does not stay after the control sights.
    std::array<int, kMostColumns> state{-1, -1, -1};
    /// Correction of the misfit of the rows when the amount is not small (gross readings), or
    /// empty.
    std::vector<double> row_change{};
    double frequency = 0.0;  ///< of this subject, all sizes
    std::vector<Vec> sds{};  ///< standard deviations, one per size; 0: not a column
};

/// All patterns of the table that can happen at this set-up.
std::vector<Pattern> make_patterns(const station::Prepared& setup,
                                   const station::MisfitModel& model, const CauseTable& table);

/// The data's view of a pattern.
struct Evidence {
    Columns reduced;                                      ///< M·B, n × 3
    infer::ColumnData<3> data{Vec::Zero(), Mat::Zero()};  ///< BᵀMy, BᵀMB
    double statistic_change = 0.0;                        ///< of yᵀMy by row_change
};
Evidence evidence_of(const station::MisfitModel& model, const Pattern& pattern);

/// B_jᵀ·X for a dense n × 3 X.
Mat project(const Pattern& pattern, const Columns& x);

}  // namespace layproof::cause::internal
