// The sparse path on whole networks, beside Ceres and bare CHOLMOD on the same problem in the same
// run. Processor time of one thread.
//
//   network_speed plane [side]      Ceres with the covariance of all points (minutes), CHOLMOD
//   network_speed large [side]      Ceres without covariance, CHOLMOD
//   network_speed building [side]   ten floors; CHOLMOD
//   network_speed site [set-ups]    2,000 set-ups of 500 sights: memory and time
//   network_speed growth            10^3 to 10^6 sights, one line each

#include <ceres/ceres.h>
#include <fmt/core.h>
#include <suitesparse/cholmod.h>
#include <sys/resource.h>

#include <algorithm>
#include <chrono>
#include <cmath>
#include <cstdlib>
#include <ctime>
#include <functional>
#include <limits>
#include <string>
#include <vector>

#include "adjust/sparse_solve.hpp"
#include "network_problems.hpp"

extern "C" void openblas_set_num_threads(int);

namespace layproof::bench {
namespace {

using namespace adjust;

double cpu_s() {
    timespec now{};
    clock_gettime(CLOCK_PROCESS_CPUTIME_ID, &now);
    return static_cast<double>(now.tv_sec) + 1e-9 * static_cast<double>(now.tv_nsec);
}

double wall_s() {
    return std::chrono::duration<double>(std::chrono::steady_clock::now().time_since_epoch())
        .count();
}

double peak_mib() {
    rusage usage{};
    getrusage(RUSAGE_SELF, &usage);
    return static_cast<double>(usage.ru_maxrss) / 1024.0;
}

struct OwnTimes {
    double order = 0.0;
    double solve = 0.0;
    double analyse = 0.0;
    double wall = 0.0;
    SparseSummary summary;
    EliminationCost cost;
    double covariance_sum = 0.0;  // of all points: read, so that it is known to be there
    double total() const { return order + solve + analyse; }
};

OwnTimes run_own(Network& net) {
    OwnTimes out;
    net.problem.values() = net.start;
    const double wall = wall_s();
    double begin = cpu_s();
    SparseSolver solver(net.problem);
    out.order = cpu_s() - begin;
    begin = cpu_s();
    out.summary = solver.solve();
    out.solve = cpu_s() - begin;
    begin = cpu_s();
    const SparseAnalysis analysis = solver.analyse();
    for (const ParameterId id : net.points) out.covariance_sum += analysis.covariance(id).trace();
    out.analyse = cpu_s() - begin;
    out.wall = wall_s() - wall;
    out.cost = solver.cost();
    return out;
}

/// The least of several runs: other programs share the caches.
OwnTimes best_of(Network& net, int runs) {
    OwnTimes best = run_own(net);
    for (int i = 1; i < runs; ++i) {
        OwnTimes next = run_own(net);
        if (next.total() < best.total()) best = next;
    }
    return best;
}

void tell(const Network& net, const OwnTimes& own) {
    fmt::print("  {} points, {} sights, {} observations, redundancy {}, vPv/r {:.4f}, status {}\n",
               net.points.size(), net.sights, net.observations, own.summary.redundancy,
               own.summary.weighted_square_sum / own.summary.redundancy,
               static_cast<int>(own.summary.status));
    fmt::print(
        "  own: order {:.3f} s, solve {:.3f} s ({} steps, {} factorisations), covariances and "
        "tests "
        "{:.3f} s, together {:.3f} s ({:.3f} s by the clock), mean sd {:.4f} m\n",
        own.order, own.solve, own.summary.iterations, own.summary.factorisations, own.analyse,
        own.total(), own.wall,
        std::sqrt(own.covariance_sum / static_cast<double>(net.points.size())));
    fmt::print(
        "  {} numbers in the factor, {:.2e} multiplications, largest front {}, stack {}, {}\n",
        own.cost.factor_numbers, own.cost.multiplications, own.cost.largest_front,
        own.cost.stack_numbers,
        own.cost.by_nested_dissection ? "nested dissection" : "minimum degree");
}

// ---- Ceres ----

class BatchCost final : public ceres::CostFunction {
public:
    BatchCost(const SparseProblem::Batch& batch, int index) : batch_(batch), index_(index) {
        set_num_residuals(batch.rows);
        for (const int size : batch.sizes) mutable_parameter_block_sizes()->push_back(size);
    }
    bool Evaluate(double const* const* parameters, double* residuals,
                  double** jacobians) const override {
        // The same function through the same call, for one block; values side by side.
        double values[18];
        int offsets[6];
        double jacobian[54];
        for (std::size_t b = 0; b < batch_.sizes.size(); ++b) {
            offsets[b] = batch_.columns[b];
            for (int k = 0; k < batch_.sizes[b]; ++k) values[offsets[b] + k] = parameters[b][k];
        }
        Chunk chunk;
        chunk.first = index_;
        chunk.count = 1;
        chunk.blocks = batch_.block_count();
        chunk.width = batch_.width;
        chunk.values = values;
        chunk.offsets = offsets;
        chunk.residual = residuals;
        chunk.jacobian = jacobians == nullptr ? nullptr : jacobian;
        batch_.function->evaluate(chunk);
        // Diagonal here: all covariances of these networks are.
        const double* f =
            batch_.factors.data() + static_cast<std::ptrdiff_t>(index_) * batch_.factor_size();
        for (int r = 0; r < batch_.rows; ++r) {
            const double w = f[r * (r + 1) / 2 + r];
            residuals[r] *= w;
            for (std::size_t b = 0; jacobians != nullptr && b < batch_.sizes.size(); ++b) {
                if (jacobians[b] == nullptr) continue;
                for (int k = 0; k < batch_.sizes[b]; ++k)
                    jacobians[b][r * batch_.sizes[b] + k] =
                        w * jacobian[r * batch_.width + batch_.columns[b] + k];
            }
        }
        return true;
    }

private:
    const SparseProblem::Batch& batch_;
    int index_;
};

struct CeresTimes {
    double solve = 0.0;
    double covariance = 0.0;
    int iterations = 0;
    double largest_difference = 0.0;  // of a value from ours
};

CeresTimes run_ceres(const Network& net, bool with_covariance) {
    std::vector<double> values = net.start;
    ceres::Problem problem;
    for (const auto& block : net.problem.parameters()) {
        problem.AddParameterBlock(values.data() + block.offset, block.size);
        if (block.held) problem.SetParameterBlockConstant(values.data() + block.offset);
    }
    for (const auto& batch : net.problem.batches()) {
        for (int i = 0; i < batch.count; ++i) {
            std::vector<double*> blocks;
            for (int b = 0; b < batch.block_count(); ++b)
                blocks.push_back(
                    values.data() +
                    batch.offsets[static_cast<std::size_t>(i * batch.block_count() + b)]);
            problem.AddResidualBlock(new BatchCost(batch, i), nullptr, blocks);
        }
    }
    ceres::Solver::Options options;
    options.linear_solver_type = ceres::SPARSE_NORMAL_CHOLESKY;
    options.sparse_linear_algebra_library_type = ceres::SUITE_SPARSE;
    options.num_threads = 1;
    options.initial_trust_region_radius = 1e16;  // as good as Gauss–Newton
    options.function_tolerance = 1e-12;
    options.gradient_tolerance = 1e-14;
    options.parameter_tolerance = 1e-10;
    options.logging_type = ceres::SILENT;
    ceres::Solver::Summary summary;
    CeresTimes out;
    double begin = cpu_s();
    ceres::Solve(options, &problem, &summary);
    out.solve = cpu_s() - begin;
    out.iterations = static_cast<int>(summary.iterations.size()) - 1;
    for (std::size_t i = 0; i < values.size(); ++i)
        out.largest_difference =
            std::max(out.largest_difference, std::abs(values[i] - net.problem.values()[i]));
    if (!with_covariance) return out;
    ceres::Covariance::Options wanted;
    wanted.algorithm_type = ceres::SPARSE_QR;
    wanted.sparse_linear_algebra_library_type = ceres::SUITE_SPARSE;
    wanted.num_threads = 1;
    ceres::Covariance covariance(wanted);
    std::vector<std::pair<const double*, const double*>> pairs;
    for (const ParameterId id : net.points) {
        const auto& block = net.problem.parameters()[static_cast<std::size_t>(id.index)];
        if (!block.held)
            pairs.emplace_back(values.data() + block.offset, values.data() + block.offset);
    }
    begin = cpu_s();
    if (!covariance.Compute(pairs, &problem)) fmt::print("  Ceres gives no covariance\n");
    out.covariance = cpu_s() - begin;
    return out;
}

// ---- bare CHOLMOD ----

struct BareTimes {
    double analyse = 0.0;
    double factor = 0.0;
    double solve = 0.0;
    double numbers = 0.0;
    double iterations(int n) const { return analyse + n * (factor + solve); }
};

/// The normal matrix at the solution, by triplets; not timed.
BareTimes run_cholmod(const Network& net, int repeats) {
    const auto& parameters = net.problem.parameters();
    std::vector<int> first(parameters.size(), -1);
    int n = 0;
    for (std::size_t p = 0; p < parameters.size(); ++p) {
        if (parameters[p].held) continue;
        first[p] = n;
        n += parameters[p].size;
    }
    cholmod_common common;
    cholmod_start(&common);
    common.nmethods = 1;
    common.method[0].ordering = CHOLMOD_METIS;
    common.postorder = 1;
    common.supernodal = CHOLMOD_SUPERNODAL;
    common.print = 0;
    std::size_t most = 0;
    for (const auto& batch : net.problem.batches())
        most += static_cast<std::size_t>(batch.count) * static_cast<std::size_t>(batch.width) *
                static_cast<std::size_t>(batch.width + 1) / 2;
    cholmod_triplet* triplet = cholmod_allocate_triplet(
        static_cast<std::size_t>(n), static_cast<std::size_t>(n), most, -1, CHOLMOD_REAL, &common);
    auto* rows = static_cast<int*>(triplet->i);
    auto* columns = static_cast<int*>(triplet->j);
    auto* numbers = static_cast<double*>(triplet->x);
    std::size_t filled = 0;
    for (const auto& batch : net.problem.batches()) {
        std::vector<double> v(static_cast<std::size_t>(batch.rows));
        std::vector<double> j(static_cast<std::size_t>(batch.rows * batch.width));
        for (int i = 0; i < batch.count; ++i) {
            Chunk chunk;
            chunk.first = i;
            chunk.count = 1;
            chunk.blocks = batch.block_count();
            chunk.width = batch.width;
            chunk.values = net.problem.values().data();
            chunk.offsets =
                batch.offsets.data() + static_cast<std::ptrdiff_t>(i) * batch.block_count();
            chunk.residual = v.data();
            chunk.jacobian = j.data();
            batch.function->evaluate(chunk);
            const double* f =
                batch.factors.data() + static_cast<std::ptrdiff_t>(i) * batch.factor_size();
            std::vector<int> place;
            for (int b = 0; b < batch.block_count(); ++b) {
                const auto p = static_cast<std::size_t>(
                    batch.parameters[static_cast<std::size_t>(i * batch.block_count() + b)]);
                for (int k = 0; k < parameters[p].size; ++k)
                    place.push_back(first[p] < 0 ? -1 : first[p] + k);
            }
            for (int a = 0; a < batch.width; ++a) {
                for (int b = 0; b <= a; ++b) {
                    const int pa = place[static_cast<std::size_t>(a)];
                    const int pb = place[static_cast<std::size_t>(b)];
                    if (pa < 0 || pb < 0) continue;
                    double sum = 0.0;
                    for (int r = 0; r < batch.rows; ++r) {
                        const double w = f[r * (r + 1) / 2 + r];
                        sum += w * w * j[static_cast<std::size_t>(r * batch.width + a)] *
                               j[static_cast<std::size_t>(r * batch.width + b)];
                    }
                    rows[filled] = std::max(pa, pb);
                    columns[filled] = std::min(pa, pb);
                    numbers[filled++] = sum;
                }
            }
        }
    }
    triplet->nnz = filled;
    cholmod_sparse* matrix = cholmod_triplet_to_sparse(triplet, filled, &common);
    cholmod_free_triplet(&triplet, &common);
    BareTimes out;
    double begin = cpu_s();
    cholmod_factor* factor = cholmod_analyze(matrix, &common);
    out.analyse = cpu_s() - begin;
    cholmod_dense* right = cholmod_ones(static_cast<std::size_t>(n), 1, CHOLMOD_REAL, &common);
    out.factor = std::numeric_limits<double>::infinity();
    out.solve = out.factor;
    for (int i = 0; i < repeats; ++i) {
        begin = cpu_s();
        cholmod_factorize(matrix, factor, &common);
        out.factor = std::min(out.factor, cpu_s() - begin);
        begin = cpu_s();
        cholmod_dense* x = cholmod_solve(CHOLMOD_A, factor, right, &common);
        out.solve = std::min(out.solve, cpu_s() - begin);
        cholmod_free_dense(&x, &common);
    }
    out.numbers = common.lnz;
    cholmod_free_dense(&right, &common);
    cholmod_free_factor(&factor, &common);
    cholmod_free_sparse(&matrix, &common);
    cholmod_finish(&common);
    return out;
}

void tell(const BareTimes& bare) {
    fmt::print(
        "  bare CHOLMOD (METIS, supernodal): analyse {:.3f} s, factor {:.3f} s, solve {:.3f} s, "
        "{:.0f} "
        "numbers\n",
        bare.analyse, bare.factor, bare.solve, bare.numbers);
}

// ---- runs ----

void plane(int side, bool with_ceres_covariance) {
    fmt::print("plane network, {} x {} points\n", side, side);
    Network net = plane_network(side);
    const OwnTimes own = best_of(net, side > 200 ? 3 : 7);
    tell(net, own);
    const BareTimes bare = run_cholmod(net, 3);
    tell(bare);
    const CeresTimes ceres = run_ceres(net, with_ceres_covariance);
    fmt::print(
        "  Ceres: solve {:.3f} s ({} steps), covariance {:.3f} s; largest difference {:.1e}\n",
        ceres.solve, ceres.iterations, ceres.covariance, ceres.largest_difference);
    const int n = ceres.iterations;
    fmt::print(
        "  bare CHOLMOD with {} factorisations (as many as Ceres took): {:.3f} s; ours with "
        "everything is {:.2f} of it\n",
        n, bare.iterations(n), own.total() / bare.iterations(n));
    fmt::print("  Ceres / ours: {:.1f}\n", (ceres.solve + ceres.covariance) / own.total());
}

void building(int side) {
    fmt::print("building of ten floors, {} x {} points each\n", side, side);
    Network net = building_network(10, side);
    const OwnTimes own = best_of(net, side > 50 ? 1 : 5);
    tell(net, own);
    const BareTimes bare = run_cholmod(net, side > 50 ? 1 : 3);
    tell(bare);
    for (const int n : {own.summary.factorisations, 3, 4})
        fmt::print("  bare CHOLMOD with {} factorisations: {:.3f} s\n", n, bare.iterations(n));
    fmt::print("  ours without covariances: {:.3f} s, with: {:.3f} s\n", own.order + own.solve,
               own.total());
}

void site(int setups) {
    fmt::print("site job, {} set-ups\n", setups);
    const double begin = cpu_s();
    Network net = site_network(setups);
    fmt::print("  made in {:.2f} s, {:.0f} MiB\n", cpu_s() - begin, peak_mib());
    const OwnTimes own = run_own(net);
    tell(net, own);
    fmt::print("  peak memory {:.0f} MiB\n", peak_mib());
}

void growth() {
    fmt::print(
        "sights,points,unknowns,order_s,solve_s,analyse_s,total_s,factorisations,peak_mib\n");
    for (const int setups : {2, 6, 20, 60, 200, 600, 2000}) {
        Network net = site_network(setups);
        const OwnTimes own = best_of(net, setups < 200 ? 7 : setups < 1000 ? 3 : 1);
        fmt::print("{},{},{},{:.5f},{:.5f},{:.5f},{:.5f},{},{:.0f}\n", net.sights,
                   net.points.size(), net.problem.unknown_count(), own.order, own.solve,
                   own.analyse, own.total(), own.summary.factorisations, peak_mib());
        std::fflush(stdout);
    }
}

}  // namespace
}  // namespace layproof::bench

int main(int argc, char** argv) {
    using namespace layproof::bench;
    openblas_set_num_threads(1);
    const std::string what = argc > 1 ? argv[1] : "";
    const auto number = [&](int otherwise) { return argc > 2 ? std::atoi(argv[2]) : otherwise; };
    if (what == "plane")
        plane(number(100), true);
    else if (what == "large")
        plane(number(316), false);
    else if (what == "building")
        building(number(32));
    else if (what == "site")
        site(number(2000));
    else if (what == "growth")
        growth();
    else
        fmt::print("network_speed plane|large|building|site|growth [size]\n");
    return 0;
}
