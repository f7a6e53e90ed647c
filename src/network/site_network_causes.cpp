#include "network/site_network_causes.hpp"

#include <Eigen/Dense>
#include <algorithm>
#include <array>
#include <cmath>
#include <map>
#include <numeric>
#include <set>
#include <tuple>
#include <utility>

#include "base/index.hpp"
#include "network/site_network_columns_internal.hpp"
#include "network/site_network_core_sum_internal.hpp"

namespace layproof::network {
namespace {

using Eigen::MatrixXd;
using Eigen::VectorXd;
using infer::Candidate;
using infer::ChangeSet;
using internal::CoreSum;
using internal::NetworkColumns;
using internal::RowList;
using internal::RowRun;
using internal::SuspectRows;

/// Explanations below this do not move a point's probability in the figures shown.
constexpr double kBelievedFrom = 2e-4;

class NetworkDiagnosing {
public:
    NetworkDiagnosing(const SiteNetwork& network, const cause::CauseTable& table,
                      const NetworkDiagnoseOptions& options)
        : network_(network),
          table_(table),
          options_(options),
          columns_(std::make_shared<NetworkColumns>()) {}

    NetworkDiagnosis run() {
        if (!network_.is_solved || !internal::linearise_network(network_, *columns_))
            return std::move(out_);
        suspects_ = internal::suspect_network(network_, table_, options_.only_movement, *columns_);
        out_.suspects = std::move(suspects_.who);
        weigh();
        out_.is_usable = true;
        out_.columns = columns_;
        return std::move(out_);
    }

private:
    infer::SearchOptions search_options() const {
        infer::SearchOptions out = options_.search;
        for (const auto& odds_of_kind : suspects_.move_odds) {
            std::vector<double> odds;
            for (const auto& [group, o] : odds_of_kind) odds.push_back(o);
            out.rate_weights.push_back(
                infer::rate_weights(odds, kRateShape, std::max(out.most_at_once, 1)));
        }
        return out;
    }

    void weigh() {
        is_leaf_.assign(columns_->blocks.size(), 0);
        for (const int block : columns_->leaf_block)
            if (block >= 0) is_leaf_[at(block)] = 1;
        const infer::SearchOptions search = search_options();
        weigh_alone(search);
        pick();
        std::vector<Candidate> picked;
        int columns = 0;
        for (const int h : columns_->picked) {
            Candidate one = columns_->suspects[at(h)];
            one.first_column = columns;
            columns_->picked_first.push_back(columns);
            columns += one.columns;
            picked.push_back(std::move(one));
        }
        MatrixXd by_core = MatrixXd::Zero(columns_->core_size, columns);
        VectorXd misfit = VectorXd::Zero(columns);
        CoreSum sum(*columns_, is_leaf_);
        for (std::size_t k = 0; k < columns_->picked.size(); ++k) {
            const int first = picked[k].first_column;
            const int size = picked[k].columns;
            sum.clear(size);
            for (const SuspectRows& one : columns_->rows_of(columns_->picked[k])) sum.add(one);
            sum.add_core_to(by_core.middleCols(first, size));
            misfit.segment(first, size) = sum.misfit();
        }
        MatrixXd gram = shared_rows(picked, columns);
        columns_->step = columns_->core_covariance * by_core;
        gram -= by_core.transpose() * columns_->step;
        gram = (0.5 * (gram + gram.transpose())).eval();
        const infer::SearchResult found = infer::search_sets(gram, misfit, picked, search);
        out_.more_at_once = found.more_at_once;
        report(found.sets, gram, misfit, picked);
    }

    /// Each suspect for itself. Those whose rows end together differ by their first rows: summed
    /// from the end on.
    void weigh_alone(const infer::SearchOptions& search) {
        const std::size_t n = columns_->suspects.size();
        alone_.assign(n, -1e300);
        evidence_.assign(n, -1e300);
        std::vector<int> order(n);
        std::iota(order.begin(), order.end(), 0);
        const auto run = [&](int h) -> const RowRun& { return columns_->runs[at(h)]; };
        std::sort(order.begin(), order.end(), [&](int a, int b) {
            return std::tuple(run(a).list, run(a).last, -run(a).first, a) <
                   std::tuple(run(b).list, run(b).last, -run(b).first, b);
        });
        CoreSum sum(*columns_, is_leaf_);
        for (std::size_t i = 0; i < n;) {
            const RowRun& end = run(order[i]);
            const RowList& list = columns_->lists[at(end.list)];
            sum.clear(columns_->suspects[at(order[i])].columns);
            int row = end.last;
            for (; i < n && run(order[i]).list == end.list && run(order[i]).last == end.last; ++i) {
                while (row > run(order[i]).first) sum.add(list.rows[at(--row)]);
                judge_alone(order[i], sum, search);
            }
        }
    }

    void judge_alone(int suspect, const CoreSum& sum, const infer::SearchOptions& search) {
        Candidate single = columns_->suspects[at(suspect)];
        single.first_column = 0;
        double& evidence = evidence_[at(suspect)];
        evidence = infer::set_evidence(sum.gram(), sum.misfit(), {single}, {0});
        alone_[at(suspect)] = evidence + single.log_odds;
        if (single.kind >= 0) alone_[at(suspect)] += search.rate_weights[at(single.kind)][1];
    }

