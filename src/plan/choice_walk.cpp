#include <algorithm>
#include <numeric>

#include "plan/choice.hpp"

namespace layproof::plan {
std::vector<std::size_t> short_walk(const std::vector<Eigen::Vector2d>& places_m) {
    const std::size_t n = places_m.size();
    std::vector<std::size_t> best(n);
    std::iota(best.begin(), best.end(), 0U);
    if (n < 3) return best;
    const auto apart = [&](std::size_t a, std::size_t b) {
        return (places_m[a] - places_m[b]).norm();
    };
    if (n <= 10) {
        // Held and Karp: length of the shortest way over a set that ends at one of it.
        const std::size_t sets = std::size_t{1} << n;
        std::vector<double> length(sets * n, 1e300);
        std::vector<std::size_t> from(sets * n, n);
        for (std::size_t k = 0; k < n; ++k) length[(std::size_t{1} << k) * n + k] = 0.0;
        for (std::size_t set = 1; set < sets; ++set)
            for (std::size_t last = 0; last < n; ++last) {
                const double so_far = length[set * n + last];
                if (so_far >= 1e300) continue;
                for (std::size_t next = 0; next < n; ++next) {
                    if ((set >> next & 1U) != 0) continue;
                    const std::size_t to = (set | std::size_t{1} << next) * n + next;
                    const double sum = so_far + apart(last, next);
                    if (sum < length[to] - 1e-12) {
                        length[to] = sum;
                        from[to] = last;
                    }
                }
            }
        std::size_t set = sets - 1;
        std::size_t last = 0;
        for (std::size_t k = 1; k < n; ++k)
            if (length[set * n + k] < length[set * n + last] - 1e-12) last = k;
        for (std::size_t k = n; k-- > 0;) {
            best[k] = last;
            const std::size_t before = from[set * n + last];
            set &= ~(std::size_t{1} << last);
            last = before;
        }
        return best;
    }
    // Nearest next, from the south-western most, then pieces turned round while that shortens it.
    std::vector<bool> used(n, false);
    std::size_t at = 0;
    for (std::size_t k = 1; k < n; ++k)
        if (places_m[k].sum() < places_m[at].sum()) at = k;
    for (std::size_t k = 0; k < n; ++k) {
        best[k] = at;
        used[at] = true;
        std::size_t next = n;
        for (std::size_t j = 0; j < n; ++j)
            if (!used[j] && (next == n || apart(at, j) < apart(at, next))) next = j;
        at = next;
    }
    for (bool is_better = true; is_better;) {
        is_better = false;
        for (std::size_t i = 0; i + 1 < n; ++i)
            for (std::size_t j = i + 1; j < n; ++j) {
                double change = 0.0;
                if (i > 0) change += apart(best[i - 1], best[j]) - apart(best[i - 1], best[i]);
                if (j + 1 < n) change += apart(best[i], best[j + 1]) - apart(best[j], best[j + 1]);
                if (change >= -1e-9) continue;
                std::reverse(best.begin() + static_cast<std::ptrdiff_t>(i),
                             best.begin() + static_cast<std::ptrdiff_t>(j) + 1);
                is_better = true;
            }
    }
    return best;
}

}  // namespace layproof::plan
