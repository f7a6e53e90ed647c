#pragma once
// The act "sheet": everything that a page draws of a job, and what happened in it.
//
// Marks, points and grid lines as they count at the moment asked for, in the unit of the job. A
// set-up has its place and verdict when at most kMostSolved are to be placed and its sights place
// it; those of the act "station" with all points. Moments are of the whole job whatever moment is
// asked for, so that one can go to any of them: facts recorded within a second of each other by one
// writer in one manner are one moment.

#include <cstdint>
#include <optional>
#include <string>
#include <vector>

#include "acts/job/open_job.hpp"
#include "acts/shared/progress.hpp"
#include "acts/station/station.hpp"
#include "base/result.hpp"
#include "frame/grid_line.hpp"
#include "job/job.hpp"

namespace layproof::acts {

class Fields;

struct SheetMark {
    frame::Mark mark;
    std::string from;  ///< name of its document; empty: booked by hand
    std::string revision;
    bool is_moved = false;  ///< decided to have, and no newer coordinates
};

struct SheetStation {
    std::string name;
    std::optional<station::Setup> setup;
    std::string first, last;  ///< times of its sights, else of the set-up; empty: none
    int sights = 0;
    std::optional<station::Pose> pose;
    std::optional<station::Word> word;
};

/// A change to the job, as people would tell it.
struct Moment {
    std::int64_t time_ms = 0;  ///< of its last fact: the job as of then holds all of it
    std::string what;          ///< "take", "book", "decide", "merge"
    std::string says;
    int facts = 0;
};

struct SheetDocument {
    job::Document document;
    std::int64_t taken_ms = 0;
    std::string revision;  ///< of the facts that came from it
};

struct Sheet {
    job::JobId id;
    std::string title;
    std::string file;  ///< name without folder
    std::optional<measure::LengthUnit> unit;
    JobState state;
    job::AsOf as_of;
    std::vector<SheetMark> marks;
    std::vector<frame::DesignPoint> points;
    std::vector<frame::GridLine> grid;
    std::vector<SheetStation> stations;
    std::vector<Moment> moments;
    std::vector<SheetDocument> documents;
    std::vector<job::Kept<job::Decision>> decisions;
    std::vector<job::Conflict> conflicts;
    std::vector<job::Setting> checked;  ///< found by field checks and kept: finding, what was found
};

inline constexpr std::size_t kMostSolved = 50;

/// Refuses as reading the job does, and `stopped`.
Result<Sheet> sheet_of(OpenJob& job, const job::AsOf& as_of, Progress* progress = nullptr);

/// What happened in the job, earliest first.
Result<std::vector<Moment>> moments_of(const job::Job& job);

/// The record SheetAnswer.
std::string to_json(const Sheet& sheet);
void describe(Fields& f, const Sheet& sheet);

}  // namespace layproof::acts
