#include "exchange/tables/causes.hpp"

#include <fmt/format.h>

#include <array>
#include <cmath>
#include <cstdlib>
#include <optional>
#include <utility>

#include "exchange/text/text.hpp"
#include "exchange/text/toml_text.hpp"
#include "measure/angle.hpp"

namespace layproof::exchange {
namespace {

using cause::Cause;
using cause::CausePrior;
using cause::CauseSize;
using cause::SizeKind;

constexpr std::string_view kPairs = "pairs";
constexpr std::string_view kFrequency = "frequency";
/// More sizes than this describe nothing that a mixture of a few would not.
constexpr std::size_t kMostSizes = 20;

struct SizeKey {
    std::string_view name;
    double per_unit;  ///< inside = file × per_unit
    double largest;   ///< in the file's unit: 100 m, a quarter turn, everything
    double CauseSize::*field;
};
constexpr std::array kSizeKeys{
    SizeKey{"sizes_mm", 1e-3, 1e5, &CauseSize::length_m},
    SizeKey{"sizes_arcsec", measure::kRadPerArcsec, 324000.0, &CauseSize::angle_rad},
    SizeKey{"sizes_ppm", 1e-6, 1e6, &CauseSize::ratio},
};

bool belongs(const SizeKey& key, SizeKind kind) {
    switch (kind) {
        case SizeKind::none:
            return false;
        case SizeKind::length:
            return key.field == &CauseSize::length_m;
        case SizeKind::angle:
            return key.field == &CauseSize::angle_rad;
        case SizeKind::ratio:
            return key.field == &CauseSize::ratio;
        case SizeKind::length_and_angle:
            return key.field != &CauseSize::ratio;
    }
    return false;
}

std::string keys_that_belong(SizeKind kind) {
    std::vector<std::string> names;
    for (const SizeKey& key : kSizeKeys)
        if (belongs(key, kind)) names.emplace_back(key.name);
    return names.empty() ? "no sizes" : listed(names);
}

std::vector<std::string> cause_words() {
    std::vector<std::string> words;
    for (const Cause cause : cause::all_causes()) words.emplace_back(to_word(cause));
    return words;
}

Refusal bad(const Place& place, std::string found, std::string expected) {
    return {ErrorCode::cause_size_bad, place, std::move(found), std::move(expected)};
}

class Reader {
public:
    explicit Reader(const Document& document) : document_(document) {}

    Result<CausesFile> run() {
        const auto parsed = parse_toml(document_);
        if (!parsed) return parsed.refusal();
        for (const auto& [key, node] : *parsed) {
            const auto done = take(key, node);
            if (!done) return done.refusal();
        }
        const double nothing = file_.table.of(Cause::nothing_wrong).frequency;
        if (!(nothing > 0.0)) {
            return bad({document_.name, nothing_line_, nothing_line_ > 0 ? 1 : 0},
                       nothing_line_ > 0 ? "nothing-wrong with frequency 0" : "no [nothing-wrong]",
                       "[nothing-wrong] with a frequency above 0");
        }
        const double sum = file_.table.total();
        if (std::abs(sum - 1.0) > kCausesSumSlack + 1e-12) {
            return Refusal{ErrorCode::causes_do_not_sum,
                           {document_.name, 0, 0},
                           fmt::format("frequencies and pairs that sum to {:.4g}", sum),
                           fmt::format("a sum of 1 (within {:g})", kCausesSumSlack)};
        }
        for (CausePrior& prior : file_.table.causes) prior.frequency /= sum;
        file_.table.pairs /= sum;
        tell_missing();
        return std::move(file_);
    }

private:
    Place at(const toml::source_region& source) const { return place_of(document_.name, source); }

    Result<Done> take(const toml::key& key, const toml::node& node) {
        const std::string_view name = key.str();
        if (name == kPairs) {
            const auto value = frequency(node, name, at(key.source()));
            if (!value) return value.refusal();
            file_.table.pairs = *value;
            has_pairs_ = true;
            return Done{};
        }
        const auto which = cause::cause_from_word(name);
        if (!which) {
            auto words = cause_words();
            words.emplace_back(kPairs);
            const auto guess = nearest(name, words);
            return Refusal{ErrorCode::cause_unknown, at(key.source()), in_quotes(name),
                           guess ? fmt::format("{} (or another of {})", *guess, listed(words))
                                 : listed(words)};
        }
        const toml::table* table = node.as_table();
        if (table == nullptr) {
            return bad(at(key.source()), fmt::format("{} without a table", name),
                       fmt::format("[{}] and below it frequency = a number from 0 to 1", name));
        }
        has_[static_cast<std::size_t>(*which)] = true;
        if (*which == Cause::nothing_wrong)
            nothing_line_ = static_cast<int>(key.source().begin.line);
        return take_cause(*which, *table, at(key.source()));
    }

