#pragma once
// The record of a job: what is proven, in doubt or fails, from which set-ups and marks, with what
// was decided and where every figure comes from. One answer, given as PDF, HTML page, CSV and
// LandXML; the facts travel in the first two, so that anybody can make the record again and compare
// (record_check.hpp).
//
// A point's verdict is the worst of three: of laying (all its sights together), of its station's
// day (when the checks say that it moved), and of the whole job in one adjustment (when a mark or a
// set-up is off there). The record is proven when every point laid and every figure between points
// is, fails when one fails, else in doubt; without a point laid it is in doubt.
//
// A set-up that cannot be computed is left out and said; what is left is computed without it.

#include <optional>
#include <string>
#include <vector>

#include "acts/lay/lay.hpp"
#include "acts/prove/prove.hpp"
#include "acts/record/record_facts.hpp"
#include "acts/shared/progress.hpp"
#include "acts/vet/vet.hpp"
#include "acts/watch/watch.hpp"
#include "base/result.hpp"
#include "paper/paper.hpp"

namespace layproof::acts {

/// A point laid, as the record judges it.
struct RecordPoint {
    std::size_t laid = 0;  ///< into RecordAnswer::lay.laid
    station::Word word = station::Word::in_doubt;
    double probability = 0.0;
    std::string because, next;
    std::optional<double> time_s;  ///< UTC, of its first laying
    double offset_s = 0.0;         ///< of the site's clock
    bool by_move = false;          ///< the worse verdict is because its station may have moved
};

struct RecordLeftOut {
    std::string station;
    std::string why;
};

struct RecordAnswer {
    RecordFacts facts;
    std::string facts_json;
    std::string facts_digest;  ///< SHA-256 of facts_json
    measure::LengthUnit unit = measure::LengthUnit::metre;
    measure::LengthStyle style;
    station::Word word = station::Word::in_doubt;
    Verdict verdict;
    LayAnswer lay;
    std::vector<std::optional<WatchStation>> days;  ///< as lay.stations
    std::vector<RecordPoint> points;                ///< as lay.laid
    int proven = 0, in_doubt = 0, fails = 0;
    std::vector<std::size_t> not_laid;  ///< into lay.points
    std::optional<VetAnswer> control;
    std::string control_refused;       ///< why there is none
    std::optional<ProveAnswer> whole;  ///< the whole job in one adjustment
    std::string whole_refused;         ///< why there is none
    std::vector<RecordLeftOut> left_out;
    std::vector<std::string> to_do;  ///< in order of importance
};

/// Never refuses for what a job holds: what cannot be computed is said in the record. Refuses:
/// `stopped`.
Result<RecordAnswer> run_record(RecordFacts facts, Progress* progress = nullptr);

/// The record as it is to be set.
paper::Paper paper_of(const RecordAnswer& answer);

std::string record_points_csv(const RecordAnswer& answer);
std::string record_setups_csv(const RecordAnswer& answer);
std::string record_control_csv(const RecordAnswer& answer);
std::string record_checks_csv(const RecordAnswer& answer);
std::string record_decisions_csv(const RecordAnswer& answer);

struct RecordFile {
    std::string name, mime, description, bytes;
};

/// The lists and the facts, without PDF and page.
std::vector<RecordFile> record_lists(const RecordAnswer& answer);
/// record.pdf, record.html and the lists. Refuses as write_pdf.
Result<std::vector<RecordFile>> record_files(const RecordAnswer& answer);

/// Plain text: the verdict and what to do.
std::string to_text(const RecordAnswer& answer);

bool is_proven(const RecordAnswer& answer);

}  // namespace layproof::acts
