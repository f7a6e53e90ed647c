#pragma once
// The sights of a job as vectors, and the robust fit of all set-ups to one reading of the list:
// the model of readings.hpp. Plan places are complex numbers, east + i·north, about the middle.

#include <array>
#include <complex>
#include <memory>
#include <optional>
#include <string>
#include <vector>

#include "cause/cause_table.hpp"
#include "network/site_network_internal.hpp"

namespace layproof::network::internal {

using Complex = std::complex<double>;

/// Heights of a site lie within this (no source): what anywhere means in height.
inline constexpr double kHeightRange_m = 20.0;
/// Iterations end when nothing moves farther.
inline constexpr double kReadingsSettled_m = 1e-5;

/// Of the table, against nothing wrong.
inline double odds_of(const cause::CauseTable& table, cause::Cause cause) {
    constexpr double kLeast = 1e-6;
    const double nothing = table.of(cause::Cause::nothing_wrong).frequency;
    return table.of(cause).frequency / (nothing > kLeast ? nothing : kLeast);
}

/// Errors of one kind: normal as stated, or wider; or (sights) anywhere.
struct ErrorMixture {
    static constexpr std::size_t kMost = 6;
    struct Wider {
        double share = 0.0;
        double variance = 0.0;  ///< on top, per axis
    };
    std::array<Wider, kMost> wider{};
    std::size_t count = 0;
    double as_stated = 1.0;  ///< share
    double anywhere = 0.0;   ///< share times density, 1/m or 1/m²

    void add(double share, double sd_m);
    /// Density of a misfit with this square and variance per axis, in one or two dimensions, and
    /// the mean of 1/variance under it, which is the weight in the fit.
    struct Value {
        double density = 0.0;
        double weight = 0.0;
    };
    Value at(double square, double variance, int dimension) const;
};

struct ReadingVector {
    int setup = -1;
    int point = -1;
    int sight = -1;         ///< into NetworkGathered::sights; −1: the instrument over its mark
    Complex local;          ///< grid lengths, the circle's zero along north
    double variance = 0.0;  ///< per plan axis, the mean of along and across
    bool has_rise = false;
    double rise_m = 0.0;  ///< ground at the target less axes
    double rise_variance = 0.0;
    double zenith_sine = 1.0, zenith_cosine = 0.0;
    double lift_m = 0.0;  ///< distance times that cosine
};

/// What the list says of a point. `is_far…`: off by anything from 0.3 m on.
struct ReadingPoint {
    int mark = -1;
    bool has_plan = false, has_height = false;
    bool is_far = false, is_far_in_height = false;
    Complex given;
    double height_m = 0.0;
    double variance = 0.0, height_variance = 0.0;
};

struct ReadingModel {
    std::vector<ReadingVector> vectors;
    /// To points that the list does not give and that are sighted once: they hold nothing until
    /// another sight is read to be to them.
    std::shared_ptr<const std::vector<ReadingVector>> once;
    std::vector<ReadingPoint> points;
    std::vector<std::vector<int>> of_setup;  ///< vectors, as booked
    std::vector<std::vector<int>> of_point;
    std::vector<ErrorMixture> sight_errors, rise_errors;  ///< per set-up
    ErrorMixture mark_errors, mark_height_errors;
    double area_m2 = 1.0;
    int first_tripod_part = 0;  ///< set-ups from here on are others after a disturbance

    void index();
    /// Distinct points sighted from a set-up.
    std::vector<int> points_of(int setup) const;
};

struct ReadingPose {
    bool is_placed = false;
    Complex turn{1.0, 0.0};
    Complex place;
    double constant_m = 0.0;  ///< distances are long by
    double ratio = 0.0;       ///< and by this share
    bool has_axes = false;
    double axes_m = 0.0;

    Complex reach(Complex local) const;
    Complex landing(Complex local) const { return place + turn * reach(local); }
};

/// Sums of the plane rigid fit Σ w |place + turn·local − target|².
struct VectorSums {
    double weight = 0.0;
    Complex local, target, cross;
    double local_square = 0.0;

    void add(double w, Complex l, Complex t);
    double spread() const;
    /// False where nothing holds the turn.
    bool place(ReadingPose& pose) const;
};

struct ReadingState {
    std::vector<ReadingPose> poses;
    std::vector<Complex> plan;
    std::vector<double> height_m;
    std::vector<char> is_known, is_known_in_height;
};

/// The model of the input as written, names of points, and the middle.
struct ReadingGathered {
    NetworkGathered all;
    ReadingModel model;
    std::vector<std::string> names;  ///< of points: those of the network, then marks not sighted
    Eigen::Vector3d middle_m = Eigen::Vector3d::Zero();
};
ReadingGathered gather_readings(const NetworkInput& input, const cause::CauseTable& table);

/// Places set-ups anew from what is known, without what they themselves said before.
void place_setups(const ReadingModel& model, const std::vector<int>& setups, ReadingState& state);
/// Most probable places of these set-ups and their points, the other set-ups held.
inline constexpr int kRoundsToRank = 6;
inline constexpr int kRoundsToWeigh = 25;
void refine(const ReadingModel& model, const std::vector<int>& setups, ReadingState& state,
            int rounds = kRoundsToWeigh);
/// Half the squared misfits of these set-ups to the list in variances, none above 25: a rank.
double rank_of(const ReadingModel& model, const ReadingState& state,
               const std::vector<int>& setups);
/// The points of one set-up, one step.
void refine_points(const ReadingModel& model, int setup, ReadingState& state);
/// −ln evidence of everything.
double cost_of(const ReadingModel& model, const ReadingState& state);
/// Per set-up, how much the worst of its sights and marks costs beyond no misfit at all.
std::vector<double> worst_of(const ReadingModel& model, const ReadingState& state);

/// The same with what small things explain in one set-up after another: a prism constant, a scale,
/// a tripod disturbed.
/// One constant or ratio of the distances of all set-ups that show it: the same prism, the same
/// air.
struct SharedAmount {
    bool is_ratio = false;
    double amount = 0.0;  ///< distances are long by
    double paid = 0.0;    ///< −ln of odds and prior
    std::vector<int> setups;
};
std::optional<SharedAmount> shared_amount(const ReadingModel& model, const ReadingState& state,
                                          bool is_ratio, const cause::CauseTable& table);
void shorten(const SharedAmount& by, ReadingModel& model);

struct WithSmallCauses {
    double cost = 0.0;
    bool fits = false;
};
WithSmallCauses with_small_causes(ReadingModel model, ReadingState state,
                                  const cause::CauseTable& table);

/// Fitting everything, each set-up within these.
inline constexpr double kFitsAsStated = 14.0;

}  // namespace layproof::network::internal
