#include "vet/list_function_internal.hpp"

#include <cmath>

namespace layproof::vet::internal {

void ListFunction::evaluate(std::span<const double* const> blocks, double* residual,
                            double* const* jacobians) const {
    const Eigen::Vector2d n = Eigen::Vector2d(blocks[0][0], blocks[0][1]) - centre_;
    int at = 0;
    const double turn = turn_ ? blocks[1][at++] : 0.0;
    const double scale = 1.0 + (scale_ ? blocks[1][at++] : 0.0);
    const Eigen::Vector2d shift = shift_ ? Eigen::Vector2d(blocks[1][at], blocks[1][at + 1])
                                         : Eigen::Vector2d(Eigen::Vector2d::Zero());
    const double c = std::cos(turn);
    const double s = std::sin(turn);
    // Clockwise from north: east' = e cos + n sin.
    const Eigen::Vector2d turned(c * n.x() + s * n.y(), c * n.y() - s * n.x());
    const Eigen::Vector2d r = scale * turned + centre_ + shift - value_;
    residual[0] = r.x();
    residual[1] = r.y();
    if (jacobians == nullptr) return;
    if (jacobians[0] != nullptr) {
        jacobians[0][0] = scale * c;
        jacobians[0][1] = scale * s;
        jacobians[0][2] = -scale * s;
        jacobians[0][3] = scale * c;
    }
    const int size = transform_size();
    if (size == 0 || jacobians[1] == nullptr) return;
    int column = 0;
    if (turn_) {
        jacobians[1][column] = scale * turned.y();
        jacobians[1][size + column] = -scale * turned.x();
        ++column;
    }
    if (scale_) {
        jacobians[1][column] = turned.x();
        jacobians[1][size + column] = turned.y();
        ++column;
    }
    if (shift_) {
        jacobians[1][column] = 1.0;
        jacobians[1][column + 1] = 0.0;
        jacobians[1][size + column] = 0.0;
        jacobians[1][size + column + 1] = 1.0;
    }
}

}  // namespace layproof::vet::internal
