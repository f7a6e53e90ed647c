#include <algorithm>
#include <cmath>
#include <map>

#include "acts/belief/belief_words.hpp"
#include "acts/shared/words.hpp"
#include "acts/watch/watch_believed_internal.hpp"
#include "base/index.hpp"
#include "base/text/time.hpp"

namespace layproof::acts::internal {
namespace {

using cause::Cause;
using network::NetworkExplanation;
using network::NetworkSight;
using network::NetworkSuspect;
using station::Word;
using watch::EventKind;
using watch::EventReport;
using watch::PoseVector;

/// Less probable explanations are summed and not listed.
constexpr double kSmallestListed = 0.0005;

class BelievedDay {
public:
    BelievedDay(const JobBelief& belief, const DayPoints& points, const WatchAnswer& about,
                WatchStation& out)
        : belief_(belief),
          points_(points),
          out_(out),
          setup_(belief.setup_named(out.station.station)),
          words_{belief.input, belief.network, belief.diagnosis, about.style,
                 belief.levelled.by()} {}

    void run() {
        if (setup_ < 0) return;
        const BelievedSetup& setup = belief_.setups[at(setup_)];
        out_.has_checks = setup.is_checked;
        out_.holds = setup.is_checked ? setup.holds : setup.holds_on;
        out_.report.probability_bump = 1.0 - setup.holds_on;
        out_.report.probability_bump_seen = 1.0 - setup.holds;
        points();
        moves(setup);
        events(setup);
        causes();
    }

private:
    const NetworkSuspect& suspect(int number) const {
        return belief_.diagnosis.suspects[at(number)];
    }

    /// The event of the day at which a sight was taken: one of its name, nearest in time.
    int event_of(int sight) const {
        if (sight < 0) return 0;
        const NetworkSight& one = belief_.network.sights[at(sight)];
        if (one.purpose == measure::Purpose::control || !one.time_s) return 0;
        const std::string& name = belief_.network.points[at(one.point)].name;
        const auto& events = out_.report.events;
        int best = 0;
        double nearest = 1e300;
        for (std::size_t e = 0; e < events.size(); ++e) {
            if (events[e].name != name) continue;
            const double off = std::abs(events[e].time_s - *one.time_s);
            if (off < nearest) {
                nearest = off;
                best = static_cast<int>(e);
            }
        }
        return best;
    }

    /// The sight of this set-up behind an event; −1.
    int sight_of(const EventReport& event) const {
        int best = -1;
        double nearest = 1e300;
        for (std::size_t i = 0; i < belief_.network.sights.size(); ++i) {
            const NetworkSight& one = belief_.network.sights[i];
            if (one.setup != setup_ || !one.used || !one.time_s ||
                belief_.network.points[at(one.point)].name != event.name)
                continue;
            const double off = std::abs(event.time_s - *one.time_s);
            if (off < nearest) {
                nearest = off;
                best = static_cast<int>(i);
            }
        }
        return best;
    }

    void points() {
        watch::DayReport& r = out_.report;
        r.proven = r.in_doubt = r.failing = 0;
        bool by_move = false;
        for (std::size_t i = 0; i < r.points.size(); ++i) {
            watch::PointReport& point = r.points[i];
            const auto found = points_.index.find(out_.day.points[i].target.name);
            const BelievedPoint* believed =
                found == points_.index.end() ? nullptr : belief_.of_point(found->second);
            if (believed == nullptr) {
                point.word = Word::in_doubt;
                ++r.in_doubt;
                continue;
            }
            const lay::PointVerdict& v = believed->report.verdict;
            point.deviation_m = v.deviation_m;
            point.covariance = v.covariance;
            point.probability = v.probability;
            point.word = v.word;
            point.probability_moved = believed->probability_moved;
            point.displacement_m = believed->moved_by_m;
            point.probability_unmoved = believed->probability_unmoved;
            point.in_doubt_by_move = v.word != Word::proven && believed->moved_setup == setup_;
            by_move = by_move || point.in_doubt_by_move;
            switch (point.word) {
                case Word::proven:
                    ++r.proven;
                    break;
                case Word::in_doubt:
                    ++r.in_doubt;
                    break;
                case Word::fails:
                    ++r.failing;
                    break;
            }
        }
        if (!by_move) out_.resights.clear();
    }

    std::vector<int> layings_in(int from, int to) const {
        std::vector<int> out;
        const auto& events = out_.report.events;
        for (int e = from + 1; e < to && e < static_cast<int>(events.size()); ++e)
            if (events[at(e)].kind == EventKind::laying) out.push_back(events[at(e)].index);
        return out;
    }

    void moves(const BelievedSetup& setup) {
        std::vector<watch::MoveTime>& moves = out_.report.moves;
        moves.clear();
        for (const BelievedBump& bump : setup.bumps) {
            if (bump.probability < kSmallestListed) continue;
            watch::MoveTime move;
            move.from_event = event_of(suspect(bump.suspect).after_sight);
            move.to_event = event_of(suspect(bump.suspect).before_sight);
            move.probability = bump.probability;
            move.shift = bump.amount;
            move.shift_sd = bump.sd;
            move.layings_between = layings_in(move.from_event, move.to_event);
            moves.push_back(std::move(move));
        }
        const double unseen = setup.holds - setup.holds_on;
        if (unseen < kSmallestListed) return;
        watch::MoveTime open;
        open.to_event = static_cast<int>(out_.report.events.size()) - 1;
        open.from_event = 0;
        for (int e = 0; e < open.to_event; ++e) {
            const EventReport& event = out_.report.events[at(e)];
            if (event.kind == EventKind::check || event.kind == EventKind::resight)
                open.from_event = e;
        }
        open.probability = unseen;
        open.layings_between = layings_in(open.from_event, open.to_event);
        moves.push_back(std::move(open));
        std::stable_sort(moves.begin(), moves.end(), [](const auto& a, const auto& b) {
            return a.probability > b.probability;
        });
    }

