#include "plan/choice.hpp"

#include <algorithm>
#include <bit>
#include <cmath>
#include <numeric>
#include <unordered_map>

#include "base/random.hpp"

namespace layproof::plan {
namespace {

using Word = std::uint64_t;

/// Kept away from a tie, so that rounding proves nothing.
constexpr double kProofSlack = 1e-6;
/// Share of the last step's way that goes on.
constexpr double kKept = 0.8;

std::size_t count_bits(std::span<const Word> bits) {
    std::size_t out = 0;
    for (const Word w : bits) out += static_cast<std::size_t>(std::popcount(w));
    return out;
}

/// The problem without what cannot matter, as bits and as lists.
struct Reduced {
    std::size_t words = 0;
    std::vector<std::size_t> original;  ///< place of each candidate
    std::vector<Word> bits;
    std::vector<std::vector<int>> points;  ///< of each candidate
    std::size_t point_count = 0;
    std::size_t coverable = 0;

    std::size_t size() const { return original.size(); }
    const Word* row(std::size_t c) const { return bits.data() + c * words; }
};

Reduced reduce(const CoverProblem& problem) {
    Reduced out;
    out.words = problem.words;
    out.point_count = problem.words * 64;
    const std::size_t n = problem.places();
    const auto row = [&](std::size_t p) {
        return problem.bits.subspan(p * problem.words, problem.words);
    };

    // Equal sets: the first place stands for all.
    std::unordered_map<Word, std::vector<std::size_t>> seen;
    std::vector<std::size_t> kept;
    std::vector<std::size_t> sizes;
    std::vector<int> frequency(out.point_count, 0);
    for (std::size_t p = 0; p < n; ++p) {
        const auto bits = row(p);
        const std::size_t size = count_bits(bits);
        if (size == 0) continue;
        Word hash = 1469598103934665603ULL;
        for (const Word w : bits) hash = (hash ^ w ^ (w >> 29U)) * 1099511628211ULL;
        auto& bucket = seen[hash];
        const bool is_known = std::any_of(bucket.begin(), bucket.end(), [&](std::size_t other) {
            return std::equal(bits.begin(), bits.end(), row(other).begin());
        });
        if (is_known) continue;
        bucket.push_back(p);
        kept.push_back(p);
        sizes.push_back(size);
        for (std::size_t w = 0; w < problem.words; ++w)
            for (Word rest = bits[w]; rest != 0; rest &= rest - 1)
                ++frequency[w * 64 + static_cast<std::size_t>(std::countr_zero(rest))];
    }
    // A set within another: whoever holds it also holds its rarest point.
    std::vector<std::vector<std::size_t>> holders(out.point_count);
    std::vector<std::size_t> order(kept.size());
    std::iota(order.begin(), order.end(), 0U);
    std::stable_sort(order.begin(), order.end(),
                     [&](std::size_t a, std::size_t b) { return sizes[a] > sizes[b]; });
    std::vector<Word> all(problem.words, 0);
    for (const std::size_t k : order) {
        const auto bits = row(kept[k]);
        std::size_t rarest = 0;
        int least = 0;
        for (std::size_t w = 0; w < problem.words; ++w)
            for (Word rest = bits[w]; rest != 0; rest &= rest - 1) {
                const std::size_t i = w * 64 + static_cast<std::size_t>(std::countr_zero(rest));
                if (least == 0 || frequency[i] < least) {
                    least = frequency[i];
                    rarest = i;
                }
            }
        const auto& rivals = holders[rarest];
        const bool is_within = std::any_of(rivals.begin(), rivals.end(), [&](std::size_t other) {
            const auto wide = row(other);
            for (std::size_t w = 0; w < problem.words; ++w)
                if ((bits[w] & ~wide[w]) != 0) return false;
            return true;
        });
        if (is_within) continue;
        std::vector<int> list;
        list.reserve(sizes[k]);
        for (std::size_t w = 0; w < problem.words; ++w) {
            all[w] |= bits[w];
            for (Word rest = bits[w]; rest != 0; rest &= rest - 1) {
                const std::size_t i = w * 64 + static_cast<std::size_t>(std::countr_zero(rest));
                list.push_back(static_cast<int>(i));
                holders[i].push_back(kept[k]);
            }
        }
        out.original.push_back(kept[k]);
        out.points.push_back(std::move(list));
        out.bits.insert(out.bits.end(), bits.begin(), bits.end());
    }
    out.coverable = count_bits(all);
    return out;
}

using Picks = std::vector<std::size_t>;

/// A set of picks with how often each point is proven.
class Cover {
public:
    explicit Cover(const Reduced& r) : r_(&r), times_(r.point_count, 0) {}

