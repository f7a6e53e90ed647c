#pragma once
// Finds marks that stand at one place under two names.

#include <cstdint>
#include <optional>
#include <string>
#include <unordered_map>
#include <vector>

namespace layproof::exchange {

/// Two marks stand at one place when they are closer than the given distance in plan and, if both
/// heights are known, closer than it in height. Each mark is compared with those in the nine
/// squares around it.
class OnePlace {
public:
    explicit OnePlace(double distance_m) : distance_m_(distance_m) {}

    /// The name of an earlier mark at this place, or nothing; then this one is added.
    std::optional<std::string> add(double east_m, double north_m, std::optional<double> height_m,
                                   const std::string& name);

private:
    struct Known {
        double east_m;
        double north_m;
        std::optional<double> height_m;
        std::string name;
    };

    static std::uint64_t key(std::int64_t column, std::int64_t row);

    double distance_m_;
    std::unordered_map<std::uint64_t, std::vector<Known>> squares_;
};

}  // namespace layproof::exchange
