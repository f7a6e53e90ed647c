#pragma once
// Are lists and booked names to be read as they are written? Which reading of the marks' list and
// of the names booked holds, each with its probability: everything wrong in a job that is not a
// small change and that no linear form reaches.
//
// Model. Each sight by direction and distance is a vector in the plane of its set-up, and with a
// zenith angle a rise; a set-up over a mark adds the vector of no length to it. A set-up's place,
// turn and height are free. Under one reading every mark has its place of the list and its standard
// deviation; errors of sights and marks are scale mixtures of normals: as stated, or as wide as the
// causes table says a leaned rod, a wrong rod height or a kicked mark is, or (sights) anywhere on
// the site. So a kicked mark, a leaned rod or a gross sight is paid for once and is no reason to
// read a list otherwise. A prism constant, a scale of distances and a tripod disturbed once are
// tried in each set-up whose misfit they could explain, and paid for too. The rest is
//     ln evidence = ln density at the most probable places + Laplace's volumes, block by block,
// and the readings tried, as written among them, have probability ∝ odds × evidence.
//
// Odds. Exchanged and wrong names as the causes table (per set-up, against nothing wrong; exchanged
// names half on the sheet, half in the field); the others are the constants below.
//
// What geometry cannot tell: a set-up with two marks fits as well when their names are exchanged;
// heights or another set-up may tell. It is then `mirror_possible`, with its probability, and never
// certain. Which of two groups of marks is of the older revision is not told by sights: the smaller
// is named. Feet against survey feet move no sight: foot_kinds_mixed is known from the files alone.
//
// Sights without direction or distance take no part: a job of angles alone is read as written.
// No prior of a mark is wider than the list: what is off by less than 0.3 m is left to the linear
// form (network/site_network_causes.hpp), except a revision, which moves several marks alike by
// 50 mm or more.
// Every figure is about the middle of the job. Cost: a job that fits as written is linear in its
// sights. All is finite for finite input; figures that are not finite are left out.

#include <Eigen/Core>
#include <optional>
#include <span>
#include <string>
#include <string_view>
#include <vector>

#include "cause/cause_table.hpp"
#include "measure/length.hpp"
#include "network/site_network.hpp"

namespace layproof::network {

/// Odds against "nothing wrong" per job (engineering judgement, no source).
inline constexpr double kAxesExchangedOdds = 0.01;
inline constexpr double kOtherUnitOdds = 0.01;
inline constexpr double kOlderRevisionOdds = 0.01;
inline constexpr double kMarkMistypedOdds = 0.02;
/// Nearer than this a mark is one that moved: the linear form has it (engineering judgement).
inline constexpr double kMistypedFrom_m = 0.3;

enum class ReadingKind {
    axes_exchanged,    ///< east and north of the list
    lengths_in_feet,   ///< the list and the distances are in different units: feet, or others
    names_swapped,     ///< of two marks: on the sheet (setup −1), or at one set-up
    wrong_name,        ///< one sight, or the mark stood over, has the name of another
    foot_kinds_mixed,  ///< one file in ft, another in us-ft
    mirror_possible,   ///< two marks fit as well with their names exchanged
    older_revision,    ///< some marks of the list are all off by one shift
    mark_mistyped,     ///< one mark's coordinates are far off in all sights
};
/// "axes-exchanged" and so on, the words of the JSON.
std::string_view to_word(ReadingKind kind);

struct Reading {
    ReadingKind kind{};
    std::vector<int> marks;     ///< into NetworkInput::marks; wrong_name: the booked one, if one
    int setup = -1;             ///< −1: the list, so all set-ups
    std::vector<int> sights;    ///< wrong_name: into the set-up's, both faces; none: stood over it
    std::string booked, meant;  ///< names: names_swapped, mirror_possible, wrong_name
    double ratio = 1.0;         ///< lengths_in_feet: distance measured over distance of the list
    /// older_revision, mark_mistyped: to be added to the coordinates of the list.
    /// foot_kinds_mixed: how far the two feet lie apart at its largest coordinate, as east.
    Eigen::Vector3d shift_m = Eigen::Vector3d::Zero();
    /// mark_mistyped: `shift_m` is that of one digit or sign of one coordinate; else only the
    /// sights say where the mark is.
    bool is_one_digit = false;
    double probability = 0.0;  ///< over all alternatives
    bool is_certain = false;   ///< ≥ 0.999, and not what geometry cannot tell
};

/// What holds together; none: as written.
struct ReadingAlternative {
    std::vector<Reading> readings;
    double probability = 0.0;
};

struct Readings {
    std::vector<ReadingAlternative> alternatives;  ///< most probable first; they sum to one
    double as_written = 1.0;
    bool is_tested = false;  ///< false: no sight tests the list

    const ReadingAlternative& best() const { return alternatives.front(); }
};

/// What the files say of their units: nothing where a file states none.
struct FileUnits {
    std::optional<measure::LengthUnit> marks, points;
    /// With the units as they were read; 0: taken from the marks.
    double largest_coordinate_m = 0.0;

    bool operator==(const FileUnits&) const = default;
};

/// At most three readings at once. The first alternative always exists.
Readings read_otherwise(const NetworkInput& input, const cause::CauseTable& table,
                        const FileUnits& units = {});

/// The input re-read, to be adjusted and answered from. A mistyped mark of unknown digit loses the
/// coordinates that are wrong. foot_kinds_mixed changes nothing: which of the files is right is not
/// known. What does not fit the input (an index out of range) is left out.
NetworkInput as_read(const NetworkInput& input, std::span<const Reading> readings);

/// While it stands, setting-out figures and moves are wrong or mean nothing. Not so for one mark
/// that is certainly mistyped (the others hold), nor for what is merely possible.
bool is_gross(const Reading& reading);

}  // namespace layproof::network
