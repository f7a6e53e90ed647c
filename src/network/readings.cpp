#include "network/readings.hpp"

#include <algorithm>
#include <cmath>
#include <iterator>
#include <limits>
#include <numeric>

#include "base/index.hpp"
#include "cause/traps.hpp"
#include "network/readings_search_internal.hpp"

namespace layproof::network {
namespace {

using internal::Complex;
using internal::ReadingGathered;
using internal::ReadingModel;
using internal::ReadingState;
using internal::ReadingTrial;

constexpr int kMostAtOnce = 3;
constexpr std::size_t kBeam = 8;
/// Fits kept with their state; those among them that leave a misfit are tried with small causes.
constexpr std::size_t kMostKept = 6;
/// What is this much less probable (ln) than the best is not told.
constexpr double kNegligible = 16.0;
/// Evidence (ln) by which an exchange must fit better than the list as written to be more than
/// possible.
constexpr double kAsGood = 3.0;
constexpr double kCertain = 0.999;
/// Ranks this far above that of a reading that fits everything leave misfits.
constexpr double kWorse = 60.0;
/// From so many misfitting set-ups on a reading of the whole list that mends all of them is not
/// weighed against names.
constexpr std::size_t kManySetups = 5;

struct Node {
    std::vector<ReadingTrial> made;
    ReadingModel model;
    ReadingState state;
    std::vector<int> misfitting;
    double fit = 0.0;   ///< −ln evidence
    double cost = 0.0;  ///< with the odds
    double rank = 0.0;  ///< before it was refined
    double paid = 0.0;  ///< for distances that are all long, already taken out of the model
};

bool are_same(const std::vector<ReadingTrial>& a, const std::vector<ReadingTrial>& b) {
    return a.size() == b.size() && std::all_of(a.begin(), a.end(), [&](const ReadingTrial& one) {
               return std::any_of(b.begin(), b.end(),
                                  [&](const ReadingTrial& other) { return one.is_same(other); });
           });
}

class ReadingSearch {
public:
    ReadingSearch(const NetworkInput& input, const cause::CauseTable& table, const FileUnits& units)
        : in_(input), table_(table), units_(units) {}

    Readings run() {
        add_foot_kinds();
        all_ = internal::gather_readings(in_, table_);
        Node root;
        root.model = all_.model;
        std::vector<int> setups;
        for (std::size_t s = 0; s < root.model.of_setup.size(); ++s)
            setups.push_back(static_cast<int>(s));
        internal::place_setups(root.model, setups, root.state);
        internal::refine(root.model, setups, root.state);
        finish(root);
        root.rank = internal::rank_of(root.model, root.state, setups);
        is_tested_ = std::any_of(root.state.poses.begin(), root.state.poses.end(),
                                 [](const auto& pose) { return pose.is_placed; });
        if (is_tested_) search(std::move(root));
        return told();
    }

private:
    void finish(Node& node) const {
        node.fit = internal::cost_of(node.model, node.state);
        node.cost = node.fit + node.paid;
        for (const ReadingTrial& one : node.made) node.cost -= one.log_odds;
        node.misfitting = internal::misfitting(internal::worst_of(node.model, node.state));
    }

    /// Nothing where the first fit shows already that it explains nothing.
    std::optional<Node> child_of(const Node& parent, const ReadingTrial& trial) {
        Node out;
        out.model = parent.model;
        out.state = parent.state;
        const std::vector<int> touched = internal::apply(trial, out.model);
        internal::place_setups(out.model, touched, out.state);
        const double before = internal::rank_of(parent.model, parent.state, touched);
        const double after = internal::rank_of(out.model, out.state, touched);
        if (after > before + (parent.misfitting.empty() ? kAsGood : -kAsGood)) return std::nullopt;
        out.rank = parent.rank - before + after;
        if (out.rank > fitting_rank_ + kWorse) return std::nullopt;
        out.paid = parent.paid;
        out.made = parent.made;
        out.made.push_back(trial);
        internal::refine(
            out.model, touched, out.state,
            touched.size() > kManySetups ? internal::kRoundsToRank : internal::kRoundsToWeigh);
        finish(out);
        if (trial.kind == ReadingKind::names_swapped && parent.fit - out.fit < kAsGood)
            out.made.back().kind = ReadingKind::mirror_possible;
        if (!internal::agrees(trial, parent.model, out.model, out.state)) return std::nullopt;
        if (out.misfitting.empty()) fitting_rank_ = std::min(fitting_rank_, out.rank);
        return out;
    }