    void add(std::size_t c) {
        picks_.push_back(c);
        for (const int i : r_->points[c])
            if (times_[static_cast<std::size_t>(i)]++ == 0) ++proven_;
    }
    void remove_at(std::size_t k) {
        for (const int i : r_->points[picks_[k]])
            if (--times_[static_cast<std::size_t>(i)] == 0) --proven_;
        picks_.erase(picks_.begin() + static_cast<std::ptrdiff_t>(k));
    }
    std::size_t gain(std::size_t c) const {
        std::size_t out = 0;
        for (const int i : r_->points[c]) out += times_[static_cast<std::size_t>(i)] == 0 ? 1U : 0U;
        return out;
    }
    std::size_t loss_at(std::size_t k) const {
        std::size_t out = 0;
        for (const int i : r_->points[picks_[k]])
            out += times_[static_cast<std::size_t>(i)] == 1 ? 1U : 0U;
        return out;
    }
    std::size_t proven() const { return proven_; }
    const Picks& picks() const { return picks_; }
    /// Points not proven yet.
    std::vector<Word> open() const {
        std::vector<Word> out(r_->words, 0);
        for (std::size_t i = 0; i < times_.size(); ++i)
            if (times_[i] == 0) out[i / 64] |= Word{1} << (i % 64);
        return out;
    }

private:
    const Reduced* r_;
    std::vector<int> times_;
    Picks picks_;
    std::size_t proven_ = 0;
};

/// The candidate with the largest gain, first one on a tie.
std::size_t best_gain(const Reduced& r, const std::vector<Word>& open, std::size_t& gain) {
    std::size_t best = r.size();
    gain = 0;
    for (std::size_t c = 0; c < r.size(); ++c) {
        // Candidates come largest first: what follows cannot gain more than its size.
        if (r.points[c].size() <= gain) break;
        const Word* row = r.row(c);
        std::size_t g = 0;
        for (std::size_t w = 0; w < r.words; ++w)
            g += static_cast<std::size_t>(std::popcount(row[w] & open[w]));
        if (g > gain) {
            gain = g;
            best = c;
        }
    }
    return best;
}

Picks greedy(const Reduced& r, std::size_t needed) {
    Cover cover(r);
    while (cover.proven() < needed) {
        std::size_t gain = 0;
        const std::size_t c = best_gain(r, cover.open(), gain);
        if (c == r.size()) break;
        cover.add(c);
    }
    return cover.picks();
}

/// Exchanges one pick at a time for what proves most in its stead, until nothing gets better.
void exchange(const Reduced& r, Cover& cover) {
    bool is_better = true;
    while (is_better) {
        is_better = false;
        for (std::size_t turn = cover.picks().size(); turn > 0; --turn) {
            const std::size_t before = cover.proven();
            const std::size_t out = cover.picks().front();
            cover.remove_at(0);
            std::size_t gain = 0;
            const std::size_t in = best_gain(r, cover.open(), gain);
            const bool is_gain = in != r.size() && cover.proven() + gain > before;
            cover.add(is_gain ? in : out);
            is_better = is_better || is_gain;
        }
    }
}

/// Seeks a set of so many picks that proves enough; the best found otherwise.
Picks seek(const Reduced& r, const Picks& start, std::size_t count, std::size_t needed, int rounds,
           Random& random) {
    Cover best(r);
    for (const std::size_t c : start) best.add(c);
    while (best.picks().size() > count) {
        std::size_t least = 0;
        for (std::size_t k = 1; k < best.picks().size(); ++k)
            if (best.loss_at(k) < best.loss_at(least)) least = k;
        best.remove_at(least);
    }
    exchange(r, best);
    for (int round = 0; round < rounds && best.proven() < needed; ++round) {
        Cover trial = best;
        // Some picks go and what comes instead is taken at random from what helps.
        const int away = 1 + random.below(std::max(1, static_cast<int>(count) / 3));
        for (int k = 0; k < away && !trial.picks().empty(); ++k)
            trial.remove_at(
                static_cast<std::size_t>(random.below(static_cast<int>(trial.picks().size()))));
        for (int k = 0; k < away; ++k) {
            std::size_t choice = static_cast<std::size_t>(random.below(static_cast<int>(r.size())));
            for (int look = 0; look < 12; ++look) {
                const auto other =
                    static_cast<std::size_t>(random.below(static_cast<int>(r.size())));
                if (trial.gain(other) > trial.gain(choice)) choice = other;
            }
            trial.add(choice);
        }
        exchange(r, trial);
        if (trial.proven() >= best.proven()) best = trial;
    }
    return best.picks();
}

/// U_k(v) on the points that `open` holds, counting `proven` as done, over candidates with
/// `allowed`. `top` gets the k largest.
double most_provable(const Reduced& r, const std::vector<double>& v, const std::vector<Word>& open,
                     std::size_t proven, std::size_t k, const std::vector<char>& allowed,
                     std::vector<std::pair<double, std::size_t>>& worth) {
    double out = static_cast<double>(proven);
    std::vector<double> open_v(v.size(), 0.0);
    for (std::size_t w = 0; w < r.words; ++w)
        for (Word rest = open[w]; rest != 0; rest &= rest - 1) {
            const std::size_t i = w * 64 + static_cast<std::size_t>(std::countr_zero(rest));
            out += 1.0 - v[i];
            open_v[i] = v[i];
        }
    worth.clear();
    for (std::size_t c = 0; c < r.size(); ++c) {
        if (allowed[c] == 0) continue;
        double sum = 0.0;
        for (const int i : r.points[c]) sum += open_v[static_cast<std::size_t>(i)];
        worth.emplace_back(sum, c);
    }
    const std::size_t take = std::min(k, worth.size());
    std::partial_sort(worth.begin(), worth.begin() + static_cast<std::ptrdiff_t>(take), worth.end(),
                      [](const auto& a, const auto& b) {
                          return a.first > b.first || (a.first == b.first && a.second < b.second);
                      });
    for (std::size_t t = 0; t < take; ++t) out += worth[t].first;
    return out;
}

std::vector<Word> coverable_points(const Reduced& r) {
    std::vector<Word> all(r.words, 0);
    for (std::size_t c = 0; c < r.size(); ++c)
        for (std::size_t w = 0; w < r.words; ++w) all[w] |= r.row(c)[w];
    return all;
}

/// Looks for multipliers with U_k(v) < needed. True: k picks are proven too few.
bool prove_too_few(const Reduced& r, std::size_t k, std::size_t needed, int steps,
                   std::vector<double>& v) {
    const std::vector<Word> all = coverable_points(r);
    const std::vector<char> allowed(r.size(), 1);
    std::vector<std::pair<double, std::size_t>> worth;
    std::vector<double> best_v = v;
    std::vector<double> slope(v.size());
    std::vector<double> way(v.size(), 0.0);
    double best = 1e300;
    double share = 1.0;
    int since = 0;
    const double target = static_cast<double>(needed) - 1.0;
    for (int step = 0; step < steps; ++step) {
        const double u = most_provable(r, v, all, 0, k, allowed, worth);
        if (u < best - 1e-9) {
            best = u;
            best_v = v;
            since = 0;
        } else if (++since >= 15) {
            share *= 0.6;
            v = best_v;
            since = 0;
        }
        if (u < static_cast<double>(needed) - kProofSlack) {
            v = best_v;
            return true;
        }
        if (share < 1e-3) break;
        std::fill(slope.begin(), slope.end(), -1.0);
        for (std::size_t t = 0; t < std::min(k, worth.size()); ++t)
            for (const int i : r.points[worth[t].second]) slope[static_cast<std::size_t>(i)] += 1.0;
        double square = 0.0;
        for (std::size_t i = 0; i < v.size(); ++i) {
            if ((all[i / 64] >> (i % 64) & 1U) == 0) slope[i] = 0.0;
            // Deflected: a part of the way before is kept, which stills the zigzag.
            way[i] = slope[i] + kKept * way[i];
            // A multiplier at its end cannot go further.
            if ((v[i] <= 0.0 && way[i] > 0.0) || (v[i] >= 1.0 && way[i] < 0.0)) way[i] = 0.0;
            square += way[i] * way[i];
        }
        if (square == 0.0) break;
        const double length = share * (u - target) / square;
        for (std::size_t i = 0; i < v.size(); ++i)
            v[i] = std::clamp(v[i] - length * way[i], 0.0, 1.0);
    }
    v = best_v;
    return false;
}

/// All choices of at most k picks, cut off by the bound. Three outcomes.
class Search {
public:
    enum class Outcome { found, none, gave_up };
    Search(const Reduced& r, const std::vector<double>& v, std::size_t needed, int steps)
        : r_(r), v_(v), needed_(needed), steps_(steps), allowed_(r.size(), 1) {}

