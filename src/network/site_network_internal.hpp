#pragma once
// The adjustment behind a SiteNetwork: which block is what, and the observation functions.

#include <Eigen/Core>
#include <optional>
#include <string>
#include <vector>

#include "adjust/sparse_problem.hpp"
#include "adjust/sparse_solve.hpp"
#include "measure/sight_model.hpp"
#include "network/site_network.hpp"

namespace layproof::network::internal {

/// Sights of one kind, as station::SightFunction with split blocks: pose (east, north,
/// orientation), plan of the point and, with heights, height of the axes and of the point. The
/// parts that are present, in the order direction, zenith, distance.
class SightBatch final : public adjust::BatchFunction {
public:
    struct One {
        measure::ReducedSight sight;
        double bend = 0.0;  ///< station::bend_of
    };
    SightBatch(std::vector<One> sights, double scale_factor, bool with_height)
        : sights_(std::move(sights)), scale_(scale_factor), with_height_(with_height) {}
    void evaluate(const adjust::Chunk& chunk) const override;

private:
    std::vector<One> sights_;
    double scale_;
    bool with_height_;
};

/// station::DifferenceFunction for many: the leading numbers of two blocks.
class DifferenceBatch final : public adjust::BatchFunction {
public:
    DifferenceBatch(std::vector<double> values, int rows, int first_size, int second_size)
        : values_(std::move(values)), rows_(rows), first_(first_size), second_(second_size) {}
    void evaluate(const adjust::Chunk& chunk) const override;

private:
    std::vector<double> values_;  ///< rows per block
    int rows_, first_, second_;
};

/// station::TapeFunction for many.
class TapeBatch final : public adjust::BatchFunction {
public:
    TapeBatch(std::vector<double> values_m, double scale_factor, bool is_slope)
        : values_(std::move(values_m)), scale_(scale_factor), is_slope_(is_slope) {}
    void evaluate(const adjust::Chunk& chunk) const override;

private:
    std::vector<double> values_;
    double scale_;
    bool is_slope_;
};

/// Where a set-up stands from one moment on until the next.
struct Standing {
    double from_s = 0.0;
    adjust::ParameterId pose, axes;
};

/// The moments of every set-up's standings, the first one long before all. `times_s`: the times of
/// the sights of each set-up in order, none where one lacks a time. Moments lie as far apart as
/// drift stays below what matters, and farther where a job would have too many.
std::vector<std::vector<double>> standing_moments(const std::vector<std::vector<double>>& times_s,
                                                  const Eigen::Vector4d& drift_per_s);

/// Where everything stands in the adjustment; −1 where it is not.
struct NetworkForm {
    adjust::SparseProblem problem;
    std::optional<adjust::SparseAnalysis> analysis;
    std::vector<adjust::ParameterId> plan, height;  ///< per point
    std::vector<adjust::ParameterId> pose, axes;    ///< per set-up: at its beginning
    /// Per set-up where it stood at each of its moments, the beginning first.
    std::vector<std::vector<Standing>> standings;
    std::vector<adjust::ObservationId> sights;                    ///< per SiteNetwork::sights
    std::vector<adjust::ObservationId> given_plan, given_height;  ///< per point
    std::vector<adjust::ObservationId> over_plan, over_height;    ///< per set-up
    std::vector<adjust::ObservationId> levels, tapes;
    std::vector<Eigen::Vector3d> given_sd_m;  ///< per point
    Datum datum = Datum::weighted;
    double scale_factor = 1.0;
};

/// Weighted residual Q⁻¹v of a block.
Eigen::VectorXd weighted_residual(const NetworkForm& form, adjust::ObservationId id);
/// L⁻¹ of a block, Q = LLᵀ.
Eigen::MatrixXd whitener_of(const NetworkForm& form, adjust::ObservationId id);
Eigen::VectorXd residual_of(const NetworkForm& form, adjust::ObservationId id);
/// Derivatives of a block at the solution: rows × width, and its parameter blocks.
Eigen::MatrixXd jacobian_of(const NetworkForm& form, adjust::ObservationId id,
                            std::vector<adjust::ParameterId>& blocks);

/// The input as a chain, points named; sights reduced.
struct NetworkGathered {
    ChainInput chain;
    std::vector<NetworkPoint> points;
    std::vector<NetworkSight> sights;
    std::vector<NetworkLine> levels, tapes;
    std::vector<std::string> notices;
};
NetworkGathered gather_network(const NetworkInput& input);

/// Sets sights aside that land metres away from where the others put their target, and the sheet's
/// coordinates of a mark that all its sights contradict; improves the start places of points that
/// several set-ups sight. Says what it did.
void screen_gross(const NetworkInput& input, NetworkGathered& all, Chained& chained,
                  std::vector<char>& sheet_left_out);

}  // namespace layproof::network::internal
