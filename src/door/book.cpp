#include "door/book.hpp"

#include <fmt/format.h>

#include <array>
#include <set>
#include <string_view>
#include <utility>

#include "acts/shared/describe.hpp"
#include "door/typed.hpp"
#include "door/typed_internal.hpp"
#include "exchange/tables/readers.hpp"
#include "exchange/text/text.hpp"

namespace layproof::acts {
namespace {

/// Columns that the tables require, also when nothing was typed into them.
const std::set<std::string>& columns_of(const std::string& what) {
    static const std::map<std::string, std::set<std::string>> kColumns{
        {"sight", {"station", "target", "direction", "zenith", "slope_distance", "target_height"}},
        {"setup", {"station", "kind", "mark"}},
        {"mark", {"mark", "east", "north", "height"}},
        {"point", {"point", "east", "north"}},
    };
    static const std::set<std::string> kNone;
    const auto at = kColumns.find(what);
    return at == kColumns.end() ? kNone : at->second;
}

class Booking {
public:
    explicit Booking(const BookRequest& request) : request_(request) {}

    Booked run(OpenJob& job) {
        if (!make_row()) return std::move(out_);
        if (request_.what == "sight") {
            add<measure::Sight>(job, exchange::read_sights);
        } else if (request_.what == "setup") {
            add<station::Setup>(job, exchange::read_setups);
        } else if (request_.what == "mark") {
            add<frame::Mark>(job, exchange::read_marks);
        } else {
            add<frame::DesignPoint>(job, exchange::read_points);
        }
        return std::move(out_);
    }

private:
    void refuse(Refusal refusal, std::string field) {
        refusal.place = {};
        out_.answer.reset();
        out_.refused = {std::move(refusal), std::move(field)};
    }

    /// False when a cell was refused.
    bool make_row() {
        for (const std::string& column : columns_of(request_.what)) {
            const bool is_length = internal::typed_kind(column) == internal::TypedKind::length;
            row_[column] = {"", is_length ? std::string(measure::to_word(request_.unit)) : ""};
        }
        for (const auto& [field, text] : request_.typed) {
            if (exchange::trimmed(text).empty()) continue;
            if (is_typed_field(field)) {
                // Each alone first: its refusal then speaks of what was typed.
                const auto value = read_typed(field, text, request_.unit);
                if (!value) {
                    refuse(value.refusal(), field);
                    return false;
                }
                row_[field] = *typed_cell(field, text, request_.unit);
            } else {
                row_[field] = {std::string(exchange::trimmed(text)), ""};
            }
        }
        // A horizontal distance stands in for the two that a sight needs otherwise.
        if (row_.contains("horizontal_distance")) {
            if (row_["zenith"].text.empty()) row_.erase("zenith");
            if (row_["slope_distance"].text.empty()) row_.erase("slope_distance");
        }
        return true;
    }

    /// The field at the place of a refusal: the columns stand in one line, in order of name.
    std::string field_at(const Place& place, const exchange::Document& document) const {
        if (place.line != 2 || place.column < 1) return {};
        exchange::CsvReader reader(document.name, document.bytes, {});
        exchange::CsvRow row;
        const auto header = reader.next(row);
        const auto values = header ? reader.next(row) : header;
        if (!values || !*values) return {};
        std::string out;
        auto name = row_.begin();
        for (const exchange::CsvField& cell : row.fields) {
            if (name == row_.end() || cell.column > place.column) break;
            out = name->first;
            ++name;
        }
        return out;
    }

    template <class Row>
    void add(OpenJob& job, Result<exchange::Table<Row>> (*read)(const exchange::Document&,
                                                                const exchange::ReadOptions&)) {
        const exchange::Document document = internal::one_row(row_);
        auto table = read(document, {});
        if (!table) {
            const std::string field = field_at(table.refusal().place, document);
            return refuse(table.refusal(), field);
        }
        if (table->rows.size() != 1) {
            return refuse({ErrorCode::value_missing, {}, "nothing to book", "what was measured"},
                          {});
        }
        Row& fact = table->rows.front();
        fact.place = {"booked by hand", 0, 0};
        BookAnswer answer;
        answer.notices = std::move(table->notices);
        const auto done = job.write([&](job::Job& open) { return write(open, fact, answer); });
        if (!done) return refuse(done.refusal(), {});
        out_.answer = std::move(answer);
    }

    template <class Row>
    Result<Done> write(job::Job& open, const Row& fact, BookAnswer& answer) {
        auto noted = note_known(open, fact, answer);
        if (!noted) return noted;
        const auto settings = open.current<job::Setting>();
        if (!settings) return settings.refusal();
        bool has_unit = false;
        for (const auto& kept : *settings) has_unit = has_unit || kept.value.name == "unit";
        auto writing = open.begin();
        if (!writing) return writing.refusal();
        auto added = writing->add(fact);
        if (!added) return added.refusal();
        if (!has_unit) {
            auto set =
                writing->add(job::Setting{"unit", std::string(measure::to_word(request_.unit))});
            if (!set) return set.refusal();
        }
        auto done = writing->commit();
        if (!done) return done;
        answer.fact = added->id.to_text();
        answer.says = fmt::format("{} booked.", name_of(fact));
        return Done{};
    }

    static std::string name_of(const measure::Sight& sight) {
        return fmt::format("Sight {} to {}", sight.station, sight.target);
    }
    static std::string name_of(const station::Setup& setup) {
        return fmt::format("Set-up {}", setup.station);
    }
    static std::string name_of(const frame::Mark& mark) {
        return fmt::format("Mark {}", mark.name);
    }
    static std::string name_of(const frame::DesignPoint& point) {
        return fmt::format("Point {}", point.name);
    }

    /// One that is there already no longer counts, and that is worth a word.
    template <class Row>
    static Result<Done> note_known(const job::Job& open, const Row& fact, BookAnswer& answer) {
        if constexpr (!std::is_same_v<Row, measure::Sight>) {
            const auto held = open.current<Row>();
            if (!held) return held.refusal();
            for (const auto& kept : *held)
                if (name_of(kept.value) == name_of(fact))
                    answer.notices.push_back(fmt::format(
                        "{} was in the job already; what is booked now counts from here on.",
                        name_of(fact)));
        }
        return Done{};
    }

    const BookRequest& request_;
    std::map<std::string, TypedCell> row_;
    Booked out_;
};

}  // namespace

Booked book(OpenJob& job, const BookRequest& request) {
    return Booking(request).run(job);
}

void describe(Fields& f, const BookAnswer& answer) {
    f.is("BookAnswer");
    f.word("act", "book", {"book"});
    f.text("fact", answer.fact);
    f.text("says", answer.says);
    f.texts("notices", answer.notices);
}

std::string to_json(const BookAnswer& answer) {
    return json_document(answer);
}

}  // namespace layproof::acts