    Outcome run(std::size_t k) {
        Cover cover(r_);
        const bool found = go(cover, k);
        if (found) return Outcome::found;
        return steps_ < 0 ? Outcome::gave_up : Outcome::none;
    }
    const Picks& found() const { return found_; }

private:
    bool go(Cover& cover, std::size_t k) {
        if (cover.proven() >= needed_) {
            found_ = cover.picks();
            return true;
        }
        if (k == 0 || --steps_ < 0) return false;
        const std::vector<Word> open = and_with_all(cover.open());
        std::vector<std::pair<double, std::size_t>> worth;
        if (most_provable(r_, v_, open, cover.proven(), k, allowed_, worth) <
            static_cast<double>(needed_) - kProofSlack)
            return false;
        // The plain count of what each adds bounds as well, and says where to go first.
        std::vector<std::pair<std::size_t, std::size_t>> gains;
        for (std::size_t c = 0; c < r_.size(); ++c)
            if (allowed_[c] != 0)
                if (const std::size_t g = cover.gain(c); g > 0) gains.emplace_back(g, c);
        std::sort(gains.begin(), gains.end(), [](const auto& a, const auto& b) {
            return a.first > b.first || (a.first == b.first && a.second < b.second);
        });
        std::vector<std::size_t> closed;
        bool is_found = false;
        for (std::size_t at = 0; at < gains.size() && !is_found; ++at) {
            std::size_t most = cover.proven();
            for (std::size_t t = at; t < std::min(at + k, gains.size()); ++t)
                most += gains[t].first;
            if (most < needed_) break;
            const std::size_t c = gains[at].second;
            // With this pick, then without it for good.
            cover.add(c);
            allowed_[c] = 0;
            closed.push_back(c);
            is_found = go(cover, k - 1);
            cover.remove_at(cover.picks().size() - 1);
            if (steps_ < 0) break;
            if (!is_found && at + 1 < gains.size() &&
                most_provable(r_, v_, open, cover.proven(), k, allowed_, worth) <
                    static_cast<double>(needed_) - kProofSlack)
                break;
        }
        for (const std::size_t c : closed) allowed_[c] = 1;
        return is_found;
    }
    std::vector<Word> and_with_all(std::vector<Word> open) const {
        if (all_.empty()) all_ = coverable_points(r_);
        for (std::size_t w = 0; w < open.size(); ++w) open[w] &= all_[w];
        return open;
    }

