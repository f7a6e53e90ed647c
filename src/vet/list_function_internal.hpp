#pragma once
// What a list says of a mark, through the transform that the list may need. What is measured stands
// in station/observations.hpp.

#include <Eigen/Core>
#include <span>

#include "adjust/problem.hpp"

namespace layproof::vet::internal {

/// A list's entry about a mark's place N (east, north): T(N) − value, T turning by blocks[1][0],
/// scaling by 1 + blocks[1][1] about a centre and shifting by blocks[1][2], [3]; of these the free
/// ones are in the block.
class ListFunction final : public adjust::ObservationFunction {
public:
    ListFunction(const Eigen::Vector2d& value, const Eigen::Vector2d& centre, bool turn, bool scale,
                 bool shift)
        : value_(value), centre_(centre), turn_(turn), scale_(scale), shift_(shift) {}
    int transform_size() const { return int{turn_} + int{scale_} + 2 * int{shift_}; }
    void evaluate(std::span<const double* const> blocks, double* residual,
                  double* const* jacobians) const override;

private:
    Eigen::Vector2d value_, centre_;
    bool turn_, scale_, shift_;
};

}  // namespace layproof::vet::internal
