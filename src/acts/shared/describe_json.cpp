// Descriptions written as JSON. The one file of answers that the library of JSON is read in: it
// writes numbers, and texts that need more than quotes.

#include <nlohmann/json.hpp>

#include "acts/shared/describe.hpp"

namespace layproof::acts {
namespace {

using Json = nlohmann::json;

bool is_plain(std::string_view text) {
    for (const char c : text)
        if (c < ' ' || c > '~' || c == '"' || c == '\\') return false;
    return true;
}

class JsonFields final : public Fields {
public:
    explicit JsonFields(int indent) : indent_(indent) {}

    std::string text() && { return std::move(out_); }

    void is(std::string_view) override {}

protected:
    void put(const Field& field, std::string_view value) override {
        if (begin(field)) quote(value);
    }
    void put(const Field& field, bool value) override {
        if (begin(field)) out_ += value ? "true" : "false";
    }
    void put(const Field& field, std::int64_t value) override {
        if (begin(field)) out_ += std::to_string(value);
    }
    void put(const Field& field, double value) override {
        // The library writes null for what is not finite.
        if (begin(field)) out_ += Json(value).dump();
    }
    bool open(const Field& field) override {
        if (!begin(field)) return false;
        const bool has_names = field.kind == ShapeKind::record || field.kind == ShapeKind::by_name;
        inside_.push_back({has_names, true});
        out_ += has_names ? '{' : '[';
        return true;
    }
    void close() override {
        const Inside closed = inside_.back();
        inside_.pop_back();
        if (!closed.is_empty) new_line();
        out_ += closed.has_names ? '}' : ']';
    }
    std::size_t times(std::size_t count) const override { return count; }

private:
    struct Inside {
        bool has_names = false;
        bool is_empty = true;
    };

    /// What stands before a value; false when the value is not to follow.
    bool begin(const Field& field) {
        if (field.is_absent) return false;
        if (!inside_.empty()) {
            Inside& around = inside_.back();
            if (!around.is_empty) out_ += ',';
            around.is_empty = false;
            new_line();
            if (around.has_names) {
                quote(field.name);
                out_ += indent_ < 0 ? ":" : ": ";
            }
        }
        if (field.is_null) out_ += "null";
        return !field.is_null;
    }

    void new_line() {
        if (indent_ < 0) return;
        out_ += '\n';
        out_.append(inside_.size() * static_cast<std::size_t>(indent_), ' ');
    }

    void quote(std::string_view text) {
        if (is_plain(text)) {
            out_ += '"';
            out_ += text;
            out_ += '"';
        } else {
            out_ += Json(text).dump(-1, ' ', false, Json::error_handler_t::replace);
        }
    }

    int indent_;
    std::string out_;
    std::vector<Inside> inside_;
};

}  // namespace

std::string json_text(void (*run)(Fields&, const void*), const void* value, int indent) {
    JsonFields fields(indent);
    run(fields, value);
    return std::move(fields).text();
}

}  // namespace layproof::acts
