#pragma once
// Is the control fit to lay from, and does everything speak the same language?
//
// Model: docs/methods/vet.md. Exactly one explanation holds (or two at once): a way of reading the
// lists (trap.hpp, "of the writing") and an error of the ground or of one measurement. Each way of
// reading is solved anew; with the flat unknowns integrated out its evidence is
//     ln p = −½ yᵀMy − ½ ln det JᵀJ + ln p(free amounts) + ½ k ln 2π,
// and errors with a normal prior act on its linear form as
//     ln BF = ½ gᵀ(S⁻¹ + G)⁻¹g − ½ ln det(I + S G),  g = BᵀMy, G = BᵀMB.
// A mark's verdict is P(true place within tolerance of what the first list says) averaged over all
// of them (JCGM 106), the list read as it was meant; a mark that no measurement holds in both
// directions is never proven.
//
// What a trap would show is computed from the evidence at hand (its values replaced by noise-free
// ones): noncentrality of the trap against "nothing wrong". Below kUnseen it is said that it cannot
// be seen, and its probability then is its frequency.

#include <optional>
#include <string>
#include <vector>

#include "adjust/tests.hpp"
#include "base/parallel.hpp"
#include "network/evidence.hpp"
#include "station/lay_prediction.hpp"
#include "vet/trap.hpp"

namespace layproof::vet {

/// Noncentrality at which a test with significance 1e-6 finds a trap with 99 %:
/// (4.89 + 2.33)² = 52, rounded.
inline constexpr double kSeen = 50.0;
inline constexpr double kUnseen = 2.0;

struct VetOptions {
    double tolerance_plan_m = 0.00635;
    double tolerance_height_m = 0.0127;
    double confidence = 0.95;
    /// Explanations less probable than this are not listed but never lost from the sum.
    double smallest_listed = 0.0005;
    Workers* workers = nullptr;  ///< who does the work; null: this thread
};

/// How much, if the explanation holds. Lengths in m, ratios plain, angles in radians.
struct Amount {
    std::optional<double> east_m, north_m, height_m, length_m, ratio, turn_rad;
    std::optional<double> sd_m;
};

struct Member {
    Trap trap = Trap::nothing_wrong;
    /// Marks, lists, "A to B" of a tape or level, "S1 to A" of a sight.
    std::vector<std::string> subjects;
    std::string list;  ///< the list it is about; empty for none or all
    double probability = 0.0;
    double log_evidence = 0.0;  ///< against nothing-wrong
    bool is_seen = true;        ///< false: the evidence says nothing about it
    Amount amount;
};

/// One explanation, or several that the evidence cannot split, or two at once.
struct Explanation {
    std::vector<Member> members;  ///< most probable first
    bool is_pair = false;
    double probability = 0.0;
};

struct MarkVerdict {
    std::string name;
    station::Word word = station::Word::in_doubt;
    double probability = 0.0;  ///< plan and height
    std::optional<double> probability_plan, probability_height;
    std::optional<double> east_m, north_m, height_m;  ///< as the first list that has it says
    /// True place less the list's: mean over everything that may be wrong, and its spread.
    std::optional<double> off_east_m, off_north_m, off_height_m;
    Eigen::Matrix2d off_covariance = Eigen::Matrix2d::Zero();
    double sd_height_m = 0.0;
    int lists = 0, measured = 0, measured_height = 0;
    /// Smallest shift of the ground that is found (80 %, α 0.001) in its worst direction; nothing
    /// where some direction is not held.
    std::optional<double> detectable_m, detectable_height_m;
    /// The explanation that speaks most against it: into Vetting::explanations; −1 none.
    int against = -1;
};

enum class Sighting { seen, weak, unseen, impossible };
std::string_view to_word(Sighting sighting);

/// What each trap would show here.
struct TrapView {
    Trap trap = Trap::nothing_wrong;
    double prior = 0.0;
    double probability = 0.0;
    Sighting sighting = Sighting::impossible;
    double noncentrality = 0.0;  ///< of a typical amount at the subject where it shows least
    std::string weakest;         ///< mark at which it shows least, where it is of a mark
    /// Seen on one list, not if every list has it.
    bool hides_on_all = false;
    std::optional<double> detectable;  ///< amount with noncentrality kSeen there; m or a ratio
};

/// One measurement against the adjusted marks.
struct Measured {
    std::string kind;  ///< "tape", "level", "direction", "zenith", "distance"
    std::string from, to;
    double misfit = 0.0;  ///< adjusted less observed: m or rad
    double standardised = 0.0;
    double redundancy = 0.0;
};

/// A list against the first by the names they share.
struct ListDifference {
    std::string list, mark;
    double east_m = 0.0, north_m = 0.0;
    std::optional<double> height_m;
};

struct Vetting {
    station::Word word = station::Word::in_doubt;
    double probability = 0.0;               ///< of the weakest mark, and of no frame trap
    double frame_trouble = 0.0;             ///< probability that some list is in another frame
    std::vector<MarkVerdict> marks;         ///< in the order of the lists
    std::vector<Explanation> explanations;  ///< most probable first; sums to 1 with `others`
    double others = 0.0;                    ///< probability of what is not listed
    std::vector<TrapView> traps;            ///< all, in the order of the catalogue
    std::vector<Measured> measured;
    std::vector<ListDifference> differences;
    std::vector<std::string> doubled_names;  ///< stand twice on a list
    std::vector<std::pair<std::string, std::string>> one_place;
    adjust::GlobalTest global_test;
    std::vector<std::string> notices;
    bool stopped = false;  ///< the workers were told to end; nothing else here counts
};

Vetting vet(const network::Evidence& evidence, const VetOptions& options = {});

}  // namespace layproof::vet
