#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <set>
#include <unordered_map>

#include "measure/angle.hpp"
#include "measure/reduce.hpp"
#include "network/site_network_internal.hpp"
#include "station/observations.hpp"

namespace layproof::network::internal {
namespace {

using Eigen::Vector2d;

/// Beyond this a sight is to something else, or from somewhere else: no rod leans that far.
constexpr double kGrossOff_m = 0.5;
/// Two places this near are one.
constexpr double kSamePlace_m = 0.1;

class NetworkGathering {
public:
    explicit NetworkGathering(const NetworkInput& input) : in_(input) {
        for (std::size_t i = 0; i < in_.marks.size(); ++i)
            mark_named_.emplace(in_.marks[i].name, static_cast<int>(i));
    }

    NetworkGathered run() {
        out_.chain.scale_factor = in_.scale_factor;
        for (std::size_t s = 0; s < in_.setups.size(); ++s) add_setup(static_cast<int>(s));
        for (std::size_t i = 0; i < in_.levels.size(); ++i) {
            const LevelRise& level = in_.levels[i];
            const int from = point(level.from);
            const int to = point(level.to);
            out_.levels.push_back({static_cast<int>(i), from, to});
            if (from != to) out_.chain.rises.push_back({from, to, level.rise_m});
        }
        for (std::size_t i = 0; i < in_.tapes.size(); ++i)
            out_.tapes.push_back(
                {static_cast<int>(i), point(in_.tapes[i].from), point(in_.tapes[i].to)});
        return std::move(out_);
    }

private:
    int point(const std::string& name) {
        const auto [found, is_new] = index_.emplace(name, static_cast<int>(out_.points.size()));
        if (!is_new) return found->second;
        NetworkPoint one;
        one.name = name;
        ChainPoint in_chain;
        in_chain.name = name;
        if (const auto mark = mark_named_.find(name); mark != mark_named_.end()) {
            const frame::Mark& given = in_.marks[static_cast<std::size_t>(mark->second)];
            one.mark = mark->second;
            if (given.has_plan()) in_chain.plan_m = Vector2d(*given.east_m, *given.north_m);
            if (given.has_height()) in_chain.height_m = given.height_m;
        }
        out_.points.push_back(std::move(one));
        out_.chain.points.push_back(std::move(in_chain));
        return found->second;
    }

    void add_setup(int number) {
        const station::StationInput& input = in_.setups[static_cast<std::size_t>(number)];
        const station::Setup& setup = input.setup;
        ChainSetup in_chain;
        in_chain.name = setup.station;
        if (setup.kind != station::SetupKind::free && !setup.mark.empty()) {
            in_chain.over_point = point(setup.mark);
            in_chain.instrument_height_m = setup.instrument_height_m;
        }
        out_.chain.setups.push_back(std::move(in_chain));

        const std::set<int> aside(input.set_aside.begin(), input.set_aside.end());
        std::vector<bool> taken(input.sights.size(), false);
        std::unordered_map<std::string_view, std::vector<std::size_t>> by_target;
        for (std::size_t i = 0; i < input.sights.size(); ++i)
            by_target[input.sights[i].target].push_back(i);
        for (std::size_t i = 0; i < input.sights.size(); ++i) {
            if (taken[i]) continue;
            const measure::Sight& sight = input.sights[i];
            NetworkSight one;
            one.setup = number;
            one.point = point(sight.target);
            one.purpose = sight.purpose;
            one.time_s = sight.time_s;
            one.prism_constant_m = sight.prism_constant_m;
            one.booked.push_back(static_cast<int>(i));
            const bool is_aside = aside.contains(static_cast<int>(i));
            // The other face is the next sight booked to the same target.
            const auto& same = by_target[sight.target];
            auto next = std::upper_bound(same.begin(), same.end(), i);
            while (next != same.end() && taken[*next]) ++next;
            std::optional<measure::ReducedPair> both;
            if (next != same.end()) {
                const measure::Sight& other = input.sights[*next];
                if (sight.zenith_rad && other.zenith_rad && other.purpose == sight.purpose &&
                    sight.direction_rad.has_value() == other.direction_rad.has_value() &&
                    sight.slope_distance_m.has_value() == other.slope_distance_m.has_value() &&
                    aside.contains(static_cast<int>(*next)) == is_aside)
                    both = measure::reduce_pair(sight, other, input.instrument, setup.temperature_k,
                                                setup.pressure_hpa);
            }
            if (both) {
                taken[*next] = true;
                one.booked.push_back(static_cast<int>(*next));
                one.reduced = both->sight;
            } else {
                one.reduced = measure::reduce(sight, input.instrument, setup.temperature_k,
                                              setup.pressure_hpa);
            }
            if (is_aside) {
                one.used = false;
                one.why_not_used = "set aside";
            } else if (one.reduced.size() == 0) {
                one.used = false;
                one.why_not_used = "gives no figure that can be used";
            }
            if (one.used) out_.chain.sights.push_back({number, one.point, one.reduced});
            out_.sights.push_back(std::move(one));
        }
    }

