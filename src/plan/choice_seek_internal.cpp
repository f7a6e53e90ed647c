#include "plan/choice_seek_internal.hpp"

#include <algorithm>

namespace layproof::plan::internal {
namespace {

/// Steps without success after which some picks are drawn anew.
constexpr int kPatience = 1000;

/// Some picks and what each candidate would add to them.
class Held {
public:
    explicit Held(const Reduced& reduced)
        : r_(reduced),
          times_(reduced.point_count(), 0),
          gain_(reduced.size()),
          is_in_(reduced.size(), 0) {
        for (std::size_t c = 0; c < gain_.size(); ++c) gain_[c] = reduced.points.of(c).size();
    }

    void add(std::uint32_t c) {
        picks_.push_back(c);
        is_in_[c] = 1;
        for (const std::uint32_t i : r_.points.of(c)) {
            if (times_[i]++ != 0) continue;
            ++proven_;
            for (const std::uint32_t other : r_.holders.of(i)) --gain_[other];
        }
    }
    std::uint32_t remove_at(std::size_t k) {
        const std::uint32_t c = picks_[k];
        picks_.erase(picks_.begin() + static_cast<std::ptrdiff_t>(k));
        is_in_[c] = 0;
        for (const std::uint32_t i : r_.points.of(c)) {
            if (--times_[i] != 0) continue;
            --proven_;
            for (const std::uint32_t other : r_.holders.of(i)) ++gain_[other];
        }
        return c;
    }
    std::size_t loss(std::uint32_t c) const {
        std::size_t out = 0;
        for (const std::uint32_t i : r_.points.of(c)) out += times_[i] == 1 ? 1U : 0U;
        return out;
    }
    std::size_t gain(std::uint32_t c) const { return gain_[c]; }
    bool has(std::uint32_t c) const { return is_in_[c] != 0; }
    std::size_t proven() const { return proven_; }
    const Picks& picks() const { return picks_; }

private:
    const Reduced& r_;
    std::vector<std::uint32_t> times_;
    std::vector<std::size_t> gain_;
    std::vector<char> is_in_;
    Picks picks_;
    std::size_t proven_ = 0;
};

std::size_t drawn_below(Random& random, std::size_t count) {
    return static_cast<std::size_t>(random.below(static_cast<int>(count)));
}

/// The best candidate; where several are equally good, one of them is drawn.
class Best {
public:
    explicit Best(Random& random) : random_(random) {}
    void offer(std::size_t what, std::int64_t worth) {
        if (is_any_ && worth < worth_) return;
        equals_ = is_any_ && worth == worth_ ? equals_ + 1 : 1;
        if (equals_ > 1 && random_.below(equals_) != 0) return;
        is_any_ = true;
        what_ = what;
        worth_ = worth;
    }
    bool is_any() const { return is_any_; }
    std::size_t what() const { return what_; }

private:
    Random& random_;
    bool is_any_ = false;
    std::size_t what_ = 0;
    std::int64_t worth_ = 0;
    int equals_ = 0;
};

/// Some picks go; what comes instead is the best of some candidates drawn.
void draw_anew(Held& held, std::size_t candidates, Random& random) {
    const std::size_t count = held.picks().size();
    const std::size_t away =
        std::min(count, 1 + drawn_below(random, std::max<std::size_t>(2, count / 3)));
    for (std::size_t k = 0; k < away; ++k) held.remove_at(drawn_below(random, count - k));
    for (std::size_t k = 0; k < away; ++k) {
        Best best(random);
        for (int look = 0; look < 12 || !best.is_any(); ++look) {
            const auto c = static_cast<std::uint32_t>(drawn_below(random, candidates));
            if (!held.has(c)) best.offer(c, static_cast<std::int64_t>(held.gain(c)));
        }
        held.add(static_cast<std::uint32_t>(best.what()));
    }
}

}  // namespace

Picks greedy(const Reduced& reduced, std::size_t needed) {
    Held held(reduced);
    while (held.proven() < needed) {
        std::uint32_t best = 0;
        for (std::uint32_t c = 1; c < reduced.size(); ++c)
            if (held.gain(c) > held.gain(best)) best = c;
        if (reduced.size() == 0 || held.gain(best) == 0) break;
        held.add(best);
    }
    return held.picks();
}

Picks exchange(const Reduced& reduced, const Picks& start, std::size_t enough, int steps,
               Random& random) {
    const std::size_t count = start.size();
    Held held(reduced);
    for (const std::uint32_t c : start) held.add(c);
    Picks best = held.picks();
    std::size_t most = held.proven();
    if (count == 0 || count >= reduced.size()) return best;
    // Step until which a candidate stays in or out.
    std::vector<int> stays(reduced.size(), 0);
    std::size_t most_lately = most;
    int success_at = 0;
    for (int step = 1; step <= steps && most < enough; ++step) {
        Best out(random);
        const bool is_any_out = random.below(4) == 0;
        for (std::size_t k = 0; k < count && !is_any_out; ++k) {
            const std::uint32_t c = held.picks()[k];
            if (stays[c] <= step) out.offer(k, -static_cast<std::int64_t>(held.loss(c)));
        }
        const std::uint32_t gone =
            held.remove_at(out.is_any() ? out.what() : drawn_below(random, count));
        Best in(random);
        for (std::uint32_t c = 0; c < reduced.size(); ++c)
            if (c != gone && !held.has(c) && stays[c] <= step)
                in.offer(c, static_cast<std::int64_t>(held.gain(c)));
        const auto taken = in.is_any() ? static_cast<std::uint32_t>(in.what()) : gone;
        held.add(taken);
        stays[gone] = step + 1 + random.below(10);
        stays[taken] = step + 1 + random.below(std::max(2, static_cast<int>(count) / 2));
        if (held.proven() > most_lately) {
            most_lately = held.proven();
            success_at = step;
        }
        if (held.proven() > most) {
            most = held.proven();
            best = held.picks();
        }
        if (step - success_at > kPatience) {
            draw_anew(held, reduced.size(), random);
            most_lately = held.proven();
            success_at = step;
        }
    }
    return best;
}

Picks without_one(const Reduced& reduced, const Picks& picks) {
    Held held(reduced);
    for (const std::uint32_t c : picks) held.add(c);
    std::size_t least = 0;
    for (std::size_t k = 1; k < picks.size(); ++k)
        if (held.loss(picks[k]) < held.loss(picks[least])) least = k;
    if (!picks.empty()) held.remove_at(least);
    return held.picks();
}

std::size_t proven_by(const Reduced& reduced, const Picks& picks) {
    Held held(reduced);
    for (const std::uint32_t c : picks) held.add(c);
    return held.proven();
}

}  // namespace layproof::plan::internal
