#include "acts/shared/describe_shared.hpp"
#include "acts/shared/job_cause.hpp"

namespace layproof::acts {

void describe(Fields& f, const JobCause& cause) {
    f.is("JobCause");
    f.text("cause", cause.cause);
    f.texts("subjects", cause.subjects);
    f.number_or_null("probability", cause.probability);
    f.text_or_null("from", cause.from);
    f.text_or_null("to", cause.to);
    f.text("says", cause.says);
    f.text("next", cause.next);
    f.flag("gross", cause.is_gross);
}

}  // namespace layproof::acts
