#pragma once
// Random numbers behind what a set-up will say: unit normals for the three axes of each sight.
//
// Latin hypercube: of n sets each coordinate has one number in every n-th of the normal
// distribution, in random order (McKay, Beckman, Conover, Technometrics 21(2), 1979). Each set by
// itself is what independent draws would give; the mean over the sets scatters less.

#include <Eigen/Core>
#include <cstdint>
#include <vector>

namespace layproof::plan {

/// Shared by all candidates, so that neighbours differ by their geometry alone.
class Draws {
public:
    Draws(int count, int marks, std::uint64_t seed);
    int count() const { return count_; }
    int marks() const { return marks_; }
    const Eigen::Vector3d& at(int draw, int mark) const {
        return z_[static_cast<std::size_t>(draw * marks_ + mark)];
    }

private:
    int count_ = 0;
    int marks_ = 0;
    std::vector<Eigen::Vector3d> z_;
};

}  // namespace layproof::plan
