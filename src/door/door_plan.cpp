#include "door/door_plan_internal.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <utility>

#include "acts/plan/plan_scene.hpp"
#include "door/door_requests_internal.hpp"

namespace layproof::acts::internal {
namespace {

/// What was drawn, as the file of obstacles it would stand in: one corner a row.
exchange::Document drawn_document(const Json& drawn) {
    exchange::Document out;
    out.name = "drawn on the plan";
    out.bytes = "obstacle,kind,east,north,bottom,top\n";
    int number = 0;
    for (const Json& one : drawn) {
        ++number;
        const auto height = [&](const char* name) {
            const auto at = one.find(name);
            return at == one.end() ? std::string() : fmt::format("{:.4f}", at->get<double>());
        };
        for (const Json& corner : one["path"])
            out.bytes += fmt::format("drawn {},{},{:.4f},{:.4f},{},{}\n", number,
                                     text_in(one, "kind"), corner[0].get<double>(),
                                     corner[1].get<double>(), height("bottom"), height("top"));
    }
    return out;
}

}  // namespace

Result<PlanRequest> plan_request(
    const Json& request,
    const std::function<Result<exchange::Document>(const std::string&)>& kept_file) {
    PlanRequest out;
    const auto number = [&](const char* name, double& into) {
        if (const auto at = request.find(name); at != request.end()) into = at->get<double>();
    };
    number("share", out.share);
    number("step_m", out.step_m);
    number("instrument_height_m", out.instrument_height_m);
    number("rod_m", out.rod_m);
    if (const auto at = request.find("two_faces"); at != request.end())
        out.faces = at->get<bool>() ? 2 : 1;
    if (const auto at = request.find("advice"); at != request.end()) out.advice = at->get<bool>();
    if (const auto ground = watch::ground_from_word(text_in(request, "ground")))
        out.ground = *ground;
    if (const auto files = request.find("files"); files != request.end())
        for (const Json& digest : *files) {
            auto file = kept_file(digest.get<std::string>());
            if (!file) return file.refusal();
            out.obstacles.push_back(*std::move(file));
        }
    if (const auto drawn = request.find("drawn"); drawn != request.end() && !drawn->empty())
        out.obstacles.push_back(drawn_document(*drawn));
    return out;
}

void PlanDesk::keep(const std::string& key, PlanScene scene) {
    sites_.remove_if([&](const Kept& kept) { return kept.key == key; });
    sites_.push_back({key, std::move(scene)});
    if (sites_.size() > kMostSites) sites_.pop_front();
}

Result<PlanAnswer> PlanDesk::plan(const std::string& key, const PlanRequest& request) {
    auto scene = open_plan(request);
    if (!scene) return scene.refusal();
    auto answer = run_plan(*scene);
    if (!answer) return answer;
    // The progress ends with this request; what is kept tells nobody.
    scene->inside().request.progress = nullptr;
    const std::lock_guard lock(mutex_);
    keep(key, std::move(*scene));
    return answer;
}

Result<PlanPlace> PlanDesk::place(const std::string& key,
                                  const std::function<Result<PlanRequest>()>& make, double east_m,
                                  double north_m) {
    const std::lock_guard lock(mutex_);
    auto site = std::find_if(sites_.begin(), sites_.end(),
                             [&](const Kept& kept) { return kept.key == key; });
    if (site == sites_.end()) {
        const auto request = make();
        if (!request) return request.refusal();
        auto scene = open_plan(*request);
        if (!scene) return scene.refusal();
        keep(key, std::move(*scene));
        site = std::prev(sites_.end());
    }
    return plan_position(site->scene, east_m, north_m);
}

}  // namespace layproof::acts::internal
