#pragma once
// The act "job": the facts of a site in one file, to which facts are only added.
//
// Rows that are taken carry the document they came from, so taking a document twice adds nothing.
// All documents of one take are read before anything is written: one that is refused leaves the job
// as it was. A sight with a time that reads exactly as one taken from another file is the same
// sight (a sights file that grew through the day); without a time it is taken, and said. Verdicts
// are never stored; the other acts compute them from the facts each time.
//
// The unit of the job is that of the first marks (else sights, set-ups, points) taken that state
// one; it is kept as the setting "unit". "unit of marks", "unit of points" and "unit of
// grid" are kept beside it. Causes and grid lines are kept as documents and read by the acts.
// Tapes and levels (height differences, or runs as read, told by their columns) count in "vet" and
// "prove"; marks of drawings are evidence for "vet". A run of levels that reads exactly as one of
// another file is the same run. "site crs", "ground origin" and "site
// height" say where the site lies on the map.

#include <cstdint>
#include <optional>
#include <string>
#include <vector>

#include "acts/shared/job_facts.hpp"
#include "acts/shared/progress.hpp"
#include "acts/shared/site_request.hpp"
#include "base/result.hpp"
#include "exchange/text/document.hpp"
#include "job/job.hpp"
#include "measure/length.hpp"

namespace layproof::acts {

class Fields;

struct TakeRequest {
    std::optional<exchange::Document> marks, sights, setups, points, instrument, causes, grid;
    std::optional<exchange::Document> tapes, levels, drawing;  ///< evidence for "vet"
    std::optional<exchange::Document> marks_map, sights_map, setups_map, points_map;
    std::optional<measure::LengthUnit> unit;  ///< of lengths whose column states none
    std::string revision;                     ///< of every sheet taken here
    std::string note;                         ///< where the documents came from
    SiteRequest site;                         ///< kept as settings of the job
    /// How far a mark may be off, for "vet": kept as tolerances of the job.
    std::optional<double> tolerance_plan_m, tolerance_height_m;
};

struct TakenDocument {
    std::string name;
    std::string role;
    std::string digest;  ///< 64 hexadecimal digits
    bool is_known = false;
    int rows_new = 0;
    int rows_known = 0;
};

struct TakeAnswer {
    std::vector<TakenDocument> documents;
    std::optional<measure::LengthUnit> unit;  ///< of the job
    std::vector<std::string> notices;
};

/// Refuses as the readers of exchange and the job's writing do; value_missing when nothing is to be
/// taken.
Result<TakeAnswer> take(job::Job& job, const TakeRequest& request);

/// A file with what it is taken as.
struct TakeFile {
    exchange::Document document;
    /// marks, sights, setups, points, instrument, grid, causes, tapes, levels or drawing
    std::string role;
    std::optional<exchange::Document> map;
    std::optional<measure::LengthUnit> unit;  ///< of lengths whose column states none
    std::string revision;
    std::string note;
    SiteRequest site;  ///< without a coordinate system the job's is used
};

/// The same for any number of files of any roles. Also word_unknown for a role there is not, and
/// `stopped`. A stop leaves the job as it was.
Result<TakeAnswer> take(job::Job& job, const std::vector<TakeFile>& files,
                        Progress* progress = nullptr);

/// How far a mark may be off, as tolerances of the job with an empty subject; out_of_range unless
/// above 0 and at most 1 m. What the job says so already is not said again.
Result<Done> set_tolerances(job::Job& job, std::optional<double> plan_m,
                            std::optional<double> height_m);

/// Site of the job, from its settings.
Result<SiteRequest> site_of(const job::Job& job, const job::AsOf& as_of = {});

/// Reads a file as take would, and takes nothing; nothing when it would be taken.
std::optional<Refusal> would_refuse(const TakeFile& file);

/// The facts that count as of a moment. Sights set aside stay in, marked; so do control and check
/// sights to a mark that was decided to have moved, until newer coordinates of it are taken. Lay
/// and other sights, marks and points that were set aside are left out. duplicate_setup: two crews
/// used one station name and nobody has decided which counts. With such a decision (accept, naming
/// a fact of one crew) the other crew's sights of that name are left out. no_marks, no_sights.
/// The instrument, the causes and the grid lines taken last count, for every station.
///
/// With a station only its sights and set-up are read, through an index; marks and points are all
/// there. target_unknown when it has no sight.
Result<JobFacts> facts_of(const job::Job& job, const job::AsOf& as_of = {},
                          const std::optional<std::string>& only_station = {});

struct DecideRequest {
    job::DecisionKind kind{};
    /// set-aside, put-back: "S1:H3", "S1:H3#2" (second pointing) or a fact's id. accept: a fact's
    /// id. mark-moved: a mark.
    std::string subject;
    std::string reason;
    std::string initials;
    std::int64_t time_ms = 0;  ///< UTC
};

struct Decided {
    std::string fact;  ///< empty for a mark
    std::string what;  ///< "S1 to H3"
};

struct DecideAnswer {
    job::DecisionKind kind{};
    std::vector<Decided> decided;  ///< empty: all was so already
};

/// Control and check sights are counted in the order in which the act "station" uses them; without
/// any to that target, lay and other sights are. Refuses: target_unknown for what the job does not
/// hold, fact_unknown, value_missing (reason, initials).
Result<DecideAnswer> decide(job::Job& job, const DecideRequest& request);

struct JobView {
    job::AsOf as_of;
    job::Summary summary;
    std::string unit;  ///< word, or empty
    std::vector<job::Kept<frame::Mark>> marks;
    std::size_t points = 0;
    std::vector<job::StationEntry> stations;
    std::vector<job::Kept<job::Document>> documents;
    std::vector<job::Kept<job::Decision>> decisions;
    std::vector<job::Conflict> conflicts;
    std::vector<job::LogLine> last;  ///< at most kLastFacts

    static constexpr std::size_t kLastFacts = 10;
};

Result<JobView> view_of(const job::Job& job, const job::AsOf& as_of = {});

std::string to_json(const TakeAnswer& answer);
void describe(Fields& f, const TakeAnswer& answer);
std::string to_text(const TakeAnswer& answer);
std::string to_json(const DecideAnswer& answer);
void describe(Fields& f, const DecideAnswer& answer);
std::string to_text(const DecideAnswer& answer);
std::string to_json(const JobView& view);
std::string to_text(const JobView& view);
std::string to_json(const job::MergeReport& report);
std::string to_text(const job::MergeReport& report);
std::string to_json(const job::VerifyReport& report);
std::string to_text(const job::VerifyReport& report);

}  // namespace layproof::acts
