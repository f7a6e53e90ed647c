#pragma once
// The invented mill hall as files and as a job.

#include <gtest/gtest.h>

#include <stdexcept>
#include <string>

#include "acts/job/job.hpp"
#include "acts/station/station.hpp"
#include "exchange/text/file.hpp"
#include "job/job_support.hpp"

namespace layproof::testing {

inline exchange::Document mill_hall(const std::string& file) {
    auto document = exchange::read_document(std::string(LAYPROOF_SOURCE_DIR) +
                                            "/examples/invented-mill-hall/" + file);
    if (!document) throw std::runtime_error(document.refusal().to_text());
    return std::move(document).value();
}

inline acts::TakeRequest take_mill_hall() {
    acts::TakeRequest out;
    out.marks = mill_hall("marks.csv");
    out.sights = mill_hall("sights.csv");
    out.setups = mill_hall("setups.csv");
    out.points = mill_hall("points.csv");
    out.instrument = mill_hall("instrument.toml");
    out.unit = measure::LengthUnit::foot;
    return out;
}

inline acts::StationRequest loose_mill_hall() {
    acts::StationRequest out;
    out.marks = mill_hall("marks.csv");
    out.sights = mill_hall("sights.csv");
    out.setups = mill_hall("setups.csv");
    out.points = mill_hall("points.csv");
    out.instrument = mill_hall("instrument.toml");
    out.unit = measure::LengthUnit::foot;
    return out;
}

template <class T>
T expect_value(Result<T> result) {
    if (!result) throw std::runtime_error(result.refusal().to_text());
    return std::move(result).value();
}

inline acts::StationAnswer station_of(const job::Job& job, const job::AsOf& as_of = {}) {
    acts::StationRequest request;
    request.facts = expect_value(acts::facts_of(job, as_of));
    return expect_value(acts::run_station(request));
}

}  // namespace layproof::testing
