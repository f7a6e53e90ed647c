#include "support/planted/planted.hpp"

namespace layproof::planted {

int room_without_fault() {
    const int numbers[] = {1, 2, 3};
    const Eigen::VectorXi column = Eigen::VectorXi::Ones(3);
    return read(numbers, 2) + sum(1, 2) + claimed(3) + entry<int>(column, 2);
}

}  // namespace layproof::planted
