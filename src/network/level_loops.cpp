#include "network/level_loops.hpp"

#include <algorithm>
#include <cmath>
#include <cstdint>
#include <limits>
#include <map>
#include <queue>
#include <utility>

namespace layproof::network {
namespace {

constexpr double kPerRootKm_m = 0.012;
constexpr double kLeastAllowed_m = 0.005;
constexpr double kPerRootTurn_m = 0.005;
constexpr double kManySds = 3.0;
constexpr std::size_t kMostForBasis = 300;

using Members = std::vector<LevelClosure::Member>;

struct Net {
    struct End {
        std::size_t other = 0, link = 0;
        bool is_forward = true;
    };
    std::vector<std::string> points;
    std::map<std::string, std::size_t, std::less<>> number;
    std::vector<std::pair<std::size_t, std::size_t>> ends;  ///< per link
    std::vector<std::vector<End>> at;                       ///< per point, in order of links
    std::vector<double> weight;                             ///< per link
    std::vector<std::size_t> part;                          ///< per point
    std::size_t parts = 0;

    explicit Net(const std::vector<LevelLink>& links) {
        for (std::size_t k = 0; k < links.size(); ++k) {
            const std::size_t from = point(links[k].from);
            const std::size_t to = point(links[k].to);
            ends.emplace_back(from, to);
            weight.push_back(links[k].sd_m * links[k].sd_m);
            if (from == to) continue;
            at[from].push_back({to, k, true});
            at[to].push_back({from, k, false});
        }
        part.assign(points.size(), points.size());
        for (std::size_t p = 0; p < points.size(); ++p) {
            if (part[p] != points.size()) continue;
            std::vector<std::size_t> queue{p};
            part[p] = parts;
            while (!queue.empty()) {
                const std::size_t here = queue.back();
                queue.pop_back();
                for (const End& end : at[here]) {
                    if (part[end.other] != points.size()) continue;
                    part[end.other] = parts;
                    queue.push_back(end.other);
                }
            }
            ++parts;
        }
    }

private:
    std::size_t point(const std::string& name) {
        const auto [found, is_new] = number.emplace(name, points.size());
        if (is_new) {
            points.push_back(name);
            at.emplace_back();
        }
        return found->second;
    }
};

constexpr double kFar = std::numeric_limits<double>::infinity();

/// Shortest paths from one point, or from the nearest of several.
struct PathTree {
    std::vector<double> distance;
    std::vector<std::optional<Net::End>> back;  ///< towards the root
    std::vector<std::size_t> nearest;           ///< per point: its root
    std::size_t root = 0;

    PathTree(const Net& net, std::size_t from) : PathTree(net, std::vector<std::size_t>{from}) {}

    PathTree(const Net& net, const std::vector<std::size_t>& roots)
        : distance(net.points.size(), kFar),
          back(net.points.size()),
          nearest(net.points.size(), net.points.size()),
          root(roots.empty() ? 0 : roots.front()) {
        using Entry = std::pair<double, std::size_t>;
        std::priority_queue<Entry, std::vector<Entry>, std::greater<>> queue;
        for (const std::size_t from : roots) {
            distance[from] = 0.0;
            nearest[from] = from;
            queue.push({0.0, from});
        }
        while (!queue.empty()) {
            const auto [far, here] = queue.top();
            queue.pop();
            if (far > distance[here]) continue;
            for (const Net::End& end : net.at[here]) {
                const double next = far + net.weight[end.link];
                if (!(next < distance[end.other])) continue;
                distance[end.other] = next;
                nearest[end.other] = nearest[here];
                back[end.other] = Net::End{here, end.link, end.is_forward};
                queue.push({next, end.other});
            }
        }
    }