    void events(const BelievedSetup& setup) {
        for (EventReport& event : out_.report.events) {
            if (event.kind == EventKind::setup_finished) {
                event.probability_moved = 0.0;
                continue;
            }
            if (event.kind == EventKind::end_of_day) {
                event.probability_moved = 1.0 - setup.holds_on;
                continue;
            }
            if (event.kind == EventKind::laying) {
                event.probability_moved =
                    out_.report.points[static_cast<std::size_t>(event.index)].probability_moved;
                continue;
            }
            const int sight = sight_of(event);
            double moved = 0.0;
            for (const BelievedBump& bump : setup.bumps)
                if (sight >= 0)
                    moved += bump.probability * belief_.diagnosis.share_before(bump.suspect, sight);
            event.probability_moved = std::min(moved, 1.0);
        }
    }

    /// Does it say anything about this set-up?
    bool is_here(int member) const {
        const std::vector<int> setups = belief_.diagnosis.setups_of(belief_.network, member);
        return std::find(setups.begin(), setups.end(), setup_) != setups.end();
    }

    DayChange change_of(int member, const NetworkExplanation& e) const {
        const NetworkSuspect& who = suspect(member);
        DayChange out;
        out.cause = who.cause;
        out.subject = who.point >= 0 ? words_.point(who.point) : words_.setups(who);
        const auto time = [&](int sight) {
            if (sight < 0) return std::string();
            const NetworkSight& one = belief_.network.sights[at(sight)];
            return one.time_s ? full_time(*one.time_s, out_.offset_s) : std::string();
        };
        out.from = time(who.sight >= 0 ? who.sight : who.after_sight);
        out.to = time(who.sight >= 0 ? who.sight : who.before_sight);
        const auto told = belief_.diagnosis.amount_in(e, member);
        if (!told) return out;
        PoseVector amount = PoseVector::Zero();
        PoseVector amount_sd = PoseVector::Zero();
        switch (who.cause) {
            case Cause::tripod_disturbed:
            case Cause::mark_moved:
            case Cause::rod_not_plumb:
                amount.head(told->mean.size()) = told->mean;
                amount_sd.head(told->sd.size()) = told->sd;
                break;
            case Cause::mark_height_changed:
            case Cause::rod_height_wrong:
            case Cause::rod_height_wrong_on_all:
                amount[3] = told->mean[0];
                amount_sd[3] = told->sd[0];
                break;
            default:
                return out;
        }
        out.amount = amount;
        out.sd = amount_sd;
        return out;
    }

    /// In the words the amounts are those of the whole explanation.
    DayCause cause_of(const std::vector<int>& here, double probability,
                      const NetworkExplanation* e) const {
        DayCause out;
        out.probability = probability;
        out.says = "Nothing happened beyond slow drift.";
        if (here.empty() || e == nullptr) return out;
        out.log_evidence = e->log_evidence;
        std::string says;
        for (std::size_t k = 0; k < here.size(); ++k) {
            out.changes.push_back(change_of(here[k], *e));
            const auto amount = belief_.diagnosis.amount_in(*e, here[k]);
            says += (k == 0 ? "" : " and ") +
                    words_.clause(here[k], amount ? amount->mean : Eigen::VectorXd());
        }
        out.says = capital(says) + ".";
        return out;
    }

    void causes() {
        struct Sum {
            double probability = 0.0;
            const NetworkExplanation* first = nullptr;  ///< the likeliest
        };
        std::map<std::vector<int>, Sum> sums;
        sums[{}] = {};
        for (const NetworkExplanation& e : belief_.diagnosis.explanations) {
            std::vector<int> here;
            for (const int member : e.members)
                if (is_here(member)) here.push_back(member);
            Sum& sum = sums[here];
            sum.probability += e.probability;
            if (sum.first == nullptr) sum.first = &e;
        }
        out_.causes.clear();
        for (const auto& [members, sum] : sums)
            if (members.empty() || sum.probability >= kSmallestListed)
                out_.causes.push_back(cause_of(members, sum.probability, sum.first));
        std::stable_sort(out_.causes.begin(), out_.causes.end(), [](const auto& a, const auto& b) {
            return a.probability > b.probability;
        });
        double listed = 0.0;
        for (const DayCause& cause : out_.causes) listed += cause.probability;
        out_.others = std::max(0.0, 1.0 - listed);
    }

    const JobBelief& belief_;
    const DayPoints& points_;
    WatchStation& out_;
    int setup_;
    BeliefWords words_;
};

}  // namespace

void believe_day(const JobBelief& belief, const DayPoints& points, const WatchAnswer& about,
                 WatchStation& out) {
    BelievedDay(belief, points, about, out).run();
}

}  // namespace layproof::acts::internal
