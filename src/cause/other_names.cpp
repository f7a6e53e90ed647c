#include <algorithm>
#include <cmath>
#include <complex>

#include "cause/other_names_internal.hpp"
#include "measure/angle.hpp"
#include "station/state.hpp"

namespace layproof::cause::internal {
namespace {

using Complex = std::complex<double>;
using station::MisfitModel;
using station::Pose;
using station::Prepared;

/// Allowance for the volume terms that the bound leaves out.
constexpr double kVolumeSlack = 5.0;
/// A likelihood this far (ln) below the best does not matter.
constexpr double kNegligible = 25.0;
constexpr int kMostSteps = 6;

/// Sums of the plan rigid fit Σ|place + turn·local − mark|², kept so that an exchange costs O(1).
struct FitSums {
    double n = 0.0;
    Complex local{};
    Complex mark{};
    Complex cross{};  // Σ conj(local)·mark
    double local_square = 0.0;
    double mark_square = 0.0;

    void exchange(Complex l, Complex from, Complex to) {
        mark += to - from;
        cross += std::conj(l) * (to - from);
        mark_square += std::norm(to) - std::norm(from);
    }
    double square_sum() const {
        if (n < 2.0) return 0.0;
        const double a = local_square - std::norm(local) / n;
        const double b = mark_square - std::norm(mark) / n;
        const double c = std::abs(cross - std::conj(local) * mark / n);
        return std::max(0.0, a + b - 2.0 * c);
    }
    Complex turn() const {
        const Complex c = cross - std::conj(local) * mark / std::max(n, 1.0);
        return std::abs(c) > 0.0 ? c / std::abs(c) : Complex{1.0, 0.0};
    }
    Complex place() const { return (mark - turn() * local) / std::max(n, 1.0); }
};

class Search {
public:
    Search(const Prepared& setup, const MisfitModel& model) : setup_(setup), model_(model) {
        marks_.reserve(setup.marks.size());
        for (const auto& mark : setup.marks)
            marks_.emplace_back(mark.given_m.x(), mark.given_m.y());
        sighted_.assign(setup.marks.size(), {});
        for (std::size_t i = 0; i < setup.sights.size(); ++i) {
            const auto& sight = setup.sights[i];
            mark_of_sight_.push_back(sight.mark);
            const auto& r = sight.reduced;
            const bool full =
                r.has_direction && r.has_distance && (r.has_zenith || r.distance_is_horizontal);
            const auto& mark = setup.marks[static_cast<std::size_t>(sight.mark)];
            Complex local{};
            if (full) {
                const double plan = model.sights[i].plan_m;
                local = plan * Complex{std::sin(r.direction_rad), std::cos(r.direction_rad)};
            }
            local_.push_back(local);
            counts_.push_back(full && sight.used && mark.has_plan);
            if (sight.used)
                sighted_[static_cast<std::size_t>(sight.mark)].push_back(static_cast<int>(i));
            if (!counts_.back()) continue;
            sums_.n += 1.0;
            sums_.local += local;
            sums_.local_square += std::norm(local);
            const Complex at = marks_[static_cast<std::size_t>(sight.mark)];
            sums_.mark += at;
            sums_.cross += std::conj(local) * at;
            sums_.mark_square += std::norm(at);
        }
        largest_variance_ = largest_variance();
    }

    OtherNamesResult run() {
        swaps();
        wrong_names();
        settle();
        return std::move(out_);
    }

private:
    /// Upper bound of the largest eigenvalue of the plan covariance of all sights, one more sight
    /// to any mark included: the largest trace of a sight plus the shared part of its mark.
    double largest_variance() const {
        double own = 0.0;
        double shared = 0.0;
        for (std::size_t i = 0; i < counts_.size(); ++i) {
            if (!counts_[i]) continue;
            const auto& g = model_.sights[i];
            const auto& mark = setup_.marks[static_cast<std::size_t>(setup_.sights[i].mark)];
            if (g.first_row < 0) continue;
            own = std::max(own, model_.covariance(g.first_row, g.first_row) +
                                    model_.covariance(g.first_row + 1, g.first_row + 1));
            const double most =
                static_cast<double>(
                    sighted_[static_cast<std::size_t>(setup_.sights[i].mark)].size()) +
                1.0;
            shared = std::max(shared, most * mark.sd_m.head<2>().cwiseAbs2().maxCoeff());
        }
        for (const auto& mark : setup_.marks)
            shared = std::max(shared, 2.0 * mark.sd_m.head<2>().cwiseAbs2().maxCoeff());
        return std::max(own + shared, 1e-12);
    }

    /// Upper bound of the ln likelihood against the given model.
    double most_likely(const FitSums& sums) const {
        return -0.5 * (sums.square_sum() / largest_variance_ - model_.statistic) + kVolumeSlack;
    }

    struct Draft {
        double most = 0.0;
        OtherNames found;
        FitSums sums;
    };

    void propose(OtherNames found, const FitSums& sums) {
        const double most = most_likely(sums);
        if (most > -kNegligible) drafts_.push_back({most, found, sums});
    }

