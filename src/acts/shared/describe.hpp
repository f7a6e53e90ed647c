#pragma once
// One description of each struct that an answer is made of. A function `describe(Fields&, const
// T&)` names every field once: its kind, what it is computed from, in which unit and with how many
// decimals, whether it may be null or left out, and a comment. Run over a value it writes JSON
// (json_text); run over a sample it collects the shapes (collect_shapes), from which come the
// TypeScript types, the check of what is sent and the tests. The three cannot differ.
//
//     void describe(Fields& f, const Verdict& verdict) {
//         f.is("Verdict");
//         f.word("word", station::to_word(verdict.word), kVerdictWords);
//         f.number("probability", verdict.probability, "of the weakest point");
//     }
//
// The functions stand in this namespace, where the templates below find them by the type of what
// is described, and are not static, so that the linker refuses a second description of one type.
// One is also run over a value made from nothing and must stand that: no front() of an empty list.
// No library of JSON is read here: it takes three seconds, and every act would pay them.

#include <cstdint>
#include <initializer_list>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "acts/shared/shape.hpp"

namespace layproof::acts {

/// The words that a field may hold.
using Words = std::initializer_list<std::string_view>;

/// Decimals of a number that states none.
inline constexpr int kDecimals = 6;
/// Not rounded.
inline constexpr int kAllDecimals = -1;

/// The double nearest to `value` with that many decimals, never minus zero; a number with more
/// digits than a double holds, and what is not finite, come back as they are.
double rounded(double value, int decimals);

/// A value from which shapes are collected where there is none at hand.
template <class T>
const T& sample() {
    static const T kSample{};
    return kSample;
}

/// The item, or a sample where the list is shorter.
template <class T>
const T& item(const std::vector<T>& items, std::size_t at) {
    return at < items.size() ? items[at] : sample<T>();
}

class Fields {
public:
    Fields() = default;
    Fields(const Fields&) = delete;
    Fields& operator=(const Fields&) = delete;
    virtual ~Fields() = default;

    /// Names the record. First in every description.
    virtual void is(std::string_view record) = 0;

    // Said before a field, for that field alone.

    /// It may be left out, and is unless `is_there`.
    Fields& only_if(bool is_there);
    /// It may be null, and is unless `has_value`.
    Fields& or_null(bool has_value);

    // A field. Inside a list or a pair, where values have no names, the name is empty.

    void text(std::string_view name, std::string_view value, std::string_view says = {});
    /// Empty: null.
    void text_or_null(std::string_view name, std::string_view value, std::string_view says = {});
    void word(std::string_view name, std::string_view value, Words words,
              std::string_view says = {});
    void flag(std::string_view name, bool value, std::string_view says = {});
    template <class Integer>
    void whole(std::string_view name, Integer value, std::string_view says = {}) {
        put_whole(name, static_cast<std::int64_t>(value), says);
    }

    /// Null in JSON when not finite, which an answer is not to give: see number_or_null.
    void number(std::string_view name, double value, int decimals, std::string_view says = {});
    void number(std::string_view name, double value, std::string_view says = {}) {
        number(name, value, kDecimals, says);
    }
    /// Null: nothing, or not finite.
    void number_or_null(std::string_view name, const std::optional<double>& value, int decimals,
                        std::string_view says = {});
    void number_or_null(std::string_view name, const std::optional<double>& value,
                        std::string_view says = {}) {
        number_or_null(name, value, kDecimals, says);
    }

    /// The unit of length() and length_or_null(), until another is said.
    void lengths_in(double metres_per_unit) { metres_per_unit_ = metres_per_unit; }
    void length(std::string_view name, double metres, int decimals, std::string_view says = {}) {
        number(name, metres / metres_per_unit_, decimals, says);
    }
    void length(std::string_view name, double metres, std::string_view says = {}) {
        length(name, metres, kDecimals, says);
    }
    void length_or_null(std::string_view name, const std::optional<double>& metres, int decimals,
                        std::string_view says = {});
    void length_or_null(std::string_view name, const std::optional<double>& metres,
                        std::string_view says = {}) {
        length_or_null(name, metres, kDecimals, says);
    }