    /// BᵀB of the picked suspects.
    MatrixXd shared_rows(const std::vector<Candidate>& picked, int columns) const {
        MatrixXd gram = MatrixXd::Zero(columns, columns);
        std::vector<std::vector<std::pair<int, const SuspectRows*>>> of_block(
            columns_->blocks.size());
        for (std::size_t k = 0; k < columns_->picked.size(); ++k)
            for (const SuspectRows& one : columns_->rows_of(columns_->picked[k]))
                if (is_leaf_[at(one.block)] == 0)
                    of_block[at(one.block)].push_back({picked[k].first_column, &one});
        for (const auto& list : of_block)
            for (const auto& [first, a] : list)
                for (const auto& [second, b] : list)
                    if (second <= first)
                        gram.block(first, second, a->rows.cols(), b->rows.cols()).noalias() +=
                            a->rows.transpose() * b->rows;
        gram.triangularView<Eigen::StrictlyUpper>() = gram.transpose();
        return gram;
    }

    void pick() {
        const std::size_t n = alone_.size();
        const auto most = static_cast<std::size_t>(std::max(options_.most_in_sets, 1));
        std::vector<int> order(n);
        std::iota(order.begin(), order.end(), 0);
        std::set<int> chosen;
        if (n <= most) {
            chosen.insert(order.begin(), order.end());
        } else {
            const auto take = [&](const std::vector<double>& by, std::size_t count) {
                std::stable_sort(order.begin(), order.end(),
                                 [&](int a, int b) { return by[at(a)] > by[at(b)]; });
                for (std::size_t i = 0; i < n && count > 0; ++i)
                    if (chosen.insert(order[i]).second) --count;
            };
            take(alone_, most - most / 3);
            take(evidence_, most / 3);
        }
        columns_->picked.assign(chosen.begin(), chosen.end());
    }

    void report(const std::vector<ChangeSet>& sets, const MatrixXd& gram, const VectorXd& misfit,
                const std::vector<Candidate>& picked) {
        out_.probability.assign(out_.suspects.size(), 0.0);
        // Those weighed alone join the sum against nothing wrong.
        double log_nothing = 0.0;
        for (const ChangeSet& set : sets)
            if (set.members.empty()) log_nothing = std::log(std::max(set.probability, 1e-300));
        const std::set<int> in_sets(columns_->picked.begin(), columns_->picked.end());
        double rest = 0.0;
        for (std::size_t h = 0; h < alone_.size(); ++h)
            if (!in_sets.contains(static_cast<int>(h))) rest += std::exp(alone_[h] + log_nothing);
        const double total = 1.0 + rest;
        for (std::size_t h = 0; h < alone_.size(); ++h)
            if (!in_sets.contains(static_cast<int>(h)))
                out_.probability[h] = std::exp(alone_[h] + log_nothing) / total;
        for (const ChangeSet& set : sets) {
            NetworkExplanation one;
            one.probability = set.probability / total;
            one.log_evidence = set.log_evidence;
            for (const int m : set.members) {
                one.members.push_back(columns_->picked[at(m)]);
                out_.probability[at(columns_->picked[at(m)])] += one.probability;
            }
            if (set.members.empty()) out_.nothing_wrong = one.probability;
            if (one.probability >= kBelievedFrom && !set.members.empty()) {
                infer::SetAmounts amounts = infer::set_amounts(gram, misfit, picked, set.members);
                one.amount = std::move(amounts.mean);
                one.amount_covariance = std::move(amounts.covariance);
            }
            out_.explanations.push_back(std::move(one));
        }
        columns_->explanations = out_.explanations;
    }

    const SiteNetwork& network_;
    const cause::CauseTable& table_;
    const NetworkDiagnoseOptions& options_;
    std::shared_ptr<NetworkColumns> columns_;
    std::vector<char> is_leaf_;             ///< per block
    std::vector<double> alone_, evidence_;  ///< per suspect: ln, with its odds and without
    internal::NetworkSuspects suspects_;
    NetworkDiagnosis out_;
};

}  // namespace

int NetworkDiagnosis::columns_of(int suspect) const {
    return columns->suspects[at(suspect)].columns;
}

std::optional<MemberAmount> NetworkDiagnosis::amount_in(const NetworkExplanation& explanation,
                                                        int member) const {
    const int offset = amount_offset(explanation, member);
    const int size = columns_of(member);
    if (offset < 0 || explanation.amount.size() < offset + size) return std::nullopt;
    MemberAmount out{explanation.amount.segment(offset, size), VectorXd::Zero(size)};
    if (explanation.amount_covariance.rows() >= offset + size)
        out.sd = explanation.amount_covariance.diagonal()
                     .segment(offset, size)
                     .cwiseMax(0.0)
                     .cwiseSqrt();
    return out;
}

std::vector<int> NetworkDiagnosis::setups_of(const SiteNetwork& network, int suspect) const {
    const NetworkSuspect& who = suspects[at(suspect)];
    if (!who.setups.empty()) return who.setups;
    if (who.setup >= 0) return {who.setup};
    return who.point < 0 ? std::vector<int>() : network.points[at(who.point)].setups;
}

int NetworkDiagnosis::amount_offset(const NetworkExplanation& explanation, int member) const {
    int offset = 0;
    for (const int m : explanation.members) {
        if (m == member) return offset;
        offset += columns_of(m);
    }
    return -1;
}

NetworkDiagnosis diagnose_network(const SiteNetwork& network, const cause::CauseTable& table,
                                  const NetworkDiagnoseOptions& options) {
    return NetworkDiagnosing(network, table, options).run();
}

}  // namespace layproof::network
