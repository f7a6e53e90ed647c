// The record of a job, as the page asks for it.

#include "acts/shared/shape_words.hpp"

namespace layproof::acts::internal::shape {

void add_record_shapes(Records& out) {
    out.push_back({"RecordRequest", {absent("as_of", text())}, true});
    out.push_back({"RecordFile",
                   {{"name", text()},
                    {"path", text(), false, "where the server gives it"},
                    {"mime", text()},
                    {"description", text()},
                    {"bytes", whole()}}});
    out.push_back({"RecordAnswer",
                   {{"act", word({"record"})},
                    {"head", text(), false, "of the job it was made from"},
                    {"as_of", or_null(text())},
                    {"verdict", record("Verdict")},
                    {"points_proven", whole()},
                    {"points_in_doubt", whole()},
                    {"points_fail", whole()},
                    {"digest", text(), false, "of its facts"},
                    {"files", list(record("RecordFile"))}}});
}

}  // namespace layproof::acts::internal::shape