    /// Solves the likeliest first, until no further one can come near the best.
    void settle() {
        std::sort(drafts_.begin(), drafts_.end(),
                  [](const Draft& a, const Draft& b) { return a.most > b.most; });
        double best = 0.0;
        for (Draft& draft : drafts_) {
            if (draft.most < best - kNegligible) break;
            std::vector<int> names = mark_of_sight_;
            if (draft.found.cause == Cause::names_swapped) {
                for (int& mark : names) {
                    if (mark == draft.found.mark_a) {
                        mark = draft.found.mark_b;
                    } else if (mark == draft.found.mark_b) {
                        mark = draft.found.mark_a;
                    }
                }
            } else {
                names[static_cast<std::size_t>(draft.found.sight)] = draft.found.mark_b;
            }
            if (solve(draft.found, names, draft.sums)) {
                best = std::max(best, draft.found.log_likelihood);
                out_.contenders.push_back(draft.found);
            }
        }
    }

    void swaps() {
        std::vector<int> seen;
        for (std::size_t m = 0; m < sighted_.size(); ++m)
            if (!sighted_[m].empty() && setup_.marks[m].has_plan)
                seen.push_back(static_cast<int>(m));
        out_.swaps = static_cast<int>(seen.size() * (seen.size() - 1) / 2);
        for (std::size_t a = 0; a < seen.size(); ++a) {
            for (std::size_t b = a + 1; b < seen.size(); ++b) {
                FitSums sums = sums_;
                move_sights(sums, seen[a], seen[b]);
                move_sights(sums, seen[b], seen[a]);
                propose({Cause::names_swapped, seen[a], seen[b], -1, 0.0, {}, {}}, sums);
            }
        }
    }

    void move_sights(FitSums& sums, int from, int to) const {
        for (const int i : sighted_[static_cast<std::size_t>(from)]) {
            if (!counts_[static_cast<std::size_t>(i)]) continue;
            sums.exchange(local_[static_cast<std::size_t>(i)],
                          marks_[static_cast<std::size_t>(from)],
                          marks_[static_cast<std::size_t>(to)]);
        }
    }

    void wrong_names() {
        for (std::size_t i = 0; i < mark_of_sight_.size(); ++i) {
            const int booked = mark_of_sight_[i];
            if (!setup_.sights[i].used || !setup_.marks[static_cast<std::size_t>(booked)].has_plan)
                continue;
            for (std::size_t m = 0; m < marks_.size(); ++m) {
                if (static_cast<int>(m) == booked || !setup_.marks[m].has_plan ||
                    static_cast<int>(m) == setup_.occupied_mark)
                    continue;
                ++out_.wrong_names;
                if (!counts_[i]) continue;  // a sight without direction and distance names nothing
                FitSums sums = sums_;
                sums.exchange(local_[i], marks_[static_cast<std::size_t>(booked)], marks_[m]);
                propose({Cause::wrong_name,
                         booked,
                         static_cast<int>(m),
                         static_cast<int>(i),
                         0.0,
                         {},
                         {}},
                        sums);
            }
        }
    }

    bool solve(OtherNames& found, const std::vector<int>& names, const FitSums& sums) {
        Pose pose;
        pose.has_height = setup_.has_height;
        if (setup_.occupied_mark >= 0) {
            const auto at = static_cast<std::size_t>(setup_.occupied_mark);
            pose.position_m = setup_.origin_m + setup_.marks[at].given_m;
            pose.orientation_rad =
                measure::wrap_0_2pi(-std::arg(sums.cross - std::conj(sums.local) * marks_[at]));
        } else {
            if (sums.n < 2.0) return false;
            const Complex place = sums.place();
            pose.position_m << place.real() + setup_.origin_m.x(),
                place.imag() + setup_.origin_m.y(), setup_.origin_m.z();
            pose.orientation_rad = measure::wrap_0_2pi(-std::arg(sums.turn()));
        }
        for (int step = 0; step < kMostSteps; ++step) {
            const MisfitModel model = station::misfit_model(setup_, pose, names);
            if (!model.usable) return false;
            const Eigen::Vector4d& d = model.pose_shift;
            const double turn = std::abs(d[station::kModelOrientation]);
            if (turn > 1.0 || !d.allFinite()) return false;
            pose.position_m += Eigen::Vector3d(d[station::kModelEast], d[station::kModelNorth],
                                               setup_.has_height ? d[station::kModelHeight] : 0.0);
            pose.orientation_rad =
                measure::wrap_0_2pi(pose.orientation_rad + d[station::kModelOrientation]);
            if (turn < 1e-7 || step + 1 == kMostSteps) {
                found.log_likelihood = -0.5 * (model.statistic - model_.statistic) +
                                       model.log_volume - model_.log_volume;
                found.covariance = model.pose_covariance;
                break;
            }
        }
        found.pose = pose;
        return true;
    }

    const Prepared& setup_;
    const MisfitModel& model_;
    std::vector<Complex> marks_;
    std::vector<Complex> local_;
    std::vector<bool> counts_;
    std::vector<int> mark_of_sight_;
    std::vector<std::vector<int>> sighted_;
    FitSums sums_;
    double largest_variance_ = 0.0;
    std::vector<Draft> drafts_;
    OtherNamesResult out_;
};

}  // namespace

OtherNamesResult other_names(const Prepared& setup, const MisfitModel& model) {
    return Search(setup, model).run();
}

}  // namespace layproof::cause::internal
