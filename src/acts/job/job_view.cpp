#include "acts/job/job.hpp"

namespace layproof::acts {

Result<JobView> view_of(const job::Job& job, const job::AsOf& as_of) {
    JobView out;
    out.as_of = as_of;
    auto summary = job.summary(as_of);
    if (!summary) return summary.refusal();
    out.summary = std::move(*summary);
    const auto settings = job.current<job::Setting>(as_of);
    if (!settings) return settings.refusal();
    for (const auto& kept : *settings)
        if (kept.value.name == "unit") out.unit = kept.value.value;
    auto marks = job.current<frame::Mark>(as_of);
    if (!marks) return marks.refusal();
    out.marks = std::move(*marks);
    const auto points = job.current<frame::DesignPoint>(as_of);
    if (!points) return points.refusal();
    out.points = points->size();
    auto stations = job.stations(as_of);
    if (!stations) return stations.refusal();
    out.stations = std::move(*stations);
    auto documents = job.all<job::Document>(as_of);
    if (!documents) return documents.refusal();
    out.documents = std::move(*documents);
    auto decisions = job.all<job::Decision>(as_of);
    if (!decisions) return decisions.refusal();
    out.decisions = std::move(*decisions);
    auto conflicts = job.conflicts(as_of);
    if (!conflicts) return conflicts.refusal();
    out.conflicts = std::move(*conflicts);
    auto last = job.log(as_of, JobView::kLastFacts);
    if (!last) return last.refusal();
    out.last = std::move(*last);
    return out;
}

}  // namespace layproof::acts