    std::vector<ReadingTrial> trials_of(const Node& node, std::vector<Node>& children) {
        std::vector<ReadingTrial> out;
        if (node.misfitting.empty()) {
            // A fit that needs a reading leaves nothing to be asked; as written, few marks do.
            if (node.made.empty()) out = internal::as_good_trials(node.model, node.state, table_);
            return out;
        }
        bool is_mended = false;
        for (const ReadingTrial& trial :
             internal::list_trials(node.model, node.state, node.misfitting)) {
            auto child = child_of(node, trial);
            if (!child) continue;
            children.push_back(std::move(*child));
            is_mended = is_mended || children.back().misfitting.empty();
        }
        if (is_mended && node.misfitting.size() > kManySetups) return out;
        out = internal::name_trials(node.model, node.state, node.misfitting, table_);
        return out;
    }

    /// A prism that is wrong in all set-ups would hide names that are wrong in some.
    void add_with_shorter_distances(const Node& written, std::vector<Node>& beam) {
        for (const bool is_ratio : {false, true}) {
            const auto shared =
                internal::shared_amount(written.model, written.state, is_ratio, table_);
            if (!shared) continue;
            Node one = written;
            internal::shorten(*shared, one.model);
            internal::place_setups(one.model, shared->setups, one.state);
            std::vector<int> setups(one.model.of_setup.size());
            std::iota(setups.begin(), setups.end(), 0);
            one.rank = internal::rank_of(one.model, one.state, setups);
            if (!(one.rank + shared->paid < written.rank)) continue;
            internal::refine(one.model, shared->setups, one.state);
            one.paid = shared->paid;
            finish(one);
            if (!(one.cost < written.cost)) continue;
            note(one, one.cost);
            if (one.misfitting.empty()) fitting_rank_ = std::min(fitting_rank_, one.rank);
            beam.push_back(std::move(one));
        }
    }

    void add_with_shorter_distances(std::vector<Node>& nodes) {
        std::vector<Node> more;
        for (std::size_t i = 0; i < std::min(nodes.size(), kBeam); ++i)
            if (!nodes[i].misfitting.empty() && nodes[i].paid == 0.0)
                add_with_shorter_distances(nodes[i], more);
        if (more.empty()) return;
        std::move(more.begin(), more.end(), std::back_inserter(nodes));
        std::stable_sort(nodes.begin(), nodes.end(),
                         [](const Node& a, const Node& b) { return a.cost < b.cost; });
    }

    void keep(Node&& node) {
        kept_.push_back(std::move(node));
        std::stable_sort(kept_.begin(), kept_.end(),
                         [](const Node& a, const Node& b) { return a.cost < b.cost; });
        if (kept_.size() > kMostKept) kept_.pop_back();
    }

    void note(const Node& node, double cost) {
        const auto same = std::find_if(pool_.begin(), pool_.end(), [&](const Entry& one) {
            return are_same(one.made, node.made);
        });
        if (same == pool_.end()) {
            pool_.push_back({node.made, shifts_of(node), cost});
        } else if (cost < same->cost) {
            *same = {node.made, shifts_of(node), cost};
        }
    }

    void search(Node root) {
        std::vector<Node> beam;
        const Node written = root;
        note(root, root.cost);
        if (written.misfitting.empty()) {
            fitting_rank_ = written.rank;
        } else {
            const auto small = internal::with_small_causes(written.model, written.state, table_);
            note(written, small.cost);
            if (small.fits && written.misfitting.size() > kManySetups) return;
        }
        if (!written.misfitting.empty()) add_with_shorter_distances(written, beam);
        beam.push_back(std::move(root));
        for (int depth = 0; depth < kMostAtOnce && !beam.empty(); ++depth) {
            std::vector<Node> next;
            for (const Node& parent : beam) {
                std::vector<Node> children;
                for (const ReadingTrial& trial : trials_of(parent, children))
                    if (auto child = child_of(parent, trial)) children.push_back(std::move(*child));
                for (Node& child : children) {
                    // A reading that explains nothing only costs its odds.
                    if (!parent.misfitting.empty() && child.cost >= parent.cost + kNegligible)
                        continue;
                    note(child, child.cost);
                    next.push_back(std::move(child));
                }
            }
            std::stable_sort(next.begin(), next.end(),
                             [](const Node& a, const Node& b) { return a.cost < b.cost; });
            add_with_shorter_distances(next);
            beam.clear();
            // What fits needs no more readings.
            const bool is_done = !next.empty() && next.front().misfitting.empty();
            for (Node& one : next) {
                const bool is_twice = std::any_of(beam.begin(), beam.end(), [&](const Node& b) {
                    return are_same(b.made, one.made);
                });
                if (is_twice) continue;
                keep(Node(one));
                if (!is_done && beam.size() < kBeam && !one.misfitting.empty() &&
                    one.cost < written.cost)
                    beam.push_back(std::move(one));
            }
        }
        for (const Node& one : kept_) {
            if (one.misfitting.empty() || kept_.front().misfitting.empty()) continue;
            const double odds = one.fit - one.cost;
            note(one, internal::with_small_causes(one.model, one.state, table_).cost - odds);
        }
    }