    template <class T>
    void record(std::string_view name, const T& value, std::string_view says = {}) {
        if (!open(name, ShapeKind::record, says)) return;
        describe(*this, value);
        close();
    }
    template <class T>
    void record_or_null(std::string_view name, const std::optional<T>& value,
                        std::string_view says = {}) {
        or_null(value.has_value()).record(name, value ? *value : sample<T>(), says);
    }

    void texts(std::string_view name, const std::vector<std::string>& values,
               std::string_view says = {});
    template <class T>
    void records(std::string_view name, const std::vector<T>& values, std::string_view says = {}) {
        list(
            name, values, [this](const T& value) { record({}, value); }, says);
    }
    /// `each` puts one value without a name.
    template <class T, class Each>
    void list(std::string_view name, const std::vector<T>& values, Each each,
              std::string_view says = {}) {
        rows(
            name, values.size(), [&](std::size_t i) { each(item(values, i)); }, says);
    }
    /// `each` puts value `i` without a name; `i` may be 0 of none, see item().
    template <class Each>
    void rows(std::string_view name, std::size_t count, Each each, std::string_view says = {}) {
        if (!open(name, ShapeKind::list, says)) return;
        for (std::size_t i = 0; i < times(count); ++i) each(i);
        close();
    }
    /// As rows(), but `each` puts one value under a name of its own; all are of one shape.
    template <class Each>
    void by_name(std::string_view name, std::size_t count, Each each, std::string_view says = {}) {
        if (!open(name, ShapeKind::by_name, says)) return;
        for (std::size_t i = 0; i < times(count); ++i) each(i);
        close();
    }
    /// `both` puts two values without names, of one shape.
    template <class Both>
    void pair(std::string_view name, Both both, std::string_view says = {}) {
        if (!open(name, ShapeKind::pair, says)) return;
        both();
        close();
    }

protected:
    struct Field {
        std::string_view name;
        ShapeKind kind = ShapeKind::text;
        Words words;  ///< of a word
        std::string_view says;
        bool may_be_absent = false;
        bool is_absent = false;
        bool may_be_null = false;
        bool is_null = false;
    };

    virtual void put(const Field& field, std::string_view value) = 0;
    virtual void put(const Field& field, bool value) = 0;
    virtual void put(const Field& field, std::int64_t value) = 0;
    virtual void put(const Field& field, double value) = 0;
    /// True: what is inside follows, then close().
    virtual bool open(const Field& field) = 0;
    virtual void close() = 0;
    /// How many of `count` values are asked for.
    virtual std::size_t times(std::size_t count) const = 0;

private:
    bool open(std::string_view name, ShapeKind kind, std::string_view says);
    void put_whole(std::string_view name, std::int64_t value, std::string_view says);
    Field next(std::string_view name, ShapeKind kind, std::string_view says);

    Field next_;
    double metres_per_unit_ = 1.0;
};

/// The text of a JSON document without a line end. `indent` spaces for each level; negative: all on
/// one line. What is no text in UTF-8 is replaced by U+FFFD.
std::string json_text(void (*run)(Fields&, const void*), const void* value, int indent);
/// Adds the records that are met, those inside one before it, each once. One that is met with
/// other fields than before is added again, which the tests refuse.
void collect_shapes(void (*run)(Fields&, const void*), const void* value, bool is_request,
                    std::vector<ShapeRecord>& out);

template <class T>
void describe_as(Fields& fields, const void* value) {
    fields.record({}, *static_cast<const T*>(value));
}
/// On one line, without its end.
template <class T>
std::string json_line(const T& value) {
    return json_text(&describe_as<T>, &value, -1);
}
/// With a line end.
template <class T>
std::string json_document(const T& value, int indent = 2) {
    return json_text(&describe_as<T>, &value, indent) + "\n";
}
template <class T>
void collect_answer(std::vector<ShapeRecord>& out) {
    collect_shapes(&describe_as<T>, &sample<T>(), false, out);
}

}  // namespace layproof::acts
