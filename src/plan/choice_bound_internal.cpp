#include "plan/choice_bound_internal.hpp"

#include <algorithm>
#include <limits>
#include <numeric>

namespace layproof::plan::internal {
namespace {

/// Share of the last step's way that goes on, which stills the zigzag.
constexpr double kKept = 0.8;
/// Steps with the promising candidates before all are asked again.
constexpr int kBlock = 12;
constexpr std::uint32_t kNone = std::numeric_limits<std::uint32_t>::max();

double sum_over(std::span<const std::uint32_t> list, const std::vector<double>& v) {
    double out = 0.0;
    for (const std::uint32_t i : list) out += v[i];
    return out;
}

double left_over(const std::vector<double>& v) {
    double out = 0.0;
    for (const double value : v) out += 1.0 - value;
    return out;
}

/// The numbers of the largest worths come first, smallest number first on a tie.
void bring_largest(std::vector<std::uint32_t>& numbers, std::size_t count,
                   const std::vector<double>& worth) {
    if (count == 0 || count >= numbers.size()) return;
    std::nth_element(numbers.begin(), numbers.begin() + static_cast<std::ptrdiff_t>(count - 1),
                     numbers.end(), [&](std::uint32_t a, std::uint32_t b) {
                         return worth[a] > worth[b] || (worth[a] == worth[b] && a < b);
                     });
}

/// Subgradient steps on one part.
class Descent {
public:
    Descent(Part& part, std::int64_t& work)
        : part_(part), work_(work), best_v_(part.v), way_(part.v.size(), 0.0) {}

    bool run(const Patience& patience) {
        int steps = patience.steps;
        part_.most = std::numeric_limits<double>::infinity();
        bool is_smaller = false;
        for (;;) {
            if (part_.points.size() < part_.needed || part_.size() == 0 || part_.places == 0)
                return true;
            earlier_ = worth_.size() == part_.size() ? worth_ : std::vector<double>{};
            worth_ = worth_of(part_, part_.v);
            work_ += static_cast<std::int64_t>(part_.lists.items.size());
            double least = 0.0;
            const double most = judge(least);
            if (most < static_cast<double>(part_.needed) - kProofSlack) return true;
            if (most < part_.most - 1e-3) {
                part_.most = most;
                best_v_ = part_.v;
            } else {
                if (!is_smaller) share_ *= patience.keep;
                part_.v = best_v_;
            }
            is_smaller = leave_out(most, least);
            if (steps <= 0 || share_ < 5e-3) break;
            if (is_smaller) continue;
            steps -= kBlock;
            go_on();
        }
        part_.v = best_v_;
        return false;
    }

private:
    /// U at part_.v with all candidates, from worth_; `least`: the smallest that counts in it.
    double judge(double& least) {
        const std::size_t k = std::min(part_.places, part_.size());
        numbers_.resize(part_.size());
        std::iota(numbers_.begin(), numbers_.end(), 0U);
        bring_largest(numbers_, k, worth_);
        double out = left_over(part_.v);
        least = k >= part_.size() ? 0.0 : worth_[numbers_[k - 1]];
        for (std::size_t t = 0; t < k; ++t) out += worth_[numbers_[t]];
        return out;
    }

    /// Candidates that would bring U below what is needed, and points that nobody holds then.
    bool leave_out(double most, double least) {
        std::vector<char> stays(part_.size(), 1);
        std::size_t gone = 0;
        for (std::size_t c = 0; c < part_.size(); ++c) {
            // At `worth_`, taken at the v that was judged.
            if (most - std::max(0.0, least - worth_[c]) >=
                static_cast<double>(part_.needed) - kProofSlack)
                continue;
            stays[c] = 0;
            ++gone;
        }
        if (gone * 20 < part_.size() || gone == 0) return false;
        std::vector<std::uint32_t> to(part_.points.size(), kNone);
        std::vector<std::uint32_t> points, candidates;
        NumberLists lists;
        for (std::size_t c = 0; c < part_.size(); ++c) {
            if (stays[c] == 0) continue;
            for (const std::uint32_t i : part_.lists.of(c)) {
                if (to[i] == kNone) {
                    to[i] = static_cast<std::uint32_t>(points.size());
                    points.push_back(i);
                }
                lists.items.push_back(to[i]);
            }
            lists.close();
            candidates.push_back(part_.candidates[c]);
        }
        const auto take = [&](auto& values) {
            auto taken = values;
            taken.resize(points.size());
            for (std::size_t i = 0; i < points.size(); ++i) taken[i] = values[points[i]];
            values = std::move(taken);
        };
        take(part_.points);
        take(part_.v);
        take(best_v_);
        take(way_);
        part_.candidates = std::move(candidates);
        part_.lists = std::move(lists);
        worth_.clear();
        // No more than before: what went held no more than the largest ones, and lost points count.
        return true;
    }