    struct Entry {
        std::vector<ReadingTrial> made;
        std::vector<Eigen::Vector3d> shifts;
        double cost = 0.0;
    };

    static std::vector<Eigen::Vector3d> shifts_of(const Node& node) {
        std::vector<Eigen::Vector3d> out;
        for (const ReadingTrial& one : node.made) {
            Eigen::Vector3d shift = Eigen::Vector3d::Zero();
            if (one.kind == ReadingKind::older_revision) {
                shift << one.shift.real(), one.shift.imag(), 0.0;
            } else if (one.kind == ReadingKind::mark_mistyped) {
                const auto p = at(one.a);
                if (one.is_height) {
                    shift.z() = node.state.height_m[p] - node.model.points[p].height_m;
                } else {
                    const Complex off = node.state.plan[p] - node.model.points[p].given;
                    shift << off.real(), off.imag(), 0.0;
                }
            }
            out.push_back(shift);
        }
        return out;
    }

    /// One digit of one coordinate, or its sign, in the unit of the list.
    bool is_one_digit(int mark, Eigen::Vector3d& shift) const {
        constexpr double kNear_m = 0.02;
        const frame::Mark& given = in_.marks[at(mark)];
        int axis = -1;
        for (int i = 0; i < 3; ++i) {
            if (std::abs(shift[i]) < kNear_m) continue;
            if (axis >= 0) return false;
            axis = i;
        }
        if (axis < 0) return false;
        const double off = shift[axis];
        const std::optional<double> was = axis == 0   ? given.east_m
                                          : axis == 1 ? given.north_m
                                                      : given.height_m;
        if (!was) return false;
        const auto settle = [&](double exact) {
            if (std::abs(off - exact) > kNear_m) return false;
            shift.setZero();
            shift[axis] = exact;
            return true;
        };
        if (settle(-2.0 * *was)) return true;
        const double unit = units_.marks ? measure::metres_per(*units_.marks) : 1.0;
        const double size = std::floor(std::log10(std::abs(off) / unit) + 1e-9);
        for (const double place : {std::pow(10.0, size), std::pow(10.0, size + 1.0)}) {
            const double digit = std::round(off / unit / place);
            if (digit != 0.0 && std::abs(digit) < 10.0 && settle(digit * place * unit)) return true;
        }
        return false;
    }

    Reading reading_of(const ReadingTrial& trial, const Eigen::Vector3d& shift,
                       const ReadingModel& before) const {
        Reading out;
        out.kind = trial.kind;
        out.setup = trial.setup;
        out.ratio = trial.ratio;
        out.shift_m = shift;
        const auto add_mark = [&](int p) {
            if (p >= 0 && before.points[at(p)].mark >= 0)
                out.marks.push_back(before.points[at(p)].mark);
        };
        switch (trial.kind) {
            case ReadingKind::names_swapped:
            case ReadingKind::mirror_possible:
                add_mark(trial.a);
                add_mark(trial.b);
                break;
            case ReadingKind::wrong_name: {
                add_mark(trial.a);
                const int sight = before.vectors[at(trial.vector)].sight;
                if (sight >= 0) out.sights = all_.all.sights[at(sight)].booked;
                break;
            }
            case ReadingKind::mark_mistyped:
                add_mark(trial.a);
                if (!out.marks.empty())
                    out.is_one_digit = is_one_digit(out.marks.front(), out.shift_m);
                break;
            case ReadingKind::older_revision:
                for (const int p : trial.group) add_mark(p);
                std::sort(out.marks.begin(), out.marks.end());
                break;
            case ReadingKind::axes_exchanged:
            case ReadingKind::lengths_in_feet:
            case ReadingKind::foot_kinds_mixed:
                break;
        }
        if (trial.a >= 0) out.booked = all_.names[at(trial.a)];
        if (trial.b >= 0) out.meant = all_.names[at(trial.b)];
        return out;
    }

