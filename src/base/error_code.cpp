#include "base/error_code.hpp"

#include <algorithm>
#include <array>

namespace layproof {
namespace {

constexpr std::array kTable{
    ErrorEntry{ErrorCode::cannot_read, "cannot-read", "The file could not be opened or read."},
    ErrorEntry{ErrorCode::cannot_write, "cannot-write",
               "The output could not be written; nothing was left half done."},
    ErrorEntry{ErrorCode::empty_file, "empty-file", "The file holds nothing."},
    ErrorEntry{ErrorCode::not_utf8, "not-utf8", "The file is not UTF-8 text."},
    ErrorEntry{ErrorCode::header_missing, "header-missing",
               "The first line is not a header with known column names."},
    ErrorEntry{ErrorCode::column_missing, "column-missing",
               "A required column is not in the header."},
    ErrorEntry{ErrorCode::column_twice, "column-twice", "A column stands in the header twice."},
    ErrorEntry{ErrorCode::unit_unknown, "unit-unknown",
               "The unit in brackets is not one that layproof knows."},
    ErrorEntry{ErrorCode::unit_missing, "unit-missing",
               "Nothing says in which unit the numbers are; layproof does not guess."},
    ErrorEntry{ErrorCode::not_a_number, "not-a-number", "A number was expected."},
    ErrorEntry{ErrorCode::not_finite, "not-finite", "The number is not finite (NaN or infinity)."},
    ErrorEntry{ErrorCode::not_an_angle, "not-an-angle", "An angle was expected."},
    ErrorEntry{ErrorCode::angle_out_of_range, "angle-out-of-range",
               "The angle, its minutes or its seconds are out of range."},
    ErrorEntry{ErrorCode::negative_distance, "negative-distance",
               "A distance must be greater than zero."},
    ErrorEntry{ErrorCode::row_too_short, "row-too-short",
               "The row has fewer fields than the header."},
    ErrorEntry{ErrorCode::row_too_long, "row-too-long", "The row has more fields than the header."},
    ErrorEntry{ErrorCode::quote_open, "quote-open",
               "A quoted field is not closed or has text after its closing quote."},
    ErrorEntry{ErrorCode::value_missing, "value-missing", "A value that is needed is empty."},
    ErrorEntry{ErrorCode::word_unknown, "word-unknown",
               "The word is not one of those allowed here."},
    ErrorEntry{ErrorCode::out_of_range, "out-of-range",
               "The value is outside the range that makes sense here."},
    ErrorEntry{ErrorCode::not_toml, "not-toml", "The file is not valid TOML."},
    ErrorEntry{ErrorCode::key_unknown, "key-unknown", "The key is not one that layproof knows."},
    ErrorEntry{ErrorCode::time_not_read, "time-not-read",
               "A time was expected, such as 2026-03-04T07:45:00-05:00."},
    ErrorEntry{ErrorCode::column_map_bad, "column-map-bad",
               "The column map does not fit the file."},
    ErrorEntry{ErrorCode::file_too_large, "file-too-large",
               "The file or one of its lines is larger than layproof takes."},
    ErrorEntry{ErrorCode::not_well_formed, "not-well-formed",
               "The file breaks the rules of its format."},
    ErrorEntry{ErrorCode::format_unknown, "format-unknown",
               "The file is of a kind or version that layproof does not read here."},
    ErrorEntry{ErrorCode::reference_missing, "reference-missing",
               "The file refers to something that it does not hold."},
    ErrorEntry{ErrorCode::reference_circular, "reference-circular",
               "Things in the file refer to each other in a circle."},
    ErrorEntry{ErrorCode::nested_too_deep, "nested-too-deep",
               "The file nests its parts deeper than any honest file does."},
    ErrorEntry{ErrorCode::not_geographic, "not-geographic",
               "The coordinates are not the longitude and latitude that the format is for."},
    ErrorEntry{ErrorCode::duplicate_mark, "duplicate-mark", "Two marks have the same name."},
    ErrorEntry{ErrorCode::marks_in_one_place, "marks-in-one-place",
               "Two marks have the same coordinates under two names."},
    ErrorEntry{ErrorCode::target_unknown, "target-unknown",
               "A control sight names a mark that is not in the marks file."},
    ErrorEntry{ErrorCode::too_few_marks, "too-few-marks",
               "The sights do not reach enough different marks to place the station."},
    ErrorEntry{ErrorCode::no_sights, "no-sights", "There is no sight to work with."},
    ErrorEntry{ErrorCode::setup_unknown, "setup-unknown",
               "A set-up names a mark or station that is not there."},
    ErrorEntry{ErrorCode::setup_incomplete, "setup-incomplete",
               "The set-up lacks something its kind needs."},
    ErrorEntry{ErrorCode::not_solvable, "not-solvable",
               "The sights do not determine the station at all."},
    ErrorEntry{ErrorCode::duplicate_point, "duplicate-point", "Two points have the same name."},
    ErrorEntry{ErrorCode::duplicate_setup, "duplicate-setup",
               "Two set-ups have the same station name."},
    ErrorEntry{ErrorCode::no_marks, "no-marks", "There is no mark to work with."},
    ErrorEntry{ErrorCode::causes_do_not_sum, "causes-do-not-sum",
               "The frequencies of the causes do not sum to one."},
    ErrorEntry{ErrorCode::cause_unknown, "cause-unknown",
               "The causes table names a cause that layproof does not know."},
    ErrorEntry{ErrorCode::cause_size_bad, "cause-size-bad",
               "A cause's size or frequency is not usable."},
    ErrorEntry{ErrorCode::not_a_job, "not-a-job", "The file is not a layproof job file."},
    ErrorEntry{ErrorCode::job_newer, "job-newer",
               "The job file was written by a newer layproof, with a schema this one cannot read."},
    ErrorEntry{ErrorCode::job_cut_short, "job-cut-short",
               "The job file ends before its end: part of it is missing."},
    ErrorEntry{ErrorCode::job_damaged, "job-damaged", "The job file is damaged."},
    ErrorEntry{ErrorCode::job_busy, "job-busy",
               "Another program is writing to the job file; nothing was changed."},
    ErrorEntry{ErrorCode::job_full, "job-full",
               "There is no room left on the disk; what was in the job is unchanged."},
    ErrorEntry{ErrorCode::job_read_only, "job-read-only",
               "The job file or its folder may not be written to."},
    ErrorEntry{ErrorCode::job_exists, "job-exists",
               "There is a file of that name already; it was left alone."},
    ErrorEntry{ErrorCode::job_changed, "job-changed",
               "Facts in the job file were changed after they were recorded."},
    ErrorEntry{ErrorCode::other_job, "other-job", "The two files belong to different jobs."},
    ErrorEntry{ErrorCode::fact_unknown, "fact-unknown",
               "The job holds no fact or document of that name."},
};

}  // namespace

std::span<const ErrorEntry> error_table() {
    return kTable;
}

std::string_view to_word(ErrorCode code) {
    const auto* const found = std::find_if(kTable.begin(), kTable.end(),
                                           [&](const ErrorEntry& e) { return e.code == code; });
    return found == kTable.end() ? std::string_view{"unknown"} : found->word;
}

}  // namespace layproof