    Result<Done> take_cause(Cause cause, const toml::table& table, const Place& place) {
        CausePrior& prior = file_.table.of(cause);
        const SizeKind kind = cause::size_kind(cause);
        bool has_frequency = false;
        std::size_t given_keys = 0;
        for (const auto& [key, node] : table) {
            const std::string_view name = key.str();
            if (name == kFrequency) {
                const auto value = frequency(node, name, at(key.source()));
                if (!value) return value.refusal();
                prior.frequency = *value;
                has_frequency = true;
                continue;
            }
            const SizeKey* size_key = nullptr;
            for (const SizeKey& candidate : kSizeKeys)
                if (candidate.name == name) size_key = &candidate;
            if (size_key == nullptr) return unknown_key(name, kind, at(key.source()));
            if (!belongs(*size_key, kind)) {
                return bad(at(key.source()), fmt::format("{} for {}", name, to_word(cause)),
                           fmt::format("{} for this cause", keys_that_belong(kind)));
            }
            const auto done = take_sizes(*size_key, node, prior, given_keys > 0, at(key.source()));
            if (!done) return done.refusal();
            ++given_keys;
        }
        if (!has_frequency) {
            return bad(place, fmt::format("{} without a frequency", to_word(cause)),
                       "frequency = a number from 0 to 1");
        }
        const std::size_t wanted = kind == SizeKind::none               ? 0
                                   : kind == SizeKind::length_and_angle ? 2
                                                                        : 1;
        // A cause that never happens needs no size; half of a pair of sizes is a slip all the same.
        if (given_keys < wanted && (prior.frequency > 0.0 || given_keys > 0)) {
            return bad(place, fmt::format("{} without all its sizes", to_word(cause)),
                       fmt::format("{} = a list of numbers above 0", keys_that_belong(kind)));
        }
        return Done{};
    }

    Refusal unknown_key(std::string_view name, SizeKind kind, const Place& place) const {
        std::vector<std::string> known{std::string(kFrequency)};
        for (const SizeKey& key : kSizeKeys)
            if (belongs(key, kind)) known.emplace_back(key.name);
        return {ErrorCode::key_unknown, place, in_quotes(name), listed(known)};
    }

    static Result<double> frequency(const toml::node& node, std::string_view name,
                                    const Place& place) {
        const auto value = node.value<double>();
        if (!node.is_number() || !value || !std::isfinite(*value) || *value < 0.0 || *value > 1.0) {
            return bad(place,
                       node.is_number() && value ? fmt::format("{} = {}", name, *value)
                                                 : fmt::format("{} without a number", name),
                       fmt::format("{} = a number from 0 to 1", name));
        }
        return *value;
    }

    Result<Done> take_sizes(const SizeKey& key, const toml::node& node, CausePrior& prior,
                            bool second, const Place& place) const {
        const std::string expected =
            fmt::format("{} = a list of 1 to {} numbers above 0 and at most {:g}", key.name,
                        kMostSizes, key.largest);
        const toml::array* list = node.as_array();
        if (list == nullptr)
            return bad(place, fmt::format("{} without a list", key.name), expected);
        if (list->empty() || list->size() > kMostSizes) {
            return bad(place, fmt::format("{} with {} numbers", key.name, list->size()), expected);
        }
        if (second && list->size() != prior.sizes.size()) {
            return bad(place,
                       fmt::format("{} with {} numbers beside {}", key.name, list->size(),
                                   prior.sizes.size()),
                       "as many sizes_arcsec as sizes_mm, first with first");
        }
        prior.sizes.resize(list->size());
        for (std::size_t i = 0; i < list->size(); ++i) {
            const toml::node& item = *list->get(i);
            const auto value = item.value<double>();
            if (!item.is_number() || !value) {
                return bad(at(item.source()),
                           fmt::format("a size in {} that is no number", key.name), expected);
            }
            if (!std::isfinite(*value) || *value <= 0.0 || *value > key.largest) {
                return bad(at(item.source()), fmt::format("a size of {} in {}", *value, key.name),
                           expected);
            }
            prior.sizes[i].*key.field = *value * key.per_unit;
        }
        return Done{};
    }

    void tell_missing() {
        std::vector<std::string> missing;
        for (const Cause cause : cause::all_causes())
            if (!has_[static_cast<std::size_t>(cause)]) missing.emplace_back(to_word(cause));
        if (!missing.empty()) {
            file_.notices.push_back(fmt::format("{} says nothing about {}; {} never named.",
                                                document_.name, listed(missing),
                                                missing.size() == 1 ? "it is" : "they are"));
        }
        if (!has_pairs_) {
            file_.notices.push_back(
                fmt::format("{} does not state pairs; two things wrong at once are never named.",
                            document_.name));
        }
    }

    const Document& document_;
    CausesFile file_;
    std::array<bool, cause::kCauseCount> has_{};
    bool has_pairs_ = false;
    int nothing_line_ = 0;
};

}  // namespace

Result<CausesFile> read_causes(const Document& document) {
    return Reader(document).run();
}

cause::CauseTable shipped_table() {
    const auto file = read_causes({"causes.toml", std::string(cause::shipped_causes_toml())});
    // The program carries this text; a test reads it, so it cannot be refused here.
    if (!file) std::abort();
    return file->table;
}

}  // namespace layproof::exchange