    void add_foot_kinds() {
        double largest = std::abs(units_.largest_coordinate_m);
        if (!(largest > 0.0))
            for (const frame::Mark& mark : in_.marks)
                if (mark.has_plan())
                    largest = std::max({largest, std::abs(*mark.east_m), std::abs(*mark.north_m)});
        for (const cause::Trap& trap :
             cause::traps_of_units(units_.marks, units_.points, largest)) {
            if (trap.kind != cause::TrapKind::foot_kinds_mixed || !std::isfinite(trap.amount_m))
                continue;
            Reading one;
            one.kind = ReadingKind::foot_kinds_mixed;
            one.probability = 1.0;
            one.is_certain = trap.is_certain;
            one.shift_m.x() = trap.amount_m;
            feet_.push_back(one);
        }
    }

    Readings told() {
        Readings out;
        out.is_tested = is_tested_;
        if (pool_.empty()) pool_.push_back({});
        std::stable_sort(pool_.begin(), pool_.end(),
                         [](const Entry& a, const Entry& b) { return a.cost < b.cost; });
        const double least = pool_.front().cost;
        double sum = 0.0;
        for (const Entry& one : pool_)
            if (one.cost < least + kNegligible) sum += std::exp(least - one.cost);
        out.as_written = 0.0;
        struct Part {
            const ReadingTrial* trial;
            Reading* reading;
        };
        for (const Entry& entry : pool_) {
            if (!(entry.cost < least + kNegligible)) continue;
            ReadingAlternative one;
            one.probability = std::exp(least - entry.cost) / sum;
            one.readings = feet_;
            ReadingModel model = all_.model;
            for (std::size_t i = 0; i < entry.made.size(); ++i) {
                one.readings.push_back(reading_of(entry.made[i], entry.shifts[i], model));
                internal::apply(entry.made[i], model);
                double total = 0.0;
                for (const Entry& other : pool_)
                    if (std::any_of(
                            other.made.begin(), other.made.end(),
                            [&](const ReadingTrial& t) { return t.is_same(entry.made[i]); }) &&
                        other.cost < least + kNegligible)
                        total += std::exp(least - other.cost) / sum;
                Reading& reading = one.readings.back();
                reading.probability = std::min(total, 1.0);
                reading.is_certain =
                    total >= kCertain && reading.kind != ReadingKind::mirror_possible;
            }
            if (one.readings.empty()) out.as_written = one.probability;
            out.alternatives.push_back(std::move(one));
        }
        return out;
    }

    const NetworkInput& in_;
    const cause::CauseTable& table_;
    const FileUnits& units_;
    ReadingGathered all_;
    std::vector<Reading> feet_;
    std::vector<Node> kept_;
    std::vector<Entry> pool_;
    bool is_tested_ = false;
    double fitting_rank_ = std::numeric_limits<double>::infinity();  ///< of what fits everything
};

}  // namespace

std::string_view to_word(ReadingKind kind) {
    switch (kind) {
        case ReadingKind::axes_exchanged:
            return "axes-exchanged";
        case ReadingKind::lengths_in_feet:
            return "lengths-in-feet";
        case ReadingKind::names_swapped:
            return "names-swapped";
        case ReadingKind::wrong_name:
            return "wrong-name";
        case ReadingKind::foot_kinds_mixed:
            return "foot-kinds-mixed";
        case ReadingKind::mirror_possible:
            return "mirror-possible";
        case ReadingKind::older_revision:
            return "older-revision";
        case ReadingKind::mark_mistyped:
            return "mark-mistyped";
    }
    return "unknown";
}

Readings read_otherwise(const NetworkInput& input, const cause::CauseTable& table,
                        const FileUnits& units) {
    return ReadingSearch(input, table, units).run();
}

bool is_gross(const Reading& reading) {
    switch (reading.kind) {
        case ReadingKind::mirror_possible:
            return false;
        case ReadingKind::mark_mistyped:
            return !reading.is_certain;
        case ReadingKind::axes_exchanged:
        case ReadingKind::lengths_in_feet:
        case ReadingKind::names_swapped:
        case ReadingKind::wrong_name:
        case ReadingKind::foot_kinds_mixed:
        case ReadingKind::older_revision:
            break;
    }
    return true;
}

}  // namespace layproof::network