    const Reduced& r_;
    const std::vector<double>& v_;
    std::size_t needed_;
    int steps_;
    std::vector<char> allowed_;
    mutable std::vector<Word> all_;
    Picks found_;
};

}  // namespace

std::size_t proven_by(const CoverProblem& problem, std::span<const std::size_t> places) {
    std::vector<Word> all(problem.words, 0);
    for (const std::size_t p : places)
        for (std::size_t w = 0; w < problem.words; ++w)
            all[w] |= problem.bits[p * problem.words + w];
    return count_bits(all);
}

std::int64_t best_addition(const CoverProblem& problem, std::span<const std::size_t> others,
                           const std::vector<bool>& allowed) {
    std::vector<Word> open(problem.words, ~Word{0});
    for (const std::size_t p : others)
        for (std::size_t w = 0; w < problem.words; ++w)
            open[w] &= ~problem.bits[p * problem.words + w];
    std::int64_t best = -1;
    std::size_t most = 0;
    for (std::size_t p = 0; p < problem.places(); ++p) {
        if (!allowed.empty() && !allowed[p]) continue;
        std::size_t gain = 0;
        for (std::size_t w = 0; w < problem.words; ++w)
            gain += static_cast<std::size_t>(
                std::popcount(problem.bits[p * problem.words + w] & open[w]));
        if (gain > most) {
            most = gain;
            best = static_cast<std::int64_t>(p);
        }
    }
    return best;
}

Choice choose_places(const CoverProblem& problem, const Effort& effort) {
    Choice out;
    const Reduced r = reduce(problem);
    out.candidates = r.size();
    out.is_reachable = r.coverable >= problem.needed;
    out.needed = std::min(problem.needed, r.coverable);
    if (out.needed == 0) return out;

    Random random(1);
    Picks best = greedy(r, out.needed);
    out.greedy = best.size();
    // Fewer and fewer, until it does not succeed any more.
    std::vector<double> v(r.point_count, 0.5);
    std::size_t at_least = 1;
    while (best.size() > at_least) {
        const Picks fewer =
            seek(r, best, best.size() - 1, out.needed, effort.exchange_rounds, random);
        Cover cover(r);
        for (const std::size_t c : fewer) cover.add(c);
        if (cover.proven() >= out.needed) {
            best = fewer;
            continue;
        }
        // Not found: is one less impossible, or at least two less?
        std::size_t k = best.size() - 1;
        while (k >= at_least) {
            if (prove_too_few(r, k, out.needed, effort.bound_steps, v)) {
                at_least = k + 1;
                break;
            }
            --k;
        }
        if (best.size() == at_least) break;
        const auto share = static_cast<double>(std::max<std::size_t>(r.size(), 100)) / 100.0;
        Search search(r, v, out.needed, static_cast<int>(effort.search_steps / (share * share)));
        const auto outcome = search.run(best.size() - 1);
        if (outcome == Search::Outcome::found) {
            best = search.found();
            continue;
        }
        if (outcome == Search::Outcome::none) at_least = best.size();
        break;
    }
    // As many points as so many places can give.
    Cover cover(r);
    for (const std::size_t c : best) cover.add(c);
    exchange(r, cover);
    if (cover.proven() >= out.needed) best = cover.picks();
    for (const std::size_t c : best) out.places.push_back(r.original[c]);
    out.at_least = at_least;
    out.proven = proven_by(problem, out.places);
    return out;
}

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
