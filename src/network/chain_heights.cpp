#include <algorithm>
#include <cmath>
#include <deque>

#include "measure/reduction.hpp"
#include "network/chain_internal.hpp"
#include "station/observations.hpp"

namespace layproof::network::internal {
namespace {

/// Node numbers: points first, then set-ups.
struct HeightEdge {
    int to = -1;
    double rise_m = 0.0;
};

constexpr double kUsualRefraction = 0.13;

double median_of(std::vector<double> values) {
    const auto middle = values.begin() + static_cast<std::ptrdiff_t>(values.size() / 2);
    std::nth_element(values.begin(), middle, values.end());
    return *middle;
}

}  // namespace

std::optional<double> rise_of(const ChainInput& input, const ChainSight& sight,
                              const Chained& plan) {
    const measure::ReducedSight& r = sight.reduced;
    if (!r.has_zenith) return std::nullopt;
    const double s = std::sin(r.zenith_rad);
    double ground = 0.0;
    if (r.has_distance) {
        ground = station::ground_distance(r);
    } else {
        const auto& pose = plan.setup_plan[static_cast<std::size_t>(sight.setup)];
        const auto& point = plan.point_plan[static_cast<std::size_t>(sight.point)];
        if (!pose || !point) return std::nullopt;
        ground = (*point - pose->plan_m).norm() / input.scale_factor;
    }
    if (!(s > 1e-6)) return std::nullopt;
    return ground * std::cos(r.zenith_rad) / s - r.target_height_m +
           measure::curvature_refraction_m(ground, kUsualRefraction);
}

void chain_heights(const ChainInput& input, const std::vector<ChainSight>& sights,
                   const std::vector<std::vector<int>>& over, Chained& out) {
    const std::size_t points = input.points.size();
    const std::size_t nodes = points + input.setups.size();
    std::vector<std::vector<HeightEdge>> edges(nodes);
    const auto join = [&](std::size_t a, std::size_t b, double rise) {
        edges[a].push_back({static_cast<int>(b), rise});
        edges[b].push_back({static_cast<int>(a), -rise});
    };
    for (const ChainSight& sight : sights)
        if (const auto rise = rise_of(input, sight, out))
            join(points + static_cast<std::size_t>(sight.setup),
                 static_cast<std::size_t>(sight.point), *rise);
    for (std::size_t p = 0; p < over.size(); ++p)
        for (const int s : over[p])
            if (const auto& height = input.setups[static_cast<std::size_t>(s)].instrument_height_m)
                join(p, points + static_cast<std::size_t>(s), *height);
    for (const ChainRise& rise : input.rises)
        join(static_cast<std::size_t>(rise.from), static_cast<std::size_t>(rise.to), rise.rise_m);

    std::vector<std::optional<double>> height(nodes);
    std::deque<std::size_t> next;
    const auto spread = [&] {
        while (!next.empty()) {
            const std::size_t from = next.front();
            next.pop_front();
            for (const HeightEdge& edge : edges[from]) {
                const auto to = static_cast<std::size_t>(edge.to);
                if (height[to]) continue;
                // A median over all that are placed: one wrong rod does not spread.
                std::vector<double> values;
                for (const HeightEdge& back : edges[to])
                    if (const auto& h = height[static_cast<std::size_t>(back.to)])
                        values.push_back(*h - back.rise_m);
                height[to] = median_of(std::move(values));
                next.push_back(to);
            }
        }
    };
    for (std::size_t p = 0; p < points; ++p)
        if (input.points[p].height_m) {
            height[p] = input.points[p].height_m;
            next.push_back(p);
        }
    out.own_height = next.empty();
    if (out.own_height) {
        for (std::size_t n = nodes; n-- > 0 && next.empty();)
            if (!edges[n].empty() && (n < points || out.setup_plan[n - points])) {
                height[n] = 0.0;
                next.push_back(n);
            }
    }
    spread();
    out.point_height.assign(height.begin(), height.begin() + static_cast<std::ptrdiff_t>(points));
    out.setup_height.assign(height.begin() + static_cast<std::ptrdiff_t>(points), height.end());

    // Parts that hang together in height only.
    std::vector<char> seen(nodes, 0);
    for (std::size_t n = 0; n < nodes; ++n) {
        const bool placed =
            n < points ? out.point_plan[n].has_value() : out.setup_plan[n - points].has_value();
        const bool levelled = n < points && !edges[n].empty();
        if (height[n] || seen[n] != 0 || edges[n].empty() || !(placed || levelled)) continue;
        LoosePart part;
        part.in_height_only = true;
        std::deque<std::size_t> todo{n};
        seen[n] = 1;
        while (!todo.empty()) {
            const std::size_t at = todo.front();
            todo.pop_front();
            if (at < points)
                part.points.push_back(input.points[at].name);
            else
                part.setups.push_back(input.setups[at - points].name);
            for (const HeightEdge& edge : edges[at]) {
                const auto to = static_cast<std::size_t>(edge.to);
                if (seen[to] != 0) continue;
                seen[to] = 1;
                todo.push_back(to);
            }
        }
        out.loose.push_back(std::move(part));
    }
}

}  // namespace layproof::network::internal
