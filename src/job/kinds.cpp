#include <algorithm>
#include <array>
#include <utility>

#include "job/kinds_internal.hpp"

namespace layproof::job {
namespace {

template <class E>
struct Word {
    E value;
    std::string_view word;
};

using measure::Face;
using measure::Purpose;
using station::SetupKind;

constexpr std::array kFaces{Word<Face>{Face::unknown, "unknown"}, Word<Face>{Face::one, "one"},
                            Word<Face>{Face::two, "two"}};
constexpr std::array kSetupKinds{Word<SetupKind>{SetupKind::free, "free"},
                                 Word<SetupKind>{SetupKind::occupied, "occupied"},
                                 Word<SetupKind>{SetupKind::baseline, "baseline"}};
constexpr std::array kDecisionKinds{Word<DecisionKind>{DecisionKind::set_aside, "set-aside"},
                                    Word<DecisionKind>{DecisionKind::put_back, "put-back"},
                                    Word<DecisionKind>{DecisionKind::accept, "accept"},
                                    Word<DecisionKind>{DecisionKind::mark_moved, "mark-moved"}};
constexpr std::array kSubjectKinds{Word<SubjectKind>{SubjectKind::sight, "sight"},
                                   Word<SubjectKind>{SubjectKind::mark, "mark"},
                                   Word<SubjectKind>{SubjectKind::setup, "setup"},
                                   Word<SubjectKind>{SubjectKind::point, "point"},
                                   Word<SubjectKind>{SubjectKind::station, "station"},
                                   Word<SubjectKind>{SubjectKind::document, "document"},
                                   Word<SubjectKind>{SubjectKind::other, "other"}};

template <class E, std::size_t N>
std::string_view word_in(const std::array<Word<E>, N>& table, E value) {
    for (const auto& entry : table) {
        if (entry.value == value) return entry.word;
    }
    return "unknown";
}

template <class E, std::size_t N>
bool value_in(const std::array<Word<E>, N>& table, std::string_view word, E& out) {
    for (const auto& entry : table) {
        if (entry.word == word) {
            out = entry.value;
            return true;
        }
    }
    return false;
}

}  // namespace

std::string_view word_of(Purpose value) {
    return measure::to_word(value);
}
std::string_view word_of(Face value) {
    return word_in(kFaces, value);
}
std::string_view word_of(SetupKind value) {
    return word_in(kSetupKinds, value);
}
std::string_view word_of(DecisionKind value) {
    return word_in(kDecisionKinds, value);
}
std::string_view word_of(SubjectKind value) {
    return word_in(kSubjectKinds, value);
}
bool from_word(std::string_view word, Purpose& out) {
    const auto purpose = measure::purpose_of(word);
    if (purpose) out = *purpose;
    return purpose.has_value();
}
bool from_word(std::string_view word, Face& out) {
    return value_in(kFaces, word, out);
}
bool from_word(std::string_view word, SetupKind& out) {
    return value_in(kSetupKinds, word, out);
}
bool from_word(std::string_view word, DecisionKind& out) {
    return value_in(kDecisionKinds, word, out);
}
bool from_word(std::string_view word, SubjectKind& out) {
    return value_in(kSubjectKinds, word, out);
}

std::string_view to_word(DecisionKind kind) {
    return word_of(kind);
}
std::string_view to_word(SubjectKind kind) {
    return word_of(kind);
}
std::optional<DecisionKind> decision_kind_from_word(std::string_view word) {
    DecisionKind out{};
    if (!from_word(word, out)) return std::nullopt;
    return out;
}
std::optional<SubjectKind> subject_kind_from_word(std::string_view word) {
    SubjectKind out{};
    if (!from_word(word, out)) return std::nullopt;
    return out;
}

std::string joined(const std::vector<std::string>& names, std::string_view prefix) {
    std::string out;
    for (const std::string& name : names) {
        if (!out.empty()) out += ", ";
        out += prefix;
        out += name;
    }
    return out;
}

namespace {

template <class T>
KindTable table_of(Kind<T>) {
    KindTable table;
    table.word = Kind<T>::kWord;
    table.columns = columns_of<T>();
    std::string marks = "?";
    for (std::size_t i = 0; i < table.columns.size(); ++i) marks += ", ?";
    table.insert_sql = "INSERT INTO " + table.word + " (seq, " + joined(table.columns, "") +
                       ") VALUES (" + marks + ")";
    table.select_sql =
        "SELECT " + joined(table.columns, "") + " FROM " + table.word + " WHERE seq = ?";
    return table;
}

}  // namespace

const std::vector<KindTable>& kind_tables() {
    static const std::vector<KindTable> tables = [] {
        std::vector<KindTable> out;
        for_each_kind([&](auto kind) { out.push_back(table_of(kind)); });
        return out;
    }();
    return tables;
}

const KindTable* kind_table(std::string_view word) {
    const auto& tables = kind_tables();
    const auto found = std::find_if(tables.begin(), tables.end(),
                                    [&](const KindTable& table) { return table.word == word; });
    return found == tables.end() ? nullptr : &*found;
}

}  // namespace layproof::job