    const NetworkInput& in_;
    std::unordered_map<std::string, int> mark_named_, index_;
    NetworkGathered out_;
};

struct Landing {
    bool is_known = false;
    bool is_polar = false;
    Vector2d place_m = Vector2d::Zero();  ///< polar: where the sight puts its target
    double off_m = 0.0;
    double sd_m = 0.0;  ///< of the sight's own error there
};

/// No error model reaches this.
bool is_gross(const Landing& landing) {
    constexpr double kManySds = 20.0;
    return landing.off_m > std::max(kGrossOff_m, kManySds * landing.sd_m);
}

Landing landing_of(const NetworkInput& input, const NetworkSight& sight, const Chained& chained) {
    Landing out;
    const auto& pose = chained.setup_plan[static_cast<std::size_t>(sight.setup)];
    const auto& point = chained.point_plan[static_cast<std::size_t>(sight.point)];
    if (!pose || !point) return out;
    const measure::ReducedSight& r = sight.reduced;
    const Vector2d to = *point - pose->plan_m;
    const double azimuth = pose->orientation_rad + r.direction_rad;
    const double plan = input.scale_factor * station::ground_distance(r);
    const Eigen::Matrix3d covariance =
        station::covariance_of(r, input.setups[static_cast<std::size_t>(sight.setup)].instrument,
                               to.norm() / input.scale_factor);
    out.is_known = true;
    const double across = to.norm() * std::sqrt(std::max(covariance(0, 0), 0.0));
    const double along = std::sqrt(std::max(covariance(2, 2), 0.0));
    out.sd_m = r.has_direction && r.has_distance ? std::hypot(across, along)
               : r.has_direction                 ? across
                                                 : along;
    if (r.has_direction && r.has_distance) {
        out.is_polar = true;
        out.place_m = pose->plan_m + plan * Vector2d(std::sin(azimuth), std::cos(azimuth));
        out.off_m = (out.place_m - *point).norm();
    } else if (r.has_direction) {
        const double turn = measure::wrap_pi(std::atan2(to.x(), to.y()) - azimuth);
        out.off_m = to.norm() * std::min(std::abs(turn), 1.0);
    } else if (r.has_distance) {
        out.off_m = std::abs(to.norm() - plan);
    }
    return out;
}

double median_number(std::vector<double> values) {
    const auto middle = values.begin() + static_cast<std::ptrdiff_t>(values.size() / 2);
    std::nth_element(values.begin(), middle, values.end());
    return *middle;
}

}  // namespace

NetworkGathered gather_network(const NetworkInput& input) {
    return NetworkGathering(input).run();
}

void screen_gross(const NetworkInput& input, NetworkGathered& all, Chained& chained,
                  std::vector<char>& sheet_left_out) {
    std::vector<std::vector<std::size_t>> of_point(all.points.size());
    for (std::size_t i = 0; i < all.sights.size(); ++i)
        if (all.sights[i].used)
            of_point[static_cast<std::size_t>(all.sights[i].point)].push_back(i);
    sheet_left_out.assign(all.points.size(), 0);

    for (std::size_t p = 0; p < all.points.size(); ++p) {
        std::vector<double> east, north;
        std::set<int> setups;
        for (const std::size_t i : of_point[p]) {
            const Landing landing = landing_of(input, all.sights[i], chained);
            if (!landing.is_polar) continue;
            east.push_back(landing.place_m.x());
            north.push_back(landing.place_m.y());
            setups.insert(all.sights[i].setup);
        }
        if (east.empty()) continue;
        const Vector2d middle(median_number(east), median_number(north));
        const bool is_given = all.chain.points[p].plan_m.has_value();
        if (!is_given && east.size() >= 3) chained.point_plan[p] = middle;
        if (!is_given || setups.size() < 2) continue;
        const auto agree = std::count_if(east.begin(), east.end(), [&](const double& e) {
            const auto k = static_cast<std::size_t>(&e - east.data());
            return (Vector2d(e, north[k]) - middle).norm() < 0.5 * kGrossOff_m;
        });
        const bool far = (middle - *all.chain.points[p].plan_m).norm() > kGrossOff_m;
        if (far && 2 * agree > static_cast<std::ptrdiff_t>(east.size()) && agree >= 2) {
            sheet_left_out[p] = 1;
            chained.point_plan[p] = middle;
        }
    }
    for (std::size_t p = 0; p < all.points.size(); ++p)
        for (const std::size_t i : of_point[p]) {
            NetworkSight& sight = all.sights[i];
            const Landing landing = landing_of(input, sight, chained);
            if (!landing.is_known || !is_gross(landing)) continue;
            sight.used = false;
            sight.why_not_used = "lands far from where the other sights put its target";
            sight.lands_off_m = landing.off_m;
            if (!landing.is_polar) continue;
            double nearest = kSamePlace_m;
            for (std::size_t q = 0; q < all.points.size(); ++q) {
                if (q == p || !chained.point_plan[q]) continue;
                const double off = (landing.place_m - *chained.point_plan[q]).norm();
                if (off > nearest) continue;
                nearest = off;
                sight.lands_at = all.points[q].name;
            }
        }
}

}  // namespace layproof::network::internal
