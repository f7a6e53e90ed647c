#pragma once
// Cholesky factor of the sparse normal equations, and parts of its inverse. Not for other rooms.
//
// An unknown whose pivot falls below the tolerance is open: it is held where it is (its row and
// column leave the system), so that the factor always exists. Open unknowns and their null vectors
// say what the data leave undetermined.

#include <Eigen/Core>
#include <array>
#include <cstdint>
#include <memory>
#include <span>
#include <vector>

#include "adjust/elimination_internal.hpp"

namespace layproof::adjust::internal {

class FrontFactor {
public:
    explicit FrontFactor(std::shared_ptr<const Fronts> fronts);

    struct Setting {
        const double* extra = nullptr;  ///< added to the diagonal, per column, or null
        std::span<const int> held;      ///< columns that are open whatever their pivot is
    };
    void compute(const std::vector<double>& matrix, const Setting& setting);

    /// A pivot so small, as a share of its diagonal, that it may be what rounding leaves of none.
    struct Suspect {
        int column = 0;
        double share = 0.0;
    };
    const std::vector<Suspect>& suspects() const { return suspects_; }  ///< ascending, none open

    /// 1 − R² of the worst determined unknown on those before it; open ones apart.
    double smallest_pivot() const { return smallest_pivot_; }
    const std::vector<int>& open() const { return open_; }  ///< columns, ascending
    bool is_open(int column) const { return is_open_[static_cast<std::size_t>(column)] != 0; }

    /// x := N⁻¹x in order of elimination; zero for open unknowns.
    void solve(double* x) const;
    /// The null vector that has one at an open column and zero at all other open ones, into zeros.
    /// It reaches from the column that is returned to open_column.
    int null_vector(int open_column, double* x) const;

    /// L⁻¹ of the unit columns of one block, on the fronts from its own to the root. Covariances
    /// between blocks are inner products of these.
    struct Walk {
        struct Part {
            int front = 0;
            Eigen::MatrixXd numbers;  ///< columns of the front × size of the block
        };
        std::vector<Part> parts;  ///< fronts ascending
    };
    Walk walk(int position) const;
    static Eigen::MatrixXd inner_product(const Walk& a, const Walk& b);

    /// Entries of N⁻¹ where N has products, laid out as the normal matrix.
    void selected_inverse(std::vector<double>& out) const;

    const Fronts& fronts() const { return *fronts_; }

private:
    void factor_front(int index, const std::vector<double>& matrix, const Setting& setting,
                      double* remainder);
    void factor_columns(const Front& front, double* panel, const double* diagonal);

    std::shared_ptr<const Fronts> fronts_;
    std::unique_ptr<double[]> numbers_;
    std::array<std::vector<double>, 2> stack_;
    std::vector<std::size_t> stack_begin_;
    std::vector<double> diagonal_;  // of the front at work, before elimination
    std::vector<char> is_open_;
    std::vector<char> is_held_;
    std::vector<int> open_;
    std::vector<Suspect> suspects_;
    double smallest_pivot_ = 1.0;
};

}  // namespace layproof::adjust::internal
