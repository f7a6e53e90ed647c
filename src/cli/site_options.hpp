#pragma once
// The options that station, lay and watch have in common.

#include <optional>
#include <string>
#include <vector>

#include "acts/station/station.hpp"

namespace CLI {
class App;
}

namespace layproof::cli {

struct SiteOptions {
    std::string marks, sights, setups, instrument, points, causes;
    std::string map_marks, map_sights, map_setups, map_points;
    std::string job, as_of;
    std::string unit, show, out;
    double scale = 1.0;
    double confidence = 0.95;
    std::vector<std::string> set_aside;
    std::optional<std::string> station;
    std::vector<std::string> only;
    bool json = false;
    bool explain = false;
};

void add_site_options(CLI::App& command, SiteOptions& options);
/// --only, for the acts that judge or set out points.
void add_point_choice(CLI::App& command, SiteOptions& options);

/// Reads the files into the request. Nothing when all went well, else the exit status; what is
/// wrong is then said on standard error.
std::optional<int> fill(const SiteOptions& options, const std::string& act,
                        acts::StationRequest& request);

/// Reads a file if it was named; false when it could not be read, said on standard error.
bool read_into(const std::string& path, std::optional<exchange::Document>& into);
/// The same for an option that may be given several times: adds each file.
bool read_into(const std::vector<std::string>& paths, std::vector<exchange::Document>& into);

/// Says the refusal on standard error; exit_refused.
int refuse(const Refusal& refusal);

/// Says what could not be written on standard error; exit_not_written.
int not_written(const std::string& what);

/// Says what is wrong and where the options are listed; exit_usage.
int usage(const std::string& act, const std::string& text);

}  // namespace layproof::cli
