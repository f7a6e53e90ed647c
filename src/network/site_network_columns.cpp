#include "network/site_network_columns_internal.hpp"

#include <Eigen/Dense>

namespace layproof::network::internal {
namespace {

/// A dense covariance of this many unknowns has 200 MB.
constexpr int kMostInCore = 5000;

class NetworkLinearising {
public:
    NetworkLinearising(const SiteNetwork& network, NetworkColumns& out)
        : network_(network), form_(*network.form), out_(out) {}

    bool run() {
        out_.plan = form_.plan;
        out_.height = form_.height;
        choose_core();
        if (out_.core_size == 0 || out_.core_size > kMostInCore) return false;
        covariance_of_core();
        out_.block_of_sight.assign(network_.sights.size(), -1);
        for (std::size_t i = 0; i < network_.sights.size(); ++i)
            out_.block_of_sight[i] = add(form_.sights[i]);
        out_.block_of_given_plan.assign(network_.points.size(), -1);
        out_.block_of_given_height.assign(network_.points.size(), -1);
        for (std::size_t p = 0; p < network_.points.size(); ++p) {
            out_.block_of_given_plan[p] = add(form_.given_plan[p]);
            out_.block_of_given_height[p] = add(form_.given_height[p]);
        }
        out_.block_of_level = add_lines(network_.levels, form_.levels);
        out_.block_of_tape = add_lines(network_.tapes, form_.tapes);
        for (std::size_t p = 0; p < network_.points.size(); ++p)
            if (out_.leaf_block[p] >= 0)
                out_.leaf_block[p] =
                    out_.block_of_sight[static_cast<std::size_t>(out_.leaf_block[p])];
        return true;
    }

private:
    /// A point that one sight alone holds takes its place from the set-up and adds nothing.
    void choose_core() {
        out_.core_at.assign(form_.problem.parameters().size(), -1);
        const auto enter = [&](adjust::ParameterId id) {
            if (id.index < 0) return -1;
            const auto& block = form_.problem.parameters()[static_cast<std::size_t>(id.index)];
            if (block.held || form_.analysis->is_loose(id)) return -1;
            int& at = out_.core_at[static_cast<std::size_t>(id.index)];
            if (at < 0) {
                at = out_.core_size;
                out_.core_size += block.size;
                core_blocks_.push_back(id);
            }
            return at;
        };
        for (const auto& setup : form_.standings)
            for (const Standing& standing : setup) {
                enter(standing.pose);
                enter(standing.axes);
            }
        std::vector<int> only_sight(network_.points.size(), -1);
        for (std::size_t i = 0; i < network_.sights.size(); ++i)
            if (network_.sights[i].used)
                only_sight[static_cast<std::size_t>(network_.sights[i].point)] =
                    static_cast<int>(i);
        std::vector<char> held(network_.points.size(), 0);
        for (const auto* lines : {&network_.levels, &network_.tapes})
            for (const NetworkLine& line : *lines)
                if (line.used)
                    held[static_cast<std::size_t>(line.from)] =
                        held[static_cast<std::size_t>(line.to)] = 1;
        // A set-up over a point may hang on it.
        for (std::size_t s = 0; s < network_.setups.size(); ++s)
            for (const adjust::ObservationId id : {form_.over_plan[s], form_.over_height[s]}) {
                if (id.batch < 0) continue;
                const auto& batch = form_.problem.batches()[static_cast<std::size_t>(id.batch)];
                const int under = batch.parameters[static_cast<std::size_t>(2 * id.index + 1)];
                for (std::size_t p = 0; p < network_.points.size(); ++p)
                    if (form_.plan[p].index == under || form_.height[p].index == under) held[p] = 1;
            }
        out_.plan_core.assign(network_.points.size(), -1);
        out_.height_core.assign(network_.points.size(), -1);
        out_.leaf_block.assign(network_.points.size(), -1);
        for (std::size_t p = 0; p < network_.points.size(); ++p) {
            const NetworkPoint& point = network_.points[p];
            const bool leaf = point.mark < 0 && point.sights == 1 && held[p] == 0;
            if (leaf) {
                out_.leaf_block[p] = only_sight[p];
                continue;
            }
            out_.plan_core[p] = enter(form_.plan[p]);
            out_.height_core[p] = enter(form_.height[p]);
        }
    }

    void covariance_of_core() {
        out_.core_covariance = form_.analysis->joint_covariance(core_blocks_);
    }

    std::vector<int> add_lines(const std::vector<NetworkLine>& lines,
                               const std::vector<adjust::ObservationId>& ids) {
        std::vector<int> out(lines.size(), -1);
        for (std::size_t i = 0; i < lines.size(); ++i)
            if (lines[i].used) out[i] = add(ids[i]);
        return out;
    }

    int add(adjust::ObservationId id) {
        if (id.batch < 0) return -1;
        WhiteBlock block;
        block.id = id;
        block.whitener = whitener_of(form_, id);
        block.jacobian = block.whitener * jacobian_of(form_, id, block.blocks);
        block.misfit = -block.whitener * residual_of(form_, id);
        int column = 0;
        for (const adjust::ParameterId parameter : block.blocks) {
            block.first.push_back(column);
            column += form_.problem.parameters()[static_cast<std::size_t>(parameter.index)].size;
        }
        out_.blocks.push_back(std::move(block));
        return static_cast<int>(out_.blocks.size()) - 1;
    }

    const SiteNetwork& network_;
    const NetworkForm& form_;
    NetworkColumns& out_;
    std::vector<adjust::ParameterId> core_blocks_;
};

}  // namespace

bool linearise_network(const SiteNetwork& network, NetworkColumns& out) {
    if (!network.form || !network.form->analysis) return false;
    return NetworkLinearising(network, out).run();
}

}  // namespace layproof::network::internal