    /// A block of steps that reads the promising candidates alone.
    void go_on() {
        const std::size_t k = std::min(part_.places, part_.size());
        std::vector<double> promise = worth_;
        for (std::size_t c = 0; c < earlier_.size(); ++c)
            promise[c] = std::max(promise[c], earlier_[c]);
        const std::size_t some = std::max<std::size_t>(part_.size() / 6, 20 * k + 100);
        bring_largest(numbers_, some, promise);
        std::vector<std::uint32_t> core(
            numbers_.begin(),
            numbers_.begin() + static_cast<std::ptrdiff_t>(std::min(some, numbers_.size())));
        std::sort(core.begin(), core.end());
        std::vector<double> worth(part_.size(), 0.0);
        std::vector<double> slope(part_.v.size());
        std::vector<double> lowest_v = part_.v;
        double lowest = std::numeric_limits<double>::infinity();
        std::vector<std::uint32_t> top;
        for (int step = 0; step <= kBlock; ++step) {
            for (const std::uint32_t c : core) {
                worth[c] = sum_over(part_.lists.of(c), part_.v);
                work_ += static_cast<std::int64_t>(part_.lists.of(c).size());
            }
            top = core;
            bring_largest(top, k, worth);
            top.resize(k);
            double most = left_over(part_.v);
            for (const std::uint32_t c : top) most += worth[c];
            if (step > 0 && most < lowest) {
                lowest = most;
                lowest_v = part_.v;
            }
            if (step == kBlock) break;
            std::fill(slope.begin(), slope.end(), -1.0);
            for (const std::uint32_t c : top)
                for (const std::uint32_t i : part_.lists.of(c)) slope[i] += 1.0;
            double square = 0.0;
            for (std::size_t i = 0; i < slope.size(); ++i) {
                way_[i] = slope[i] + kKept * way_[i];
                // A multiplier at its end cannot go further.
                if ((part_.v[i] <= 0.0 && way_[i] > 0.0) || (part_.v[i] >= 1.0 && way_[i] < 0.0))
                    way_[i] = 0.0;
                square += way_[i] * way_[i];
            }
            const double over = most - static_cast<double>(part_.needed) + 1.0;
            if (square == 0.0 || over <= 0.0) break;
            const double length = share_ * over / square;
            for (std::size_t i = 0; i < slope.size(); ++i)
                part_.v[i] = std::clamp(part_.v[i] - length * way_[i], 0.0, 1.0);
        }
        part_.v = lowest_v;
    }

    Part& part_;
    std::int64_t& work_;
    std::vector<double> best_v_, way_, worth_, earlier_;
    std::vector<std::uint32_t> numbers_;
    double share_ = 0.5;
};

}  // namespace

Part part_of(const Reduced& reduced, std::span<const std::uint32_t> picks,
             const std::vector<std::uint32_t>& candidates, std::size_t places, std::size_t needed,
             const std::vector<float>& v) {
    constexpr std::uint32_t kProven = kNone - 1;
    std::vector<std::uint32_t> to(reduced.point_count(), kNone);
    std::size_t proven = 0;
    for (const std::uint32_t c : picks)
        for (const std::uint32_t i : reduced.points.of(c)) {
            proven += to[i] == kProven ? 0U : 1U;
            to[i] = kProven;
        }
    Part out;
    out.needed = needed > proven ? needed - proven : 0;
    out.places = places > picks.size() ? places - picks.size() : 0;
    for (const std::uint32_t c : candidates) {
        const std::size_t before = out.lists.items.size();
        for (const std::uint32_t i : reduced.points.of(c)) {
            if (to[i] == kProven) continue;
            if (to[i] == kNone) {
                to[i] = static_cast<std::uint32_t>(out.points.size());
                out.points.push_back(i);
                out.v.push_back(static_cast<double>(v[i]));
            }
            out.lists.items.push_back(to[i]);
        }
        if (out.lists.items.size() == before) continue;
        out.lists.close();
        out.candidates.push_back(c);
    }
    return out;
}

std::vector<double> worth_of(const Part& part, const std::vector<double>& v) {
    std::vector<double> out(part.size());
    for (std::size_t c = 0; c < out.size(); ++c) out[c] = sum_over(part.lists.of(c), v);
    return out;
}

bool is_too_few(Part& part, const Patience& patience, std::int64_t& work) {
    if (part.needed == 0) return false;
    return Descent(part, work).run(patience);
}

}  // namespace layproof::plan::internal
