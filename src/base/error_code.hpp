#pragma once
// Every reason for which layproof refuses an input, numbered by room. docs/errors.md is made from
// this table by a test, so the page cannot go stale.

#include <span>
#include <string_view>

namespace layproof {

enum class ErrorCode : int {
    // 1xx: files and text
    cannot_read = 101,
    cannot_write = 102,
    empty_file = 103,
    not_utf8 = 104,
    header_missing = 105,
    column_missing = 106,
    column_twice = 107,
    unit_unknown = 108,
    unit_missing = 109,
    not_a_number = 110,
    not_finite = 111,
    not_an_angle = 112,
    angle_out_of_range = 113,
    negative_distance = 114,
    row_too_short = 115,
    row_too_long = 116,
    quote_open = 117,
    value_missing = 118,
    word_unknown = 119,
    out_of_range = 120,
    not_toml = 121,
    key_unknown = 122,
    time_not_read = 123,
    column_map_bad = 124,
    file_too_large = 125,
    not_well_formed = 126,
    format_unknown = 127,
    reference_missing = 128,
    reference_circular = 129,
    nested_too_deep = 130,
    not_geographic = 131,
    // 2xx: what the files say together
    duplicate_mark = 201,
    marks_in_one_place = 202,
    target_unknown = 203,
    too_few_marks = 204,
    no_sights = 205,
    setup_unknown = 206,
    setup_incomplete = 207,
    not_solvable = 208,
    duplicate_point = 209,
    duplicate_setup = 210,
    no_marks = 211,
    // 3xx: the causes table
    causes_do_not_sum = 301,
    cause_unknown = 302,
    cause_size_bad = 303,
    // 4xx: the job file. 401 to 419: it could not be read or written; from 420: what was to go in
    not_a_job = 401,
    job_newer = 402,
    job_cut_short = 403,
    job_damaged = 404,
    job_busy = 405,
    job_full = 406,
    job_read_only = 407,
    job_exists = 408,
    job_changed = 409,
    other_job = 410,
    fact_unknown = 420,
    // 5xx: what is asked of an open job, by the page or another program
    act_unknown = 501,
    request_not_json = 502,
    request_field_unknown = 503,
    request_field_missing = 504,
    request_type_wrong = 505,
    file_not_kept = 506,
    stopped = 507,
    not_found = 510,
    not_paired = 511,
    pairing_code_wrong = 512,
    foreign_request = 513,
    request_too_large = 514,
    media_type_wrong = 515,
    request_malformed = 516,
    server_busy = 517,
    cannot_listen = 518,
};

struct ErrorEntry {
    ErrorCode code;
    std::string_view word;     // kebab-case, stable, used in JSON
    std::string_view meaning;  // one plain sentence
};

/// All codes in ascending order.
std::span<const ErrorEntry> error_table();

/// The kebab-case word of a code.
std::string_view to_word(ErrorCode code);

}  // namespace layproof