    /// From the root to a point.
    Members path(std::size_t to) const {
        Members out;
        for (std::size_t here = to; back[here]; here = back[here]->other)
            out.push_back({back[here]->link, back[here]->is_forward});
        std::reverse(out.begin(), out.end());
        return out;
    }
};

Members turned(Members members) {
    std::reverse(members.begin(), members.end());
    for (auto& member : members) member.is_forward = !member.is_forward;
    return members;
}

struct Candidate {
    double weight = 0.0;
    Members members;
};

/// Links as bits; independence over the two-element field.
class Independent {
public:
    explicit Independent(std::size_t links) : words_((links + 63) / 64) {}

    bool take(const Members& members) {
        std::vector<std::uint64_t> row(words_, 0);
        for (const auto& member : members) row[member.link / 64] ^= 1ULL << (member.link % 64);
        for (const auto& [lead, held] : held_) {
            if ((row[lead / 64] >> (lead % 64) & 1ULL) == 0) continue;
            for (std::size_t w = 0; w < words_; ++w) row[w] ^= held[w];
        }
        for (std::size_t w = 0; w < words_; ++w) {
            if (row[w] == 0) continue;
            std::size_t bit = 0;
            while ((row[w] >> bit & 1ULL) == 0) ++bit;
            held_.emplace(w * 64 + bit, std::move(row));
            return true;
        }
        return false;
    }

private:
    std::size_t words_;
    std::map<std::size_t, std::vector<std::uint64_t>> held_;  ///< by leading link, rising
};

/// Both paths, apart from the root, have no point in common.
bool is_simple(const Net& net, const PathTree& tree, std::size_t x, std::size_t y) {
    std::vector<char> seen(net.points.size(), 0);
    for (std::size_t here = x; here != tree.root; here = tree.back[here]->other) seen[here] = 1;
    for (std::size_t here = y; here != tree.root; here = tree.back[here]->other)
        if (seen[here] != 0) return false;
    return true;
}

void add_candidates(const Net& net, std::size_t root, std::vector<Candidate>& out) {
    const PathTree tree(net, root);
    for (std::size_t k = 0; k < net.ends.size(); ++k) {
        const auto [x, y] = net.ends[k];
        if (x == y || tree.distance[x] == kFar) continue;
        const auto is_of_tree = [&](std::size_t p) {
            return tree.back[p] && tree.back[p]->link == k;
        };
        if (is_of_tree(x) || is_of_tree(y) || !is_simple(net, tree, x, y)) continue;
        Candidate one;
        one.weight = tree.distance[x] + net.weight[k] + tree.distance[y];
        one.members = tree.path(x);
        one.members.push_back({k, true});
        const Members home = turned(tree.path(y));
        one.members.insert(one.members.end(), home.begin(), home.end());
        out.push_back(std::move(one));
    }
}

/// The loop that a link closes on one tree, without the way both ends share.
void add_fundamental(const Net& net, std::size_t root, std::vector<Candidate>& out) {
    const PathTree tree(net, root);
    for (std::size_t k = 0; k < net.ends.size(); ++k) {
        const auto [x, y] = net.ends[k];
        if (x == y || tree.distance[x] == kFar) continue;
        const auto is_of_tree = [&](std::size_t p) {
            return tree.back[p] && tree.back[p]->link == k;
        };
        if (is_of_tree(x) || is_of_tree(y)) continue;
        Members there = tree.path(x);
        Members home = tree.path(y);
        std::size_t same = 0;
        while (same < there.size() && same < home.size() && there[same].link == home[same].link)
            ++same;
        Candidate one;
        one.members.assign(there.begin() + static_cast<std::ptrdiff_t>(same), there.end());
        one.members.push_back({k, true});
        home.erase(home.begin(), home.begin() + static_cast<std::ptrdiff_t>(same));
        for (const auto& member : turned(std::move(home))) one.members.push_back(member);
        for (const auto& member : one.members) one.weight += net.weight[member.link];
        out.push_back(std::move(one));
    }
}

std::size_t start_of(const Net& net, const LevelClosure::Member& member) {
    return member.is_forward ? net.ends[member.link].first : net.ends[member.link].second;
}

/// Begins with its first link, forward, so that the same loop always reads the same.
void set_in_order(Members& members) {
    const auto first =
        std::min_element(members.begin(), members.end(),
                         [](const auto& a, const auto& b) { return a.link < b.link; });
    if (!first->is_forward) {
        members = turned(std::move(members));
        set_in_order(members);
        return;
    }
    std::rotate(members.begin(), first, members.end());
}

LevelClosure closure_of(const Net& net, const std::vector<LevelLink>& links, Members members) {
    LevelClosure out;
    double variance = 0.0;
    double length = 0.0;
    int turns = 0;
    bool has_length = true;
    bool has_turns = true;
    for (const auto& member : members) {
        const LevelLink& link = links[member.link];
        out.points.push_back(net.points[start_of(net, member)]);
        out.closure_m += member.is_forward ? link.rise_m : -link.rise_m;
        variance += link.sd_m * link.sd_m;
        has_length = has_length && link.length_m;
        has_turns = has_turns && link.turns;
        length += link.length_m.value_or(0.0);
        turns += link.turns.value_or(0);
    }
    out.sd_m = std::sqrt(variance);
    if (has_length) out.length_m = length;
    if (has_turns) out.turns = turns;
    out.members = std::move(members);
    return out;
}

/// Where a run comes back to a point it passed.
std::vector<Members> loops_of_runs(const Net& net, const std::vector<LevelLink>& links) {
    std::vector<Members> out;
    std::vector<std::size_t> way;  // links since the run began, or since it last closed
    for (std::size_t k = 0; k < links.size(); ++k) {
        const bool goes_on = !way.empty() && links[k].run >= 0 &&
                             links[way.back()].run == links[k].run &&
                             net.ends[way.back()].second == net.ends[k].first;
        if (!goes_on) way.clear();
        way.push_back(k);
        if (links[k].run < 0) continue;
        for (std::size_t first = way.size(); first-- > 0;) {
            if (net.ends[way[first]].first != net.ends[k].second) continue;
            Members members;
            for (std::size_t i = first; i < way.size(); ++i) members.push_back({way[i], true});
            if (members.size() > 1) out.push_back(std::move(members));
            way.resize(first);
            break;
        }
    }
    return out;
}

void add_loops_of_part(const Net& net, const std::vector<std::size_t>& points, std::size_t wanted,
                       const std::vector<Members>& own, std::vector<Members>& out) {
    std::vector<Candidate> candidates;
    if (points.size() <= kMostForBasis && wanted <= kMostForBasis)
        for (const std::size_t root : points) add_candidates(net, root, candidates);
    else
        add_fundamental(net, points.front(), candidates);
    for (Candidate& one : candidates) set_in_order(one.members);
    std::sort(candidates.begin(), candidates.end(), [](const Candidate& a, const Candidate& b) {
        // Sums in another order differ in the last digit: that must not choose.
        const double apart = a.weight - b.weight;
        if (std::abs(apart) > 1e-12 * (a.weight + b.weight)) return apart < 0.0;
        return std::lexicographical_compare(
            a.members.begin(), a.members.end(), b.members.begin(), b.members.end(),
            [](const auto& x, const auto& y) { return x.link < y.link; });
    });
    Independent held(net.ends.size());
    std::size_t found = 0;
    for (const Members& members : own) {
        if (net.part[net.ends[members.front().link].first] != net.part[points.front()]) continue;
        if (!held.take(members)) continue;
        out.push_back(members);
        ++found;
    }
    for (Candidate& one : candidates) {
        if (found == wanted) return;
        if (!held.take(one.members)) continue;
        out.push_back(std::move(one.members));
        ++found;
    }
}

}  // namespace

std::vector<LevelClosure> level_loops(const std::vector<LevelLink>& links) {
    const Net net(links);
    const std::vector<Members> own = loops_of_runs(net, links);
    std::vector<Members> loops;
    for (std::size_t k = 0; k < links.size(); ++k)
        if (net.ends[k].first == net.ends[k].second) loops.push_back({{k, true}});
    for (std::size_t part = 0; part < net.parts; ++part) {
        std::vector<std::size_t> points;
        std::size_t ends = 0;
        for (std::size_t p = 0; p < net.points.size(); ++p) {
            if (net.part[p] != part) continue;
            points.push_back(p);
            ends += net.at[p].size();
        }
        const std::size_t wanted = ends / 2 + 1 - points.size();
        if (wanted > 0) add_loops_of_part(net, points, wanted, own, loops);
    }
    std::vector<LevelClosure> out;
    for (Members& members : loops) out.push_back(closure_of(net, links, std::move(members)));
    return out;
}

std::vector<LevelClosure> level_ties(const std::vector<LevelLink>& links,
                                     const std::vector<frame::Mark>& marks) {
    const Net net(links);
    std::map<std::size_t, const frame::Mark*> known;  ///< by point
    std::vector<std::size_t> roots;
    for (const frame::Mark& mark : marks) {
        const auto found = net.number.find(mark.name);
        if (found == net.number.end() || !mark.has_height()) continue;
        if (known.emplace(found->second, &mark).second) roots.push_back(found->second);
    }
    // A link between the neighbourhoods of two marks is the middle of a way between them; the ways
    // of least weight are among these (K. Mehlhorn 1988, Inf. Process. Lett. 27(3)).
    const PathTree tree(net, roots);
    struct Way {
        double weight;
        std::size_t link;
    };
    std::vector<Way> ways;
    for (std::size_t k = 0; k < net.ends.size(); ++k) {
        const auto [x, y] = net.ends[k];
        if (tree.distance[x] == kFar || tree.nearest[x] == tree.nearest[y]) continue;
        ways.push_back({tree.distance[x] + net.weight[k] + tree.distance[y], k});
    }
    std::stable_sort(ways.begin(), ways.end(),
                     [](const Way& a, const Way& b) { return a.weight < b.weight; });
    std::vector<std::size_t> group(net.points.size());
    for (std::size_t p = 0; p < group.size(); ++p) group[p] = p;
    const auto head_of = [&](std::size_t p) {
        while (group[p] != p) p = group[p] = group[group[p]];
        return p;
    };
    std::vector<LevelClosure> out;
    for (const Way& way : ways) {
        const auto [x, y] = net.ends[way.link];
        const std::size_t from = head_of(tree.nearest[x]);
        const std::size_t to = head_of(tree.nearest[y]);
        if (from == to) continue;
        group[to] = from;
        Members members = tree.path(x);
        members.push_back({way.link, true});
        for (const auto& member : turned(tree.path(y))) members.push_back(member);
        // From the mark that the sheet has first.
        const frame::Mark* first = known.at(tree.nearest[x]);
        const frame::Mark* last = known.at(tree.nearest[y]);
        if (last < first) {
            std::swap(first, last);
            members = turned(std::move(members));
        }
        const frame::Mark& a = *first;
        const frame::Mark& b = *last;
        LevelClosure one = closure_of(net, links, std::move(members));
        one.is_tie = true;
        one.points.push_back(b.name);
        one.closure_m -= *b.height_m - *a.height_m;
        one.sd_m = std::sqrt(one.sd_m * one.sd_m + a.sd_height_m * a.sd_height_m +
                             b.sd_height_m * b.sd_height_m);
        out.push_back(std::move(one));
    }
    return out;
}

AllowedClosure allowed_closure(const LevelClosure& closure) {
    if (closure.length_m && *closure.length_m > 0.0)
        return {std::max(kPerRootKm_m * std::sqrt(*closure.length_m / 1000.0), kLeastAllowed_m),
                "12 mm x root of km, at least 5 mm",
                "common practice: third order of the US federal standards of 1984, bench levels "
                "between marks of a site (BS 5606), both from memory"};
    if (closure.turns && *closure.turns > 0)
        return {kPerRootTurn_m * std::sqrt(static_cast<double>(*closure.turns)),
                "5 mm x root of set-ups", "common practice on building sites, no source"};
    return {kManySds * closure.sd_m, "3 standard deviations", "no source"};
}

}  // namespace layproof::network
